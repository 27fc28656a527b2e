"""Numbers that follow from a design, each under the field that it follows from; warnings too.

Only what is known in milliseconds, from the windings alone; what needs the wrap laid is in
`scenes.bench`.
"""

import math
from collections.abc import Iterator, Sequence
from typing import Any

from scenes.building.build import Plan
from scenes.design.document import Design
from scenes.design.layers import kind_of
from scenes.figures.figures import Kind
from scenes.figures.written import Written
from scenes.kinds.numbers import Take
from scenes.quantities import Quantity, Units, marker_of

__all__ = ["alternative_values", "figures_of", "warnings_of"]

Json = dict[str, Any]


def figures_of(plan: Plan, units: Units) -> list[Json]:
    """Work out what follows from each field.

    Parameters
    ----------
    plan : Plan
    units : Units
        Units in which lengths are written.

    Returns
    -------
    list of dict
        ``under``: the path of a field; ``text``: what follows from it; ``take``: a change that may
        be made of it with one press, or None.
    """
    written = Written(units)
    found = [*_placement(plan, written), *_finish(plan, written)]
    for laying in plan.layings:
        for one in kind_of(laying.layer).numbers.under(laying):
            text = "" if one.text is None else written.sentence(one.text)
            take = None if one.take is None else _take(one.take, laying.path, written)
            found.append({"under": f"{laying.path}.{one.field}", "text": text, "take": take})
    return found


def _take(take: Take, path: str, written: Written) -> Json:
    return {
        "label": written.sentence(take.label),
        "path": f"{path}.{take.field}",
        "value": float(f"{written.converted(take.value, Kind.CALIPER):.6g}"),
        "help": take.help,
    }


def alternative_values(plan: Plan, units: Units) -> dict[str, float]:
    """Return the value of each field that could be given in place of an alternative.

    Parameters
    ----------
    plan : Plan
    units : Units
        Units of the lengths returned.

    Returns
    -------
    dict
        By path: the strip's width where the design gives its gap.
    """
    found = {}
    for laying in plan.layings:
        for field, held in kind_of(laying.layer).numbers.instead(laying).items():
            marker = marker_of(type(laying.layer).model_fields[field])
            assert isinstance(marker, Quantity)
            found[f"{laying.path}.{field}"] = _round(marker.write(held, units))
    return found


def warnings_of(design: Design, paths: Sequence[str]) -> list[Json]:
    """Put each warning under the field that it is about.

    Parameters
    ----------
    design : Design
        In the units in which the warnings are written.
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
