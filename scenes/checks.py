"""What must hold between the parts of a design, and what is only unlikely to be meant."""

import itertools
import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from geometry import winding
from scenes.layers import CordLattice, Cover, Edge, Laid, MeshStrip, Role, layer_path
from scenes.problems import refusal, shown
from scenes.quantities import Units, length, plain_number

if TYPE_CHECKING:
    from scenes.document import Design

__all__ = ["check", "warnings"]

_LEAST_APART = 0.1
"""Stations nearer to each other than this, mm, are one place: a caliper's jaw is broader."""

_STEEPEST = 0.5
"""Most change of diameter along the blank, mm per mm: a blank is no stepped shaft."""

_SHORTEST, _LONGEST = 5.0, 1000.0
"""Length of a wrap, mm."""

_PLACES = 65
"""Places along the wrap at which the winding is tried."""

_OVERLAP = 1e-6
"""Overlap that is taken for rounding, mm."""

_BEYOND = 8.0
"""How far beyond the cover a winding is followed, mm: finish and bare blank are drawn there."""

_STEEPEST_RUN = math.radians(89)
_FLATTEST_RUN = math.radians(1)


def check(design: "Design") -> None:
    """Check what no part of a design can check alone.

    Raises
    ------
    PydanticCustomError
        With the field at fault and one sentence.
    """
    _check_stations(design)
    _check_fitted(design)
    _check_placement(design)
    _check_stack(design)
    relief = design.relief
    if isinstance(relief, MeshStrip):
        _check_strip(design, relief)
        middle = _middle_radius(design)
        across = relief.gap_on(middle) * math.sin(relief.angle)
        _check_trims(design, relief.width_on(middle), across)
    elif isinstance(relief, CordLattice):
        _check_lattice(design, relief)
        _check_trims(design, design.placement.length, design.cover.margin)


def warnings(design: "Design") -> Iterator[str]:
    """Find what is allowed but unlikely to be meant.

    Yields
    ------
    str
        One sentence, in the file's units.
    """
    stations, units = design.blank.stations, design.units
    for index, (before, after) in enumerate(itertools.pairwise(stations), 1):
        if after.diameter > before.diameter:
            yield (
                f"blank.stations.{index}.diameter: {length(after.diameter, units)} is thicker "
                f"than {length(before.diameter, units)} nearer the butt; measure again if the "
                "blank tapers to the tip as usual."
            )
    start, end = _covered(design)
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
    for one_trim, other_trim in itertools.combinations(design.trims, 2):
        both = one_trim.edge is other_trim.edge or Edge.BOTH in (one_trim.edge, other_trim.edge)
        if both and one_trim.offset == other_trim.offset:
            yield (
                f"{design.path_of(other_trim)}.offset: "
                f"{length(other_trim.offset, units)} is where another trim on the same edge "
                "starts; give an offset beside it."
            )


def _about(held: float, units: Units) -> str:
    """Write a computed length for people, rounded down to what a ruler shows."""
    step = 0.01 if units is Units.MM else 0.001
    in_file = math.floor(held / units.in_mm / step + 1e-6) * step
    return f"{plain_number(in_file)} {units.value}"


def _covered(design: "Design") -> tuple[float, float]:
    """Where the cover starts and ends, mm from the butt."""
    covers = [layer for layer in design.layers if isinstance(layer, Cover)]
    margin = covers[0].margin if covers else 0.0
    return design.placement.start - margin, design.placement.end + margin


def _check_stations(design: "Design") -> None:
    stations, units = design.blank.stations, design.units
    for index, (before, after) in enumerate(itertools.pairwise(stations), 1):
        field = f"blank.stations.{index}"
        here, there = length(after.at, units), length(before.at, units)
        if after.at < before.at:
            raise refusal(
                f"{here} comes after {there}; list the stations from butt to tip",
                field=f"{field}.at",
            )
        apart = after.at - before.at
        if apart < _LEAST_APART:
            raise refusal(
                f"{here} is the same place as the station before it; give each place one diameter",
                field=f"{field}.at",
            )
        step = abs(after.diameter - before.diameter)
        if step > _STEEPEST * apart:
            raise refusal(
                f"{length(after.diameter, units)} differs from the station before by "
                f"{length(step, units)} within {length(apart, units)}; give diameters "
                "that change no faster than 1 in 2",
                field=f"{field}.diameter",
            )


