"""Checks between the parts of a design: errors, and warnings of what is probably a mistake."""

import itertools
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from scenes.design.layers import ROLES, layer_path
from scenes.design.readings import off_readings
from scenes.kinds.taper import OVERLAP
from scenes.parts.layer import Role
from scenes.problems import one_of, refusal, shown
from scenes.quantities import Units, about, counted, length

if TYPE_CHECKING:
    from scenes.design.document import Design
    from scenes.parts.blank import Station

__all__ = ["check", "laid_span", "warnings"]

_LEAST_RANGE = 1.0
"""Least length of a range that is advised for a place, mm."""

_LEAST_SPACING = 0.1
"""Least distance between stations, mm: a caliper's jaw is wider than that."""

_MOST_TAPER = 0.5
"""Greatest change of diameter along the blank, mm per mm: a blank has no steps."""

_MOST_NAMED = 6
"""Most further readings that a warning names."""

_SHORTEST, _LONGEST = 5.0, 1000.0
"""Length of a wrap, mm."""

_SAMPLES = 65
"""Stations along a grip at which the blank inside it is measured."""


def check(design: "Design") -> None:
    """Check what no part of a design can check alone.

    Parameters
    ----------
    design : Design

    Raises
    ------
    PydanticCustomError
        With the path of the wrong field, and one sentence.
    """
    _check_stations(design)
    _check_length(design)
    _check_fitted(design)
    _check_placement(design)
    _check_stack(design)
    for index, layer in enumerate(design.layers):
        layer.check(design, layer_path(design.layers, index))


def warnings(design: "Design") -> Iterator[str]:
    """Find what is allowed but is probably a mistake.

    Parameters
    ----------
    design : Design

    Yields
    ------
    str
        One sentence; lengths in the file's units.
    """
    stations, units = design.blank.stations, design.units
    off = off_readings([station.diameter for station in stations])
    if off and not off_readings([station.diameter for station in reversed(stations)]):
        yield _reversed_sentence(design)
    elif off:
        yield _off_sentence(design, off)
    yield from _wall_warning(design)
    start, end = laid_span(design)
    spans = [(f"blank.fitted.{i}", one.kind, one.span) for i, one in enumerate(design.blank.fitted)]
    for path, kind, (first, last) in spans:
        if first < end and last > start:
            yield (
                f"{path}: the {kind} from {length(first, units)} to "
                f"{length(last, units)} reaches into the wrap, which runs with its cover from "
                f"{length(start, units)} to {length(end, units)}; move one of them."
            )
    for (_, other_kind, other), (path, kind, one) in itertools.combinations(spans, 2):
        if one[0] < other[1] and one[1] > other[0]:
            yield (
                f"{path}: the {kind} from {length(one[0], units)} to "
                f"{length(one[1], units)} reaches into the {other_kind} at "
                f"{length(other[0], units)}; move one of them."
            )
    yield from _unused_schemes(design)
    for index, layer in enumerate(design.layers):
        yield from layer.warnings(design, layer_path(design.layers, index))


def _unused_schemes(design: "Design") -> Iterator[str]:
    """Warn of schemes for guides that none refers to."""
    used = {guide.scheme for _, guide in design.blank.guides}
    for index, scheme in enumerate(design.blank.guide_schemes):
        if scheme.name not in used:
            yield (
                f"blank.guide_schemes.{index}: no guide is bound by {shown(scheme.name)}; give one "
                f'scheme = "{scheme.name}", or leave the scheme out.'
            )


def _wall_warning(design: "Design") -> Iterator[str]:
    """Warn of a wall that is thicker than the blank from its outside to its middle."""
    blank, units = design.blank, design.units
    if not blank.has_shape or blank.wall is None:
        return
    solid = [station for station in blank.stations if station.diameter / 2 < blank.wall]
    if not solid:
        return
    if len(solid) == len(blank.stations):
        where = "all the way"
    else:
        where = f"at {counted(len(solid), 'station')}, first at {length(solid[0].at, units)}"
    thinnest = min(station.diameter for station in solid)
    yield (
        f"blank.wall: {length(blank.wall, units)} is more than from the outside of the blank to "
        f"its middle, {about(thinnest / 2, units)} where it is thinnest, so it weighs as a solid "
        f"rod {where}; give the thickness of the wall, half of the diameter for a solid blank."
    )


