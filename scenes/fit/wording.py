"""Results of a fit in words: what the command prints and what the page shows."""

from collections.abc import Iterator

from scenes.design.differences import BASE_LABEL, differences
from scenes.design.document import Design
from scenes.design.layers import kind_of
from scenes.figures.formatter import FigureFormatter
from scenes.fit.fields import field_at
from scenes.fit.measures import MEASURES, Measure
from scenes.fit.offer_warnings import new_warnings
from scenes.fit.search import Fit, Solution
from scenes.fit.trials import Trial
from scenes.problems import one_of, shown
from scenes.quantities import Quantity, Units, plain_number

__all__ = [
    "changed_lines",
    "measure_in_table",
    "measures_in_table",
    "notes",
    "offered_warnings",
    "solution_label",
    "units_of",
    "verdict",
]

_USUAL_MEASURES = ("angle", "gap", "strip_width", "cells", "covered_share", "diamonds", "turns")
"""Measures in the table of every fit, if the design has them."""

_MAX_COLUMNS = 8


def verdict(found: Fit) -> str:
    """Heading of the result: whether the wishes are met, and by how many designs.

    Parameters
    ----------
    found : Fit
        Result of the search.
    """
    units = units_of(found)
    wishes = one_of((wish.text(units) for wish in found.request.wishes), "and")
    best = found.solutions[0]
    if not found.met:
        return "Nearest possible:"
    if not wishes:
        return "As set:"
    if not best.changes and not found.request.settings:
        return f"The design is so already: {wishes}."
    count = len(found.solutions)
    return f"{wishes[0].upper()}{wishes[1:]}: {'1 design' if count == 1 else f'{count} designs'}."


def measures_in_table(found: Fit) -> list[Measure]:
    """Measures in the table of a fit: those wished, and the usual ones that the design has.

    Parameters
    ----------
    found : Fit
    """
    wished = list(dict.fromkeys(wish.measure for wish in found.request.wishes))
    usual = [MEASURES[name] for name in _USUAL_MEASURES if MEASURES[name] not in wished]
    shown_too = [measure for measure in usual if found.before.value(measure) is not None]
    return [*wished, *shown_too][: max(_MAX_COLUMNS, len(wished))]


def changed_lines(found: Fit, solution: Solution) -> Iterator[str]:
    """Changes of a solution, one line for each field: old value, new value.

    Parameters
    ----------
    found : Fit
    solution : Solution
        One of ``found.solutions``.
    """
    before, after = found.before.design, solution.design
    assert before is not None
    for path in solution.trial.changes:
        then, now = field_at(before, path), field_at(after, path)
        if then.value == now.value:
            continue
        unit = now.marker.unit(after.units) if isinstance(now.marker, Quantity) else ""
        given = now.path in found.request.settings
        was = (
            f"{_value(then.value)}{unit}"
            if then.value is not None
            else _replaced_alternative(before, path)
        )
        yield f"{path}: {was} → {_value(now.value)}{unit}{' (as you set it)' if given else ''}"


def notes(found: Fit, solution: Solution) -> Iterator[str]:
    """Further remarks on a solution, one sentence each.

    Parameters
    ----------
    found : Fit
    solution : Solution
        One of ``found.solutions``.
    """
    measured = solution.trial.measured
    assert measured is not None
    wished = [wish.measure.name for wish in found.request.wishes]
    for builder in measured.builders:
        yield from kind_of(builder.layer).numbers.fit_notes(builder, wished)


def offered_warnings(found: Fit) -> Iterator[list[str]]:
    """List what `check` warns of in each solution and not in the present design.

    Parameters
    ----------
    found : Fit

    Yields
    ------
    list of str
        One sentence each; a wrap is laid for each solution, in about a second.
    """
    before = found.before.measured
    assert before is not None
    offered = (solution.trial.measured for solution in found.solutions)
    yield from new_warnings(before, (one for one in offered if one is not None))


def measure_in_table(measure: Measure, trial: Trial, units: Units) -> str:
    """Write a measure of a trial for a table whose heading names the unit.

    Parameters
    ----------
    measure : Measure
    trial : Trial
    units : Units
        Units of lengths.
    """
    value = trial.value(measure)
    if value is None:
        return "–"
    unit = FigureFormatter(units).unit(measure.kind)
    return measure.text(value, units).removesuffix(unit).rstrip()


def solution_label(found: Fit, number: int) -> str:
    """Describe how a solution differs from the original design.

    Parameters
    ----------
    found : Fit
    number : int
        Number of the solution, from 1; 0 for the original design.
    """
    if number == 0:
        return BASE_LABEL
    before, after = found.before.design, found.solutions[number - 1].design
    return ", ".join(differences(before, after) if before else []) or BASE_LABEL


def units_of(found: Fit) -> Units:
    """Units of lengths in the designs of a fit.

    Parameters
    ----------
    found : Fit
    """
    return found.solutions[0].design.units


def _value(value: object) -> str:
    if isinstance(value, bool | str) or not isinstance(value, int | float):
        return shown(value)
    return plain_number(value)


def _replaced_alternative(design: Design, path: str) -> str:
    """Name and value of the alternative field that a new value replaces."""
    above = path.rpartition(".")[0]
    for layer in design.layers:
        if design.path_of(layer) == above:
            for name in layer.alternatives:
                field = field_at(design, f"{above}.{name}")
                if field.value is not None:
                    unit = (
                        field.marker.unit(design.units)
                        if isinstance(field.marker, Quantity)
                        else ""
                    )
                    return f"{name} {_value(field.value)}{unit}"
    return "not given"
