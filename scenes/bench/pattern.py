"""A design drawn on the blank as lines: what a paper pattern shows before it is unrolled.

A kind of layer draws itself by one function, registered in `lines_of` for the class that lays it; a
kind that has none leaves the pattern as it is, and is named among what is not drawn.

Lines and named points (`marks_of`) are in angle and distance along the blank; `geometry.unroll`
lays them flat. Kinds of line are members of `Pen`, told apart by width and dashes, never by colour.
Paper bends one way only, so the blank is unrolled as the fewest straight cones that stay within
`PAPER_FIT_MM` of it; the template says how near.
"""

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from functools import singledispatch
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometry.layers.trim import Ring
from geometry.marks import cord_marks, strip_marks
from geometry.unroll import between
from geometry.winding import Winding
from scenes.building.build import Plan
from scenes.kinds.cord_lattice.laying import LatticeLaying
from scenes.kinds.cover.laying import CoverLaying
from scenes.kinds.crossed.laying import CrossedLaying
from scenes.kinds.decal.laying import DecalLaying
from scenes.kinds.flat.room import Room
from scenes.kinds.laying import Laying
from scenes.kinds.mesh_strip.laying import StripLaying
from scenes.kinds.overlay.laying import OverlayLaying
from scenes.kinds.rings.laying import RingsLaying
from scenes.kinds.seam_trim.laying import TrimLaying
from scenes.kinds.woven.laying import WovenLaying

__all__ = ["BlankLine", "BlankMark", "Pattern", "Pen", "lines_of", "marks_of", "pattern_of", "ring"]

Array = NDArray[np.float64]

_STEP = 0.5
"""Spacing of a line's points along the blank, mm. A run bends by less than its pitch angle's
change over a step, so that the chords stay within thousandths of a millimetre of it."""

_ROUND = 73
"""Points of a ring."""

_TURNED = np.deg2rad(5.0)
"""Greatest turn between two points of a line, rad."""


class Pen(StrEnum):
    """What a line shows; how it is drawn is the paper's business."""

    STRIP = "edge of the strip"
    YARN = "yarns of the mesh"
    UNDER = "cord laid first, right-hand"
    OVER = "cord laid over it, left-hand"
    TRIM = "trim, both its sides"
    COVER = "first and last row of the cover"
    RELIEF = "where the relief is cut"
    OTHER = "other threads, their outer sides"
    DECAL = "decal, its edge and letters"


@dataclass(frozen=True, slots=True, eq=False)
class BlankLine:
    """A line on the blank.

    Parameters
    ----------
    points : (n, 2) float
        Angle from the guide line, rad, counted on from turn to turn, and distance z, mm.
    pen : Pen
    """

    points: Array
    pen: Pen


@dataclass(frozen=True, slots=True)
class BlankMark:
    """A named point on the blank.

    Parameters
    ----------
    theta : float
        Angle from the guide line, rad, between -pi and pi.
    at : float
        mm from the butt.
    name : str
        Short.
    row : int
        Where the name goes: 0 beside the point; otherwise so many lines of text up the blank from
        it, or down where below 0.
    """

    theta: float
    at: float
    name: str
    row: int = 0


@dataclass(frozen=True, slots=True)
class Pattern:
    """All lines of a design.

    Parameters
    ----------
    start, end : float
        What the pattern covers, mm from the butt.
    lines : tuple of BlankLine
    marks : tuple of BlankMark
        From the butt.
    undrawn : tuple of str
        Paths of the layers that have no lines to draw.
    """

    start: float
    end: float
    lines: tuple[BlankLine, ...]
    marks: tuple[BlankMark, ...]
    undrawn: tuple[str, ...]

    @property
    def pens(self) -> tuple[Pen, ...]:
        """The pens in use, in the order of `Pen`."""
        used = {line.pen for line in self.lines}
        return tuple(pen for pen in Pen if pen in used)


def pattern_of(plan: Plan) -> Pattern:
    """Draw every layer of a design on its blank, in bench order."""
    lines: list[BlankLine] = []
    marks: list[BlankMark] = []
    undrawn: list[str] = []
    for laying in plan.layings:
        drawn = list(lines_of(laying))
        lines += drawn
        marks += marks_of(laying)
        if not drawn:
            undrawn.append(laying.path)
    marks.sort(key=lambda mark: mark.at)
    return Pattern(*plan.wound_span, tuple(lines), tuple(marks), tuple(undrawn))


@singledispatch
def lines_of(laying: Laying[Any]) -> Iterator[BlankLine]:
    """Draw one layer of a design on the blank.

    Parameters
    ----------
    laying : Laying
        Its class picks the function: ``@lines_of.register`` adds a kind of layer.

    Yields
    ------
    BlankLine
    """
    return iter(())