def _reversed_sentence(design: "Design") -> str:
    """Warn of readings that would all be right from the other end."""
    first, last, units = design.blank.stations[0], design.blank.stations[-1], design.units
    return (
        f"blank.stations: the blank gets thicker towards the tip, from "
        f"{length(first.diameter, units)} at {length(first.at, units)} to "
        f"{length(last.diameter, units)} at {length(last.at, units)}; if these were measured from "
        "the tip, give each place by its distance from the butt."
    )


def _off_sentence(design: "Design", off: Sequence[tuple[int, float]]) -> str:
    stations, units = design.blank.stations, design.units
    first, amount = off[0]
    here = stations[first]
    side = "thicker" if amount > 0 else "thinner"
    more = ""
    if len(off) > 1:
        places = [length(stations[index].at, units) for index, _ in off[1 : 1 + _MOST_NAMED]]
        unnamed = len(off) - 1 - len(places)
        places += [f"{unnamed} more places"] if unnamed else []
        others, verb = ("reading", "does") if len(off) == 2 else ("readings", "do")
        more = f"; the {others} at {one_of(places, 'and')} {verb} not fit either"
    return (
        f"blank.stations.{first}.diameter: {length(here.diameter, units)} at "
        f"{length(here.at, units)} is {length(round(abs(amount), 2), units)} {side} than the other "
        f"readings of a blank that tapers to the tip allow, more than a caliper is off{more}; "
        "measure again there."
    )


def laid_span(design: "Design") -> tuple[float, float]:
    """Start and end of all that is laid on the blank.

    Parameters
    ----------
    design : Design

    Returns
    -------
    (float, float)
        Distances from the butt, mm.
    """
    spans = [layer.extent(design.placement) for layer in design.layers]
    return min(start for start, _ in spans), max(end for _, end in spans)


def _check_stations(design: "Design") -> None:
    stations, units = design.blank.stations, design.units
    for index, (before, after) in enumerate(itertools.pairwise(stations), 1):
        field = f"blank.stations.{index}"
        here, there = length(after.at, units), length(before.at, units)
        if after.at < before.at:
            raise refusal(
                f"{here} comes after {there}; list the stations from butt to tip"
                + _place_between(stations, index, units),
                field=f"{field}.at",
            )
        apart = after.at - before.at
        if apart < _LEAST_SPACING:
            raise refusal(
                f"{here} is the same place as the station before it; give each place one diameter"
                + _place_between(stations, index, units),
                field=f"{field}.at",
            )
        step, most = abs(after.diameter - before.diameter), _MOST_TAPER * apart
        if step > most:
            raise refusal(
                f"{length(after.diameter, units)} differs from the station before by "
                f"{length(step, units)} within {length(apart, units)}, faster than 1 in 2; give "
                f"{about(max(before.diameter - most, 0.0), units, upwards=True)} to "
                f"{about(before.diameter + most, units)}",
                field=f"{field}.diameter",
            )


def _check_length(design: "Design") -> None:
    """Check the length of the blank against its stations, its balance point and its reel seat."""
    blank, units = design.blank, design.units
    if blank.length is None:
        return
    last = blank.stations[-1].at
    if blank.length < last:
        raise refusal(
            f"{length(blank.length, units)} ends before the last station, at "
            f"{length(last, units)}; give {about(last, units, upwards=True)} or more",
            field="blank.length",
        )
    # A blank whose wall is known may be heavier towards its tip, though hardly any is.
    most = blank.length if blank.has_shape else blank.length / 2
    if blank.balance is not None and blank.balance > most:
        where = "beyond the tip" if blank.has_shape else "past the middle"
        raise refusal(
            f"{length(blank.balance, units)} is {where} of a blank of "
            f"{length(blank.length, units)}; give {about(most, units)} or less, from the butt",
            field="blank.balance",
        )
    if blank.reel_seat is not None and blank.reel_seat > blank.length:
        raise refusal(
            f"{length(blank.reel_seat, units)} is beyond the tip of a blank of "
            f"{length(blank.length, units)}; give {about(blank.length, units)} or less, from the "
            "butt",
            field="blank.reel_seat",
        )


