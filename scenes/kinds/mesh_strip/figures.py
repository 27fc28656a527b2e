"""Numbers of a mesh strip as wound."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry import winding as wind
from geometry.errors import GeometryError
from scenes.kinds.mesh_strip.builder import StripBuilder

__all__ = ["WHOLE_CELL", "StripNumbers", "WholeCells", "strip_gaps", "strip_numbers"]

_PLACES = 401
"""Number of places along the wrap at which ranges are taken."""

WHOLE_CELL = 1e-3
"""Part of a cell that counts as none."""

Range = tuple[float, float]


@dataclass(frozen=True, slots=True)
class WholeCells:
    """A strip of whole cells near the one asked for.

    Parameters
    ----------
    cells : int
    width : float
        mm.
    gap : float
        Along the axis at the middle of the wrap, at the same angle, mm.
    """

    cells: int
    width: float
    gap: float


@dataclass(frozen=True, slots=True)
class StripNumbers:
    """Numbers of a mesh strip as wound.

    Parameters
    ----------
    angle : float
        Angle to the axis at the middle of the wrap, rad.
    angles : (float, float)
        Least and greatest along the wrap, rad.
    pitch : float
        Advance of one strip in a turn, at the middle of the wrap, mm.
    width : float
        Width across the run, mm.
    gap : float
        Along the axis at the middle of the wrap, mm.
    gaps : (float, float)
        Least and greatest along the wrap, as a ruler reads them, mm.
    unsteered : (float, float) or None
        First and last gap of the same strip without steering, mm; None if it would turn back.
    covered_share : float
        Share of the blank under the strips at the middle of the wrap, 0 to 1.
    turns : float
        Turns of each strip from end to end of the relief.
    length : float
        Length of each strip along its run, mm.
    cells : float
        Width in cells.
    whole_cells : tuple of WholeCells
        Nearest widths that can be cut, the narrower first; one if the width is whole.
    """

    angle: float
    angles: Range
    pitch: float
    width: float
    gap: float
    gaps: Range
    unsteered: Range | None
    covered_share: float
    turns: float
    length: float
    cells: float
    whole_cells: tuple[WholeCells, ...]


def strip_numbers(builder: StripBuilder) -> StripNumbers:
    """Compute the numbers of a strip.

    Parameters
    ----------
    builder : StripBuilder

    Raises
    ------
    DesignProblem
        If it cannot be wound as described.
    """
    plan, relief, winding = builder.plan, builder.layer, builder.winding
    radius, width, starts = plan.middle_radius, builder.width, relief.starts
    z = np.linspace(plan.start, plan.end, _PLACES)
    angles = winding.angle_at(z)
    first, last = winding.length_at(np.array([plan.start, plan.end])).tolist()
    return StripNumbers(
        relief.angle,
        _range(angles),
        float(wind.pitch(radius, relief.angle)),
        width,
        relief.gap_on(radius),
        strip_gaps(builder),
        _unsteered(builder),
        float(wind.share_from_width(radius, relief.angle, width, starts)),
        winding.turns(plan.start, plan.end),
        last - first,
        width / relief.cell,
        tuple(_whole_cells(builder)),
    )


def strip_gaps(builder: StripBuilder) -> Range:
    """Least and greatest gap along the wrap, as a ruler reads them, mm.

    Parameters
    ----------
    builder : StripBuilder

    Raises
    ------
    DesignProblem
        If it cannot be wound as described.
    """
    plan, winding = builder.plan, builder.winding
    gaps = _gaps(builder, winding)
    if not gaps.size:  # less than a turn: no strip has a neighbour
        z = np.linspace(plan.start, plan.end, _PLACES)
        angles, starts = winding.angle_at(z), builder.layer.starts
        gaps = wind.gap_from_width(plan.blank.radius(z), angles, builder.width, starts)
    return _range(gaps)


def _gaps(builder: StripBuilder, winding: wind.Winding) -> NDArray[np.float64]:
    """Gaps along the blank whose middle is within the wrap, from the butt, mm."""
    at, gaps = wind.gaps_along(winding, builder.width)
    return gaps[(at >= builder.plan.start) & (at <= builder.plan.end)]


def _unsteered(builder: StripBuilder) -> Range | None:
    """First and last gap of the same strip without steering, mm."""
    plan, relief = builder.plan, builder.layer
    # From the middle of a gap to the middle of the strip beside it, and a little more.
    beside = 0.6 * float(wind.pitch(plan.middle_radius, relief.angle)) / relief.starts
    span = (plan.start - beside, plan.end + beside)
    try:
        winding = wind.unsteered(
            plan.blank, span, relief.angle, plan.middle, starts=relief.starts, hand=relief.hand
        )
    except GeometryError:
        return None
    gaps = _gaps(builder, winding)
    return (float(gaps[0]), float(gaps[-1])) if gaps.size else None


def _whole_cells(builder: StripBuilder) -> Iterator[WholeCells]:
    """Yield the whole-cell widths on both sides of the width asked for."""
    relief, radius = builder.layer, builder.plan.middle_radius
    cells = builder.width / relief.cell
    nearest = round(cells)
    below = nearest if abs(cells - nearest) < WHOLE_CELL else int(cells)
    above = nearest if abs(cells - nearest) < WHOLE_CELL else below + 1
    for count in sorted({below, above}):
        cut = count * relief.cell
        gap = float(wind.gap_from_width(radius, relief.angle, cut, relief.starts))
        # A wider strip may be more than there is room for.
        if count >= 1 and gap > -WHOLE_CELL:
            yield WholeCells(count, cut, max(gap, 0.0))


def _range(values: NDArray[np.float64]) -> Range:
    return float(values.min()), float(values.max())