def _check_fitted(design: "Design") -> None:
    units = design.units
    blank = design.blank.measured()
    first, last = design.blank.stations[0].at, design.blank.stations[-1].at
    for index, one in enumerate(design.blank.fitted):
        field = f"blank.fitted.{index}"
        start, end = one.span
        if end - start < 1.0:
            raise refusal(
                f"{length(end, units)} is not beyond {length(start, units)}, where it "
                "starts; give the end nearer the tip",
                field=f"{field}.to",
            )
        if one.kind != "grip":
            continue
        places = np.clip(np.linspace(start, end, _PLACES), first, last)
        thickest = 2 * float(np.max(blank.radius(places)))
        if one.diameter <= thickest:
            raise refusal(
                f"{length(one.diameter, units)} is not thicker than the blank inside it, "
                f"{_about(thickest, units)}; give the outside diameter of the grip",
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
            f"wrap of {length(_SHORTEST, units)} to {length(_LONGEST, units)}",
            field="placement.to",
        )
    first, last = design.blank.stations[0].at, design.blank.stations[-1].at
    covered_from, covered_to = _covered(design)
    if covered_from < first - _OVERLAP:
        raise refusal(
            f"with its cover the wrap starts at {length(covered_from, units)}, before the first "
            f"station at {length(first, units)}; measure the blank there or start the wrap at "
            f"{length(first + start - covered_from, units)} or beyond",
            field="placement.from",
        )
    if covered_to > last + _OVERLAP:
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
        if "." in layer.name or layer.name in _TAKEN:
            raise refusal(
                f"{shown(layer.name)} cannot name a layer, because paths use it; give another "
                "name, without a full stop",
                field=field,
            )
    order = [list(Role).index(layer.role) for layer in layers]
    for index in range(1, len(layers)):
        if order[index] < order[index - 1]:
            raise refusal(
                f"{layers[index].role} comes after {layers[index - 1].role}; list the layers in "
                "bench order, relief, cover, trim",
                field=f"layers.{index}",
            )
    reliefs, covers, trims = ([layer for layer in layers if layer.role is role] for role in Role)
    if len(reliefs) > 1:
        raise refusal(f"{len(reliefs)} reliefs are too many; give one or none", field="layers")
    if len(covers) != 1:
        raise refusal(f"{len(covers)} covers do not make a wrap; give one", field="layers")
    if trims and not reliefs:
        raise refusal(
            "a seam trim has no edge to lie along here; give a relief or leave the trim out",
            field=layer_path(layers, layers.index(trims[0])),
        )


_TABLES = ("turnlight", "units", "title", "notes", "shelf", "blank", "placement", "layers")
_TAKEN = frozenset((*_TABLES, "finish", "light", "camera", "variants", *Role))


def _radius(design: "Design", reach: float = 0.0) -> NDArray[np.float64]:
    """Bare radius at some places from end to end of the relief and `reach` beyond, mm."""
    start, end = design.placement.start - reach, design.placement.end + reach
    return design.blank.measured().radius(np.linspace(start, end, _PLACES))


def _middle_radius(design: "Design") -> float:
    return float(design.blank.measured().radius(design.placement.middle))


def _check_strip(design: "Design", strip: MeshStrip) -> None:
    units = design.units
    middle = _middle_radius(design)
    every = float(winding.pitch(middle, strip.angle)) / strip.starts
    given = next(name for name in strip.alternatives if getattr(strip, name) is not None)
    field = f"relief.{given}"
    where = (
        f"at {plain_number(math.degrees(strip.angle))} degrees on a "
        f"{_about(2 * middle, units)} blank the next strip comes after {_about(every, units)}"
    )
    width = strip.width_on(middle)
    if strip.gap is not None and strip.gap >= every:
        raise refusal(
            f"{length(strip.gap, units)} leaves no strip: {where}; give a smaller gap",
            field=field,
        )
    if width < strip.cell:
        raise refusal(
            f"{_given(strip, given, units)} makes the strip {_about(width, units)} wide, less than "
            f"one cell of {length(strip.cell, units)}, since {where}; give a wider strip",
            field=field,
        )
    gap = float(winding.gap_from_width(middle, strip.angle, width, strip.starts))
    if gap < -_OVERLAP:
        most = every * math.sin(strip.angle)
        raise refusal(
            f"{_given(strip, given, units)} overlaps the next strip, since {where}; "
            f"give {_about(most, units)} or less",
            field=field,
        )
    _check_run(design, strip, width, max(gap, 0.0))


