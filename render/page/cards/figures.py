"""Numbers that follow from a design, each under the field that it follows from; warnings too.

Only what is known in milliseconds, from the windings alone; what needs the wrap laid is in
`scenes.bench`.
"""

import math
from collections.abc import Iterator, Sequence
from typing import Any

from scenes.bench.numbers import StripNumbers, lattice_numbers, lattice_of, strip_numbers, strip_of
from scenes.building.build import Plan
from scenes.design.document import Design
from scenes.design.layers import layer_path
from scenes.figures.figures import Kind
from scenes.figures.written import Written
from scenes.kinds.cover.model import Cover
from scenes.kinds.laying import Laying
from scenes.kinds.mesh_strip.model import Laid, MeshStrip
from scenes.kinds.seam_trim.model import SeamTrim
from scenes.parts.layer import LayerModel
from scenes.quantities import Length, Units

__all__ = ["figures_of", "instead_of", "warnings_of"]

Json = dict[str, Any]

_LENGTH = Length(0, 0, "")

_ALIKE = 0.005
"""Two lengths nearer than this, mm, read the same."""


def figures_of(plan: Plan, units: Units) -> list[Json]:
    """Work out what follows from each field.

    Parameters
    ----------
    plan : Plan
    units : Units
        What lengths are told in.

    Returns
    -------
    list of dict
        ``under``: the path of a field; ``text``: what follows from it; ``take``: a change that may
        be made of it with one press, or None.
    """
    written = Written(units)
    found = [*_placement(plan, written), *_finish(plan, written)]
    for index, layer in enumerate(plan.design.layers):
        path = layer_path(plan.design.layers, index)
        if isinstance(layer, MeshStrip) and _is_of(strip_of(plan), layer):
            strip = strip_numbers(plan)
            found += [] if strip is None else _strip(path, layer, strip, written)
        elif _is_of(lattice_of(plan), layer):
            found += _lattice(path, plan, written)
        elif isinstance(layer, Cover):
            found += _cover(path, layer, plan, written)
        elif isinstance(layer, SeamTrim):
            found += _trim(path, layer, plan, written)
    return found


def _is_of(laying: Laying[Any] | None, layer: LayerModel) -> bool:
    return laying is not None and laying.layer is layer


def instead_of(plan: Plan, units: Units) -> dict[str, float]:
    """Give the value that a field would have if it were given in place of the one that is.

    Returns
    -------
    dict
        By path: the strip's width where the design gives its gap.
    """
    strip = strip_of(plan)
    numbers = strip_numbers(plan)
    if strip is None or numbers is None:
        return {}
    path = layer_path(plan.design.layers, plan.design.layers.index(strip.layer))
    return {
        f"{path}.gap": _round(_LENGTH.write(numbers.gap, units)),
        f"{path}.strip_width": _round(_LENGTH.write(numbers.width, units)),
        f"{path}.covered_share": _round(numbers.covered_share),
    }


def warnings_of(design: Design, paths: Sequence[str]) -> list[Json]:
    """Put each warning under the field that it is about.

    Parameters
    ----------
    design : Design
        In the units that the warnings are told in.
    paths : sequence of str
        Of all fields on the page.

    Returns
    -------
    list of dict
        ``under``: the longest of the paths that the warning begins with, or a card's; ``text``.
    """
    found = []
    for sentence in design.warnings:
        field, _, told = sentence.partition(": ")
        under = max((p for p in paths if f"{field}.".startswith(f"{p}.")), key=len, default=field)
        found.append({"under": under, "text": told[:1].upper() + told[1:]})
    return found


def _placement(plan: Plan, written: Written) -> Iterator[Json]:
    long = written.length(plan.end - plan.start)
    yield _told(
        "placement.to",
        f"{long} long; the blank is {written.length(2 * plan.middle_radius)} thick in the middle.",
    )
    first, last = plan.wound_span
    if first < plan.start or last > plan.end:
        yield _told(
            "placement.to",
            f"With its cover it runs from {written.span(first, last)}.",
        )