def _place_between(stations: Sequence["Station"], index: int, units: Units) -> str:
    """Advise where a station may lie between its neighbours; empty where there is no room."""
    before, here = stations[index - 1], stations[index]

    def apart(other: "Station") -> float:
        return _LEAST_SPACING + abs(here.diameter - other.diameter) / _MOST_TAPER

    least = about(before.at + apart(before), units, upwards=True)
    if index + 1 == len(stations):
        return f", or give {least} or more"
    after = stations[index + 1]
    if after.at - apart(after) - before.at - apart(before) < _LEAST_RANGE:
        return ""
    return f", or give {least} to {about(after.at - apart(after), units)}"


def _check_fitted(design: "Design") -> None:
    units = design.units
    blank = design.blank.measured()
    first, last = design.blank.stations[0].at, design.blank.stations[-1].at
    for index, fitting in enumerate(design.blank.fitted):
        field = f"blank.fitted.{index}"
        start, end = fitting.span
        if end - start < 1.0:
            raise refusal(
                f"{length(end, units)} is not beyond {length(start, units)}, where it "
                "starts; give the end nearer the tip",
                field=f"{field}.to",
            )
        if fitting.kind != "grip":
            continue
        places = np.clip(np.linspace(start, end, _SAMPLES), first, last)
        thickest = 2 * float(np.max(blank.radius(places)))
        if fitting.diameter <= thickest:
            raise refusal(
                f"{length(fitting.diameter, units)} is not thicker than the blank inside it, "
                f"{about(thickest, units)}; give the outside diameter of the grip, more than that",
                field=f"{field}.diameter",
            )


def _check_placement(design: "Design") -> None:
    placement, units = design.placement, design.units
    start, end = placement.start, placement.end
    if end <= start:
        raise refusal(
            f"{length(end, units)} is not beyond placement.from, {length(start, units)}; give the "
            "end nearer the tip",
            field="placement.to",
        )
    if not _SHORTEST <= placement.length <= _LONGEST:
        raise refusal(
            f"{length(end, units)} makes the wrap {length(placement.length, units)} long; give a "
            f"wrap of {about(_SHORTEST, units, upwards=True)} to {about(_LONGEST, units)}",
            field="placement.to",
        )
    first, last = design.blank.stations[0].at, design.blank.stations[-1].at
    # A layer that has its own ends names its own field.
    spans = [layer.extent(placement) for layer in design.layers if not layer.own_ends]
    covered_from = min([start, *(first for first, _ in spans)])
    covered_to = max([end, *(last for _, last in spans)])
    if covered_from < first - OVERLAP:
        raise refusal(
            f"with its cover the wrap starts at {length(covered_from, units)}, before the first "
            f"station at {length(first, units)}; measure the blank there or start the wrap at "
            f"{length(first + start - covered_from, units)} or beyond",
            field="placement.from",
        )
    if covered_to > last + OVERLAP:
        raise refusal(
            f"with its cover the wrap ends at {length(covered_to, units)}, beyond the last station "
            f"at {length(last, units)}; measure the blank there or end the wrap at "
            f"{length(last + end - covered_to, units)} or before",
            field="placement.to",
        )


def _check_stack(design: "Design") -> None:
    layers = design.layers
    names = [layer.name for layer in layers if layer.name is not None]
    for index, layer in enumerate(layers):
        field = f"layers.{index}.name"
        if layer.name is None:
            continue
        if names.count(layer.name) > 1:
            raise refusal(
                f"{shown(layer.name)} is used twice; give each layer its own name", field=field
            )
        reserved = layer.name in _RESERVED_NAMES or (layer.name == "wraps" and design.wraps)
        if "." in layer.name or reserved:
            raise refusal(
                f"{shown(layer.name)} cannot name a layer, because paths use it; give another "
                "name, without a full stop",
                field=field,
            )
    open_relief: int | None = None
    for index, layer in enumerate(layers):
        if layer.role == Role.RELIEF:
            if open_relief is not None:
                raise refusal(
                    "2 reliefs lie under one cover; give one, or a cover over each", field="layers"
                )
            open_relief = index
        elif layer.role == Role.COVER:
            open_relief = None
    if open_relief is not None:
        raise refusal(
            "nothing is wound over it; list a cover after it",
            field=layer_path(layers, open_relief),
        )


_TABLES = ("turnlight", "units", "title", "notes", "shelf", "order", "blank", "placement", "layers")
_RESERVED_NAMES = frozenset(
    (*_TABLES, "finish", "light", "camera", "bench", "variants", "agreed", *ROLES)
)