def _given(strip: MeshStrip, name: str, units: Units) -> str:
    value = getattr(strip, name)
    return plain_number(value) if name == "covered_share" else length(value, units)


def _check_run(design: "Design", strip: MeshStrip, width: float, gap: float) -> None:
    """Check that the strip can be led so all the way up the taper, and a little beyond it.

    Parameters
    ----------
    design : Design
    strip : MeshStrip
    width : float
        Width of the strip, mm.
    gap : float
        Gap along the axis at the middle of the wrap, mm.
    """
    reach = design.cover.margin + _BEYOND + width / math.sin(strip.angle)
    wide = _radius(design, reach)
    thinnest = _about(2 * float(wide.min()), design.units)
    if strip.laid is Laid.CONSTANT_GAP:
        around = 2 * np.pi * wide / strip.starts
        cosine = np.minimum(width / np.hypot(around, gap), 1.0)
        angle = np.arccos(cosine) - np.arctan2(gap, around)
        if float(angle.min()) < _FLATTEST_RUN:
            raise refusal(
                f"{shown(strip.laid.value)} cannot be held where the blank is {thinnest} thick, "
                f"with a strip {_about(width, design.units)} wide; give a narrower "
                "strip",
                field="relief.laid",
            )
        return
    sine = math.sin(strip.angle)
    if strip.laid is Laid.UNSTEERED:
        sine *= _middle_radius(design)
        if sine / float(wide.min()) >= math.sin(_STEEPEST_RUN):
            raise refusal(
                f"{shown(strip.laid.value)} the strip would turn back where the blank is "
                f"{thinnest} thick; give a smaller angle or hold a constant gap",
                field="relief.laid",
            )
    radius = _radius(design)
    along = np.arcsin(sine / radius) if strip.laid is Laid.UNSTEERED else strip.angle
    least = float(winding.gap_from_width(radius, along, width, strip.starts).min())
    if least < -_OVERLAP:
        raise refusal(
            f"{shown(strip.laid.value)} the strip would overlap itself by "
            f"{length(round(-least, 3), design.units)} along the taper; hold a constant gap, or "
            "give a narrower strip",
            field="relief.laid",
        )


def _check_trims(design: "Design", width: float, room: float) -> None:
    """Check that trims start on the relief or on the flat beside it.

    Parameters
    ----------
    design : Design
    width : float
        From edge to edge of the relief, mm.
    room : float
        From the edge to where the flat ends, mm.
    """
    units = design.units
    for trim in design.trims:
        field = f"{design.path_of(trim)}.offset"
        if -trim.offset > width / 2:
            raise refusal(
                f"{length(trim.offset, units)} climbs beyond the middle of the relief, which is "
                f"{_about(width, units)} from edge to edge; give -{_about(width / 2, units)} "
                "or more",
                field=field,
            )
        if trim.offset > max(room, 0.0):
            raise refusal(
                f"{length(trim.offset, units)} is beyond the flat beside the relief, which is "
                f"{_about(room, units)} wide; give that or less",
                field=field,
            )


def _check_lattice(design: "Design", lattice: CordLattice) -> None:
    """Cords of one hand must not touch side by side.

    A cord of width w at the angle alpha takes w / cos(alpha) of the blank's round.
    """
    units = design.units
    thinnest = float(_radius(design).min())
    around = 2 * math.pi * thinnest
    most = int(around * math.cos(lattice.angle) / lattice.cord_diameter)
    if lattice.count > most:
        raise refusal(
            f"{lattice.count} cords each way do not fit round a "
            f"{_about(2 * thinnest, units)} blank at "
            f"{plain_number(math.degrees(lattice.angle))} degrees; give {most} or fewer"
            if most
            else f"{lattice.count} cords each way do not fit round the blank; give thinner cords",
            field="relief.count",
        )
