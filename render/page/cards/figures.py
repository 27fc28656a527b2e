"""Figures derived from a design, each shown below the field that determines it; warnings too.

Only figures that are computed in milliseconds, from the windings alone. Figures that need the wrap
to be built are in `scenes.bench`.
"""

import math
from collections.abc import Iterator, Sequence
from typing import Any

from scenes.building.build import Plan
from scenes.design import checks
from scenes.design.document import Design
from scenes.design.field_words import in_words
from scenes.design.layers import kind_of
from scenes.design.rod import other_wraps
from scenes.figures.figures import Kind
from scenes.figures.formatter import FigureFormatter
from scenes.kinds.numbers import SuggestedChange
from scenes.quantities import Quantity, Units, marker_of

__all__ = ["alternative_values", "figures_of", "warnings_elsewhere", "warnings_of"]

Json = dict[str, Any]


def figures_of(plan: Plan, units: Units) -> list[Json]:
    """Compute the figures to show below each field.

    Parameters
    ----------
    plan : Plan
    units : Units
        Units in which lengths are written.

    Returns
    -------
    list of dict
        ``under``: the path of a field; ``text``: the figure as a sentence; ``take``: a change that
        a button offers, or None.
    """
    written = FigureFormatter(units)
    found = [*_placement(plan, written), *_finish(plan, written)]
    for builder in plan.builders:
        for figure in kind_of(builder.layer).numbers.field_notes(builder):
            text = "" if figure.text is None else written.sentence(figure.text)
            take = (
                None
                if figure.suggestion is None
                else _take(figure.suggestion, builder.path, written)
            )
            found.append({"under": f"{builder.path}.{figure.field}", "text": text, "take": take})
    return found


def _take(take: SuggestedChange, path: str, written: FigureFormatter) -> Json:
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
        Value by path, such as the strip's width where the design gives its gap.
    """
    found = {}
    for builder in plan.builders:
        for field, value in kind_of(builder.layer).numbers.alternative_values(builder).items():
            marker = marker_of(type(builder.layer).model_fields[field])
            assert isinstance(marker, Quantity)
            found[f"{builder.path}.{field}"] = _round(marker.write(value, units))
    return found


def warnings_of(design: Design, paths: Sequence[str]) -> list[Json]:
    """Assign each warning to the field that it is about.

    Parameters
    ----------
    design : Design
        In the units in which the warnings are written.
    paths : sequence of str
        Paths of all fields on the page.

    Returns
    -------
    list of dict
        ``under``: the longest of the paths that the warning begins with, or a card's; ``text``.
    """
    found = []
    for sentence in design.warnings:
        field, _, text = sentence.partition(": ")
        under = max((p for p in paths if f"{field}.".startswith(f"{p}.")), key=len, default=field)
        found.append({"under": under, "text": in_words(text[:1].upper() + text[1:])})
    return found


def warnings_elsewhere(design: Design) -> list[Json]:
    """List the warnings of the other wraps of the rod, without those that this one has too.

    Parameters
    ----------
    design : Design
        In the units in which the warnings are written.

    Returns
    -------
    list of dict
        ``under``: ``wraps.`` and the name of the wrap; ``text``.
    """
    here = set(checks.warnings(design))
    return [
        {"under": f"wraps.{rod.wrap_name}", "text": in_words(sentence)}
        for rod in other_wraps(design)
        for sentence in checks.warnings(rod)
        if sentence not in here
    ]


def _placement(plan: Plan, written: FigureFormatter) -> Iterator[Json]:
    long = written.length(plan.end - plan.start)
    yield _figure(
        "placement.to",
        f"{long} long; the blank is {written.length(2 * plan.middle_radius)} thick in the middle.",
    )
    first, last = plan.wound_span
    if first < plan.start or last > plan.end:
        yield _figure(
            "placement.to",
            f"With its cover it runs from {written.span(first, last)}.",
        )


def _finish(plan: Plan, written: FigureFormatter) -> Iterator[Json]:
    finish = plan.design.finish
    if finish.coats > 1:
        wet = written.length(finish.coats * finish.coat_thickness)
        yield _figure("finish.coat_thickness", f"{finish.coats} coats, {wet} poured in all.")


def _figure(under: str, text: str) -> Json:
    return {"under": under, "text": in_words(text), "take": None}


def _round(value: float) -> float:
    """Keep what a caliper reads, and no more digits than a person would write."""
    return 0.0 if value == 0 else round(value, 3 - min(0, math.floor(math.log10(abs(value)))))