@singledispatch
def marks_of(laying: Laying[Any]) -> Iterator[BlankMark]:
    """Name points that are marked on the blank; register a kind of layer as for `lines_of`."""
    return iter(())


@lines_of.register
def _strip(laying: StripLaying) -> Iterator[BlankLine]:
    strip, winding, width, span = laying.layer, laying.winding, laying.width, laying.span
    for line in _yarns_across(winding, width, strip.cell, span):
        yield BlankLine(line, Pen.YARN)
    # Yarns lie a cell apart from the lower edge; the one at an edge is drawn as that edge.
    first = (width - strip.yarn_width) / 2
    for across in np.arange(strip.cell - first, width / 2 - strip.yarn_width, strip.cell):
        for line in _beside(winding, float(across), span):
            yield BlankLine(line, Pen.YARN)
    for across in (-width / 2, width / 2):
        for line in _beside(winding, float(across), span):
            yield BlankLine(line, Pen.STRIP)
    for at in span:
        yield BlankLine(ring(at), Pen.RELIEF)


@lines_of.register
def _lattice(laying: LatticeLaying) -> Iterator[BlankLine]:
    for winding, pen in zip(laying.windings, (Pen.UNDER, Pen.OVER), strict=True):
        for line in _beside(winding, 0.0, laying.span):
            yield BlankLine(line, pen)
    for at in laying.span:
        yield BlankLine(ring(at), Pen.RELIEF)


@lines_of.register
def _cover(laying: CoverLaying) -> Iterator[BlankLine]:
    for at in laying.span:
        yield BlankLine(ring(at), Pen.COVER)


@lines_of.register
def _rings(laying: RingsLaying) -> Iterator[BlankLine]:
    """Both sides of every band."""
    for at in (at for band in laying.bands.values() for at in band):
        yield BlankLine(ring(at), Pen.TRIM)


@lines_of.register
def _overlay(laying: OverlayLaying) -> Iterator[BlankLine]:
    """Its ends: drawn row by row it would be a grey field."""
    for at in laying.span:
        yield BlankLine(ring(at), Pen.COVER)


@lines_of.register
def _trim(laying: TrimLaying) -> Iterator[BlankLine]:
    offset = laying.layer.offset
    wide = sum(thread.diameter_mm for thread in laying.laid)
    for line in laying.lines:
        for beside in (offset, offset + wide):
            if isinstance(line, Ring):
                yield BlankLine(ring(line.at + line.edge.outward * beside), Pen.TRIM)
                continue
            across = line.edge.outward * (line.width / 2 + beside)
            for run in _beside(line.winding, across, laying.cut(line)):
                yield BlankLine(run, Pen.TRIM)


@lines_of.register
def _crossed(laying: CrossedLaying) -> Iterator[BlankLine]:
    """Both sides of every bundle: drawn thread by thread they would be a grey field."""
    for winding in laying.windings:
        for across in laying.sides(winding.hand):
            for line in _beside(winding, across, laying.span):
                yield BlankLine(line, Pen.OTHER)


@lines_of.register
def _decal(laying: DecalLaying) -> Iterator[BlankLine]:
    """Its edge, and its letters as they are to be read."""
    wide, high = laying.size
    yield BlankLine(_on_blank(laying.room, _rectangle(wide, high)), Pen.DECAL)
    sign = -1.0 if laying.layer.turned else 1.0
    for contour in laying.outline.contours if laying.outline else ():
        closed = np.concatenate((contour, contour[:1])) * laying.height
        flat = sign * (closed + np.array((-wide / 2, high / 2)))
        yield BlankLine(_on_blank(laying.room, flat), Pen.DECAL)


@lines_of.register
def _woven(laying: WovenLaying) -> Iterator[BlankLine]:
    """Its edge; where it closes round the blank, its two ends."""
    sized = laying.sized
    if laying.layer.closed:
        for at in laying.room.flat.reach(sized.length, sized.width):
            yield BlankLine(ring(at), Pen.OTHER)
        return
    yield BlankLine(_on_blank(laying.room, _rectangle(sized.length, sized.width)), Pen.OTHER)


def _rectangle(length: float, width: float) -> Array:
    """The edge of a rectangle about the origin, (n, 2), with points at most `_STEP` apart."""
    x, y = length / 2, width / 2
    corners = np.array(((-x, -y), (x, -y), (x, y), (-x, y), (-x, -y)))
    sides = []
    for first, last in itertools.pairwise(corners):
        count = max(2, int(np.ceil(np.hypot(*(last - first)) / _STEP)))
        sides.append(first + (last - first) * np.linspace(0, 1, count, endpoint=False)[:, None])
    return np.concatenate((*sides, corners[-1:]))


