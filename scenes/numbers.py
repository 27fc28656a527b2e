"""What follows from a design, in numbers: for the bench, for the check, for the screen."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry import winding as wind
from geometry.errors import GeometryError
from geometry.trim import Ring, StripEdge
from geometry.winding import Winding
from materials.thread import Thread
from scenes import layers as spec
from scenes.build import Plan, Wrap

__all__ = [
    "LatticeNumbers",
    "Numbers",
    "StripNumbers",
    "ThreadUse",
    "WholeCells",
    "numbers_of",
    "trim_run_length",
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
class ThreadUse:
    """Thread on the blank, without tails or waste.

    Parameters
    ----------
    use : str
        Path of the layer: ``cover``, ``trim``.
    thread : Thread
    length : float
        mm.
    """

    use: str
    thread: Thread
    length: float

    @property
    def mass_g(self) -> float:
        """From its tex, g."""
        return self.thread.mass_g(self.length / 1000)


@dataclass(frozen=True, slots=True)
class Numbers:
    """What follows from a design.

    Parameters
    ----------
    diameter : float
        Of the bare blank at the middle of the wrap, mm.
    cover_span : (float, float)
        First and last row of the cover, mm from the butt.
    strip : StripNumbers or None
    lattice : LatticeNumbers or None
    rows : int
        Turns of the cover's thread.
    threads : tuple of ThreadUse
        The cover's, then each trim's from the relief outwards, one entry for each thread.
    """

    diameter: float
    cover_span: Range
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
    cover = ThreadUse("cover", plan.cover_thread, wrap.cover_length())
    return Numbers(
        2 * plan.middle_radius,
        plan.cover_span,
        _strip(plan),
        _lattice(plan),
        plan.cover_layer().rows(),
        (cover, *_trims(plan)),
    )


def _strip(plan: Plan) -> StripNumbers | None:
    relief, winding = plan.relief, plan.winding
    if not isinstance(relief, spec.MeshStrip) or winding is None:
        return None
    radius, width, starts = plan.middle_radius, plan.strip_width, relief.starts
    z = np.linspace(plan.start, plan.end, _PLACES)
    angles = winding.angle_at(z)
    gaps = _gaps(plan, winding)
    if not gaps.size:  # less than a turn: no strip has a neighbour
        gaps = wind.gap_from_width(plan.blank.radius(z), angles, width, starts)
    return StripNumbers(
        relief.angle,
        _range(angles),
        float(wind.pitch(radius, relief.angle)),
        width,
        relief.gap_on(radius),
        _range(gaps),
        _unsteered(plan, relief),
        float(wind.share_from_width(radius, relief.angle, width, starts)),
        winding.turns(plan.start, plan.end),
        _run(winding, plan.start, plan.end),
        width / relief.cell,
        tuple(_whole_cells(relief, radius, width)),
    )


def _gaps(plan: Plan, winding: Winding) -> NDArray[np.float64]:
    """What a ruler reads of every gap whose middle is within the wrap, from the butt, mm."""
    at, gaps = wind.gaps_along(winding, plan.strip_width)
    return gaps[(at >= plan.start) & (at <= plan.end)]


def _unsteered(plan: Plan, relief: spec.MeshStrip) -> Range | None:
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
    gaps = _gaps(plan, winding)
    return (float(gaps[0]), float(gaps[-1])) if gaps.size else None


def _whole_cells(relief: spec.MeshStrip, radius: float, width: float) -> Iterator[WholeCells]:
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


def _lattice(plan: Plan) -> LatticeNumbers | None:
    relief, lattice = plan.relief, plan.lattice
    if not isinstance(relief, spec.CordLattice) or lattice is None:
        return None
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


def _trims(plan: Plan) -> Iterator[ThreadUse]:
    for trim in plan.design.trims:
        path = plan.design.path_of(trim)
        lines = plan.trim_edges(trim)
        beside = trim.offset
        for thread in plan.trim_threads(trim):
            half = thread.diameter_mm / 2
            length = sum(trim_run_length(plan, line, beside + half, half) for line in lines)
            beside += thread.diameter_mm
            yield ThreadUse(path, thread, length)


def trim_run_length(plan: Plan, line: StripEdge | Ring, beside: float, half: float) -> float:
    """Length of the centre line of one trim thread along every run of an edge, mm.

    Parameters
    ----------
    plan : Plan
    line : StripEdge or Ring
    beside : float
        From the edge to the middle of the thread, outwards, mm.
    half : float
        Radius of the thread, mm: it lies on the cover, on the flat beside the relief.
    """
    lift = plan.cover_layer().diameter + half
    if isinstance(line, Ring):
        at = line.at + line.edge.outward * beside
        return float(2 * np.pi * (plan.blank.radius(at) + lift))
    winding = line.winding
    z = np.linspace(plan.start, plan.end, 10 * _PLACES)
    # The edge runs beside the centre line: at the same height on the blank it is elsewhere round.
    across = line.edge.outward * (line.width / 2 + beside)
    centre = z - across / np.sin(winding.angle_at(z))
    phase = winding.phase_at(centre)
    radius = plan.blank.radius(z) + lift
    steps = np.hypot(
        np.hypot(np.diff(z), np.diff(radius)), (radius[1:] + radius[:-1]) / 2 * np.diff(phase)
    )
    return float(winding.starts * steps.sum())


def _run(winding: Winding, start: float, end: float) -> float:
    first, last = winding.length_at(np.array([start, end])).tolist()
    return last - first


def _range(values: NDArray[np.float64]) -> Range:
    return float(values.min()), float(values.max())