def _strip(path: str, layer: MeshStrip, strip: StripNumbers, written: Written) -> Iterator[Json]:
    given = next(name for name in layer.alternatives if getattr(layer, name) is not None)
    share = written.amount(strip.covered_share, Kind.SHARE)
    cells = written.number(strip.cells, Kind.NUMBER)
    wide, gap = written.length(strip.width), written.length(strip.gap)
    told = {
        "gap": f"The strip is {wide} wide, {cells} cells; it covers {share}.",
        "strip_width": f"{cells} cells; the gap is {gap}, {share} covered.",
        "covered_share": f"The strip is {wide} wide, {cells} cells; the gap is {gap}.",
    }
    yield _told(f"{path}.{given}", told[given])
    if len(strip.whole_cells) > 1 or abs(strip.cells - round(strip.cells)) > 1e-3:
        for one in strip.whole_cells:
            cut = "1 cell" if one.cells == 1 else f"{one.cells} cells"
            label = f"{cut}: {written.length(one.width)} wide, gap {written.length(one.gap)}"
            take = {
                "label": label,
                "path": f"{path}.strip_width",
                "value": float(f"{written.converted(one.width, Kind.CALIPER):.6g}"),
                "help": "Mesh is cut along its yarns: make the strip whole cells wide.",
            }
            yield {"under": f"{path}.{given}", "text": "", "take": take}
    turns = f"{written.number(strip.turns, Kind.NUMBER)} turns"
    each = "" if layer.starts == 1 else " each"
    yield _told(
        f"{path}.angle",
        f"One turn every {written.length(strip.pitch)}; {turns}, "
        f"{written.length(strip.length)} of strip{each}.",
    )
    yield from _led(path, layer, strip, written)


def _led(path: str, layer: MeshStrip, strip: StripNumbers, written: Written) -> Iterator[Json]:
    least, most = strip.gaps
    if most - least > _ALIKE:
        yield _told(f"{path}.laid", f"Gaps of {written.span(least, most)} up the wrap.")
    if layer.laid is Laid.UNSTEERED:
        return
    if strip.unsteered is None:
        yield _told(f"{path}.laid", "Left to itself the strip would turn back on this taper.")
    else:
        first, last = (written.gap(one) for one in strip.unsteered)
        if first != last:
            yield _told(f"{path}.laid", f"Left to itself it would go from {first} to {last}.")


def _lattice(path: str, plan: Plan, written: Written) -> Iterator[Json]:
    lattice = lattice_numbers(plan)
    if lattice is None:
        return
    yield _told(
        f"{path}.count",
        f"{lattice.around} diamonds round the blank, each {written.length(lattice.diamond)} long "
        f"and {written.length(lattice.width)} wide.",
    )
    yield _told(
        f"{path}.flatten", f"{written.length(lattice.crossing)} high where two cords cross."
    )
    yield _told(
        f"{path}.angle",
        f"One turn every {written.length(lattice.pitch)}; "
        f"{written.number(lattice.turns, Kind.NUMBER)} turns and {written.length(lattice.length)} "
        "of each cord.",
    )


def _cover(path: str, layer: Cover, plan: Plan, written: Written) -> Iterator[Json]:
    thread = plan.shelf.thread(layer.thread)
    laying = next(one for one in plan.layings if one.layer is layer)
    first, last = laying.span
    rows = (last - first) / thread.diameter_mm
    yield _told(
        f"{path}.thread",
        f"About {rows:.0f} rows of {written.length(thread.diameter_mm)}, "
        f"from {written.span(first, last)}.",
    )


def _trim(path: str, layer: SeamTrim, plan: Plan, written: Written) -> Iterator[Json]:
    laying = next(one for one in plan.layings if one.layer is layer)
    threads = list(laying.threads())
    wide = sum(thread.diameter_mm for thread in threads)
    count = "1 thread" if len(threads) == 1 else f"{len(threads)} threads"
    under = "grade" if layer.grade is not None else "threads"
    yield _told(
        f"{path}.{under}",
        f"{count}, {written.length(wide)} side by side, out to "
        f"{written.length(layer.offset + wide)} from the edge.",
    )


def _finish(plan: Plan, written: Written) -> Iterator[Json]:
    finish = plan.design.finish
    if finish.coats > 1:
        wet = written.length(finish.coats * finish.coat_thickness)
        yield _told("finish.coat_thickness", f"{finish.coats} coats, {wet} poured in all.")


def _told(under: str, text: str) -> Json:
    return {"under": under, "text": text, "take": None}


def _round(value: float) -> float:
    """Keep what a caliper reads, and no more digits than a person would write."""
    return 0.0 if value == 0 else round(value, 3 - min(0, math.floor(math.log10(abs(value)))))