def _on_blank(room: Room, flat: Array) -> Array:
    """Points of what lies flat, as angle and z."""
    theta, z = room.flat.on_blank(flat[:, 0], flat[:, 1])
    return np.column_stack((theta, z))


@marks_of.register
def _crosses(laying: CrossedLaying) -> Iterator[BlankMark]:
    """Where bundles cross on each axis: axis and number of the cross, as on the bench sheet."""
    for axis, (theta, places) in enumerate(laying.axes(), start=1):
        turned = (theta + np.pi) % (2 * np.pi) - np.pi
        for number, at in enumerate(places.tolist(), start=1):
            yield BlankMark(turned, at, f"{axis}/{number}")


@marks_of.register
def _strip_marks(laying: StripLaying) -> Iterator[BlankMark]:
    """Where the edges cross the guide line, numbered as on the bench sheet."""
    start, end = laying.span
    table = strip_marks(laying.winding, laying.width, start, end)
    for strip, turn, *edges in zip(
        table.strip.tolist(),
        table.turn.tolist(),
        table.lower.tolist(),
        table.upper.tolist(),
        strict=True,
    ):
        number = f"{turn + 1}" if laying.winding.starts == 1 else f"{strip + 1}/{turn + 1}"
        for at, edge in zip(edges, ("lower", "upper"), strict=True):
            if start <= at <= end:
                yield BlankMark(0.0, at, f"{number} {edge}")


@marks_of.register
def _cord_ends(laying: LatticeLaying) -> Iterator[BlankMark]:
    """Where each cord begins and ends: R for right-hand, L for left-hand."""
    for row, (winding, hand) in enumerate(zip(laying.windings, "RL", strict=True), start=1):
        for at, outward in zip(laying.span, (-1, 1), strict=True):
            for number, theta in enumerate(cord_marks(winding, at).tolist(), start=1):
                turned = theta if theta <= np.pi else theta - 2 * np.pi
                yield BlankMark(turned, at, f"{hand}{number}", outward * row)


def ring(at: float) -> Array:
    """A ring round the blank, (n, 2) of angle and z."""
    theta = np.linspace(-np.pi, np.pi, _ROUND)
    return np.column_stack((theta, np.full(_ROUND, at)))


def _beside(winding: Winding, across: float, span: tuple[float, float]) -> Iterator[Array]:
    """Lines at one distance across a run's centre line, for every start, cut square to the blank.

    As in `geometry.layers.trim.StripEdge`: at the same angle round, the edge stands across /
    sin(alpha) further up than the centre line.
    """
    reach = abs(across) / float(np.sin(winding.angle.min())) + _STEP
    low, high = span[0] - reach, span[1] + reach
    first, last = winding.phase_at(np.array([low, high])).tolist()
    centre = np.union1d(
        np.append(np.arange(low, high, _STEP), high),
        winding.z_at(np.arange(first, last, _TURNED)),
    )
    z = centre + across / np.sin(winding.angle_at(centre))
    for start in range(winding.starts):
        theta = _theta(winding, centre, start)
        yield from between(np.column_stack((theta, z)), z, *span)


def _yarns_across(
    winding: Winding, width: float, cell: float, span: tuple[float, float]
) -> Iterator[Array]:
    """The yarns across a strip, one for each cell along it."""
    across = np.linspace(-width / 2, width / 2, 9)
    first, last = np.ceil(winding.length[[0, -1]] / cell).astype(int).tolist()
    along = np.arange(first, last) * cell
    # A point across the run is reached from the centre line straight up the blank, which leads
    # `across` / tan(alpha) along the run as well: the angle changes little over that way.
    angle = np.interp(along, winding.length, winding.angle)
    back = across[None, :] / np.tan(angle[:, None])
    centre = np.interp(along[:, None] - back, winding.length, winding.z)
    z = centre + across[None, :] / np.sin(winding.angle_at(centre))
    for start in range(winding.starts):
        theta = _theta(winding, centre, start)
        for one, at in zip(theta, z, strict=True):
            yield from between(np.column_stack((one, at)), at, *span)


def _theta(winding: Winding, centre: Array, start: int) -> Array:
    """Angle from the guide line at which a start's centre line is at `centre`, rad."""
    phase = winding.phase_at(centre) - 2 * np.pi * start / winding.starts
    return winding.hand.sign * phase
