"""What follows from a design, in numbers: for the bench, for the check, for the screen."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry import winding as wind
from geometry.errors import GeometryError
from geometry.winding import Winding
from scenes.building.build import Plan, Wrap
from scenes.kinds.cord_lattice.laying import LatticeLaying
from scenes.kinds.laying import ThreadUse
from scenes.kinds.mesh_strip.laying import StripLaying
from scenes.kinds.mesh_strip.model import MeshStrip

__all__ = [
    "LatticeNumbers",
    "Numbers",
    "StripNumbers",
    "WholeCells",
    "lattice_numbers",
    "lattice_of",
    "numbers_of",
    "strip_numbers",
    "strip_of",
]

_PLACES = 401
"""Places along the wrap at which ranges are read."""

_WHOLE = 1e-3
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
    """A mesh strip as wound.

    Parameters
    ----------
    angle : float
        To the axis at the middle of the wrap, rad.
    angles : (float, float)
        Least and greatest along the wrap, rad.
    pitch : float
        Advance of one strip in a turn, at the middle of the wrap, mm.
    width : float
        Across the run, mm.
    gap : float
        Along the axis at the middle of the wrap, mm.
    gaps : (float, float)
        Least and greatest along the wrap, as a ruler reads them, mm.
    unsteered : (float, float) or None
        The first and the last gap, were the strip left to find its own way, mm; None if it would
        turn back.
    covered_share : float
        Of the blank at the middle of the wrap, 0 to 1.
    turns : float
        Of each strip, from where the relief starts to where it ends.
    length : float
        Of each strip along its run, mm.
    cells : float
        Width in cells.
    whole_cells : tuple of WholeCells
        The nearest widths that can be cut, narrower first; one if the width is whole already.
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


@dataclass(frozen=True, slots=True)
class LatticeNumbers:
    """A cord lattice as wound.

    Parameters
    ----------
    around : int
        Diamonds round the blank.
    diamond : float
        Length of one along the blank at the middle of the wrap, mm.
    width : float
        Of one round the blank there, mm.
    pitch : float
        Advance of one cord in a turn there, mm.
    turns : float
        Of each cord.
    length : float
        Of each cord along its run, mm.
    crossing : float
        Height where two cords cross, mm.
    """

    around: int
    diamond: float
    width: float
    pitch: float
    turns: float
    length: float
    crossing: float


@dataclass(frozen=True, slots=True)
class Numbers:
    """What follows from a design.

    Parameters
    ----------
    diameter : float
        Of the bare blank at the middle of the wrap, mm.
    cover_span : (float, float) or None
        First and last row of the first cover, mm from the butt; None without one.
    strip : StripNumbers or None
    lattice : LatticeNumbers or None
    rows : int
        Turns of the first cover's thread; 0 without one.
    threads : tuple of ThreadUse
        In bench order, a trim's from the relief outwards, one entry for each thread.
    """

    diameter: float
    cover_span: Range | None
    strip: StripNumbers | None
    lattice: LatticeNumbers | None
    rows: int
    threads: tuple[ThreadUse, ...]


def numbers_of(wrap: Wrap) -> Numbers:
    """Work out the numbers of a wrap; one built at draft detail will do.

    The cover's length is summed over its rows round the draped section; the rest is closed form
    on the winding.
    """
    plan = wrap.plan
    return Numbers(
        2 * plan.middle_radius,
        None if plan.cover is None else plan.cover.span,
        strip_numbers(plan),
        lattice_numbers(plan),
        0 if plan.cover is None else plan.cover.rows,
        wrap.threads(),
    )


def strip_of(plan: Plan) -> StripLaying | None:
    """The first mesh strip, if there is one."""
    return next((one for one in plan.layings if isinstance(one, StripLaying)), None)


def lattice_of(plan: Plan) -> LatticeLaying | None:
    """The first lattice of cords, if there is one."""
    return next((one for one in plan.layings if isinstance(one, LatticeLaying)), None)


def strip_numbers(plan: Plan) -> StripNumbers | None:
    """Work out how the mesh strip is wound, if there is one."""
    strip = strip_of(plan)
    if strip is None:
        return None
    relief, winding = strip.layer, strip.winding
    radius, width, starts = plan.middle_radius, strip.width, relief.starts
    z = np.linspace(plan.start, plan.end, _PLACES)
    angles = winding.angle_at(z)
    gaps = _gaps(plan, winding, width)
    if not gaps.size:  # less than a turn: no strip has a neighbour
        gaps = wind.gap_from_width(plan.blank.radius(z), angles, width, starts)
    return StripNumbers(
        relief.angle,
        _range(angles),
        float(wind.pitch(radius, relief.angle)),
        width,
        relief.gap_on(radius),
        _range(gaps),
        _unsteered(plan, relief, width),
        float(wind.share_from_width(radius, relief.angle, width, starts)),
        winding.turns(plan.start, plan.end),
        _run(winding, plan.start, plan.end),
        width / relief.cell,
        tuple(_whole_cells(relief, radius, width)),
    )


def _gaps(plan: Plan, winding: Winding, width: float) -> NDArray[np.float64]:
    """What a ruler reads of every gap whose middle is within the wrap, from the butt, mm."""
    at, gaps = wind.gaps_along(winding, width)
    return gaps[(at >= plan.start) & (at <= plan.end)]


def _unsteered(plan: Plan, relief: MeshStrip, width: float) -> Range | None:
    """The first and the last gap of the same strip laid without steering, mm."""
    # From the middle of a gap to the middle of the strip beside it, and a little more.
    beside = 0.6 * float(wind.pitch(plan.middle_radius, relief.angle)) / relief.starts
    span = (plan.start - beside, plan.end + beside)
    try:
        winding = wind.unsteered(
            plan.blank, span, relief.angle, plan.middle, starts=relief.starts, hand=relief.hand
        )
    except GeometryError:
        return None
    gaps = _gaps(plan, winding, width)
    return (float(gaps[0]), float(gaps[-1])) if gaps.size else None


def _whole_cells(relief: MeshStrip, radius: float, width: float) -> Iterator[WholeCells]:
    """A mesh is cut along its yarns: the widths on both sides of the one asked for."""
    cells = width / relief.cell
    nearest = round(cells)
    below = nearest if abs(cells - nearest) < _WHOLE else int(cells)
    above = nearest if abs(cells - nearest) < _WHOLE else below + 1
    for count in sorted({below, above}):
        cut = count * relief.cell
        gap = float(wind.gap_from_width(radius, relief.angle, cut, relief.starts))
        # A wider strip may be more than there is room for.
        if count >= 1 and gap > -_WHOLE:
            yield WholeCells(count, cut, max(gap, 0.0))


def lattice_numbers(plan: Plan) -> LatticeNumbers | None:
    """Work out how the cords are wound, if there are any."""
    laying = lattice_of(plan)
    if laying is None:
        return None
    relief, lattice = laying.layer, laying.windings
    radius = plan.middle_radius
    pitch = float(wind.pitch(radius, relief.angle))
    return LatticeNumbers(
        relief.count,
        pitch / relief.count,
        2 * np.pi * radius / relief.count,
        pitch,
        lattice[0].turns(plan.start, plan.end),
        _run(lattice[0], plan.start, plan.end),
        2 * relief.cord_diameter * relief.flatten,
    )


def _run(winding: Winding, start: float, end: float) -> float:
    first, last = winding.length_at(np.array([start, end])).tolist()
    return last - first


def _range(values: NDArray[np.float64]) -> Range:
    return float(values.min()), float(values.max())
