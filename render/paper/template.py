"""The true-size template: a wrap unrolled, to print, cut out and roll round the blank."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from geometry.unroll import Cone, between, cones_along, split_at_seam
from render.common.files import check_suffix, replacing
from render.common.progress import Progress
from render.common.tags import Tag
from render.paper.fonts import cap_height, missing_letters_noted, width_of, wrap_text
from render.paper.page import (
    MARGIN,
    SUFFIXES,
    PageFrame,
    PaperSize,
    Stroke,
    new_canvas,
    polyline,
    text,
    write,
)
from render.paper.template_notes import Legend, Notes
from scenes.bench.pattern import Pattern, pattern_of
from scenes.building.build import Plan
from scenes.kinds.builder import as_cut
from scenes.kinds.lines import BlankMark, Pen
from scenes.problems import at_field
from scenes.quantities import Units

__all__ = [
    "BAR",
    "BARE_ENDS",
    "OVERLAP",
    "STEPS",
    "Tile",
    "check_bars",
    "save_template",
    "tiles_of",
]

Array = NDArray[np.float64]
Box = tuple[float, float, float, float]
"""Left, bottom, right, top, mm."""

STEPS = 1
"""Steps of progress of `save_template`."""

BAR = 100.0
"""Length of the check bars, mm."""

OVERLAP = 12.0
"""Overlap of neighbouring pages, mm."""

BARE_ENDS = 6.0
"""Length of bare blank at both ends, mm, by which the paper is aligned; less before a grip."""

NOTES_WIDTH = 78.0
"""Width that the notes need beside the pattern, mm; with less they take a separate page."""

_SCALE_ROOM = 15.0
"""Space left of the pattern for the distances from the butt, mm."""

_ROUNDING = 1e-6
"""Margin around a box, mm, so that rounding does not cut a line along its edge."""

_BAR_ROOM = 9.0
_FOOT = 17.0
_GAP = 6.0

_OUTLINE = Stroke(0.2)
_GUIDE = Stroke(0.3, dash=(6.0, 1.2, 1.2, 1.2))
_REGISTER = Stroke(0.15)
_RULE = Stroke(0.25)


@dataclass(frozen=True, slots=True)
class Tile:
    """The part of a piece that one page shows.

    Parameters
    ----------
    piece : int
        Number of the piece, from 0 at the butt.
    cone : Cone
        Surface of the piece.
    box : (float, float, float, float)
        Left, bottom, right and top of the part, mm on the flat pattern.
    origin : (float, float)
        Position of the pattern's origin on the page, mm: the guide line at the piece's start.
    column, row : int
        Place of the page among those of the piece, from 0.
    columns, rows : int
        Number of pages of the piece side by side and above one another.
    """

    piece: int
    cone: Cone
    box: Box
    origin: tuple[float, float]
    column: int
    row: int
    columns: int
    rows: int


@dataclass(frozen=True, slots=True)
class _Area:
    """Area of a page that is free for a pattern: left, bottom, right, top, mm."""

    box: Box

    @property
    def width(self) -> float:
        return self.box[2] - self.box[0]

    @property
    def height(self) -> float:
        return self.box[3] - self.box[1]


def tiles_of(plan: Plan, pattern: Pattern, paper: PaperSize, head: float) -> list[Tile]:
    """Divide a pattern into pages.

    Parameters
    ----------
    plan : Plan
    pattern : Pattern
    paper : PaperSize
    head : float
        Height of the head of every page, mm.

    Returns
    -------
    list of Tile
        By pieces from the butt, each row by row.

    Raises
    ------
    DesignProblem
        If paper does not lie flat on the blank.
    """
    with at_field("blank", {"blank": "stations"}):
        cones = cones_along(plan.blank, *_ends_of_paper(plan, pattern))
    return [tile for number, cone in enumerate(cones) for tile in _tiles(number, cone, paper, head)]


def _ends_of_paper(plan: Plan, pattern: Pattern) -> tuple[float, float]:
    """Where the paper begins and ends on the rod, mm from the butt: it cannot lie over a grip."""
    low, high = pattern.start - BARE_ENDS, pattern.end + BARE_ENDS
    for first, last in (one.span for one in plan.design.blank.fitted):
        low = max(low, last) if last <= pattern.start else low
        high = min(high, first) if first >= pattern.end else high
    return low, high


def _tiles(number: int, cone: Cone, paper: PaperSize, head: float) -> Iterator[Tile]:
    width, height = paper.size
    area = _Area((MARGIN + _BAR_ROOM, MARGIN + _FOOT, width - MARGIN, height - MARGIN - head))
    outline = _outline(cone)
    low, high = outline.min(axis=0), outline.max(axis=0)
    across = _cuts(float(low[0]), float(high[0]), area.width - _SCALE_ROOM)
    along = _cuts(float(low[1]), float(high[1]), area.height)
    for row, (bottom, top) in enumerate(along):
        for column, (left, right) in enumerate(across):
            origin = area.box[0] + _SCALE_ROOM - left, area.box[3] - top
            box = left, bottom, right, top
            yield Tile(number, cone, box, origin, column, row, len(across), len(along))


def _cuts(low: float, high: float, room: float) -> list[tuple[float, float]]:
    """Divide a length into the fewest overlapping ranges of at most `room`."""
    length = high - low
    if length <= room:
        return [(low, high)]
    count = math.ceil((length - OVERLAP) / (room - OVERLAP))
    step = (length - OVERLAP) / count
    return [(low + n * step, low + (n + 1) * step + OVERLAP) for n in range(count)]


def _outline(cone: Cone) -> Array:
    """Edge of the flat paper, (n, 2) mm: from the left corner at the butt all the way round."""
    round_ = np.linspace(-np.pi, np.pi, 181)
    up = np.array([cone.start, cone.end])
    theta = np.concatenate((round_, np.full(2, np.pi), round_[::-1], np.full(2, -np.pi)))
    z = np.concatenate((np.full(181, cone.start), up, np.full(181, cone.end), up[::-1]))
    return cone.flat(theta, z)


def save_template(
    plan: Plan, path: Path, paper: PaperSize, progress: Progress | None = None
) -> int:
    """Write the template of a design as PDF.

    Parameters
    ----------
    plan : Plan
    path : Path
        A PDF file.
    paper : PaperSize
    progress : Progress, optional
        Advanced by `STEPS`.

    Returns
    -------
    int
        Number of pages.

    Raises
    ------
    RequestProblem
        If the file cannot be written.
    DesignProblem
        If the wrap cannot be wound, or the blank does not unroll.
    """
    progress = progress or Progress.none()
    check_suffix(path, SUFFIXES)
    with replacing(path) as file:
        progress.describe("lines")
        drawing = _Drawing(plan, paper)
        data = BytesIO()
        with missing_letters_noted(path, progress.note):
            pages = drawing.save(data, progress)
        write(data, file)
    return pages


class _Drawing:
    """A template being drawn."""

    def __init__(self, plan: Plan, paper: PaperSize) -> None:
        design = plan.design
        # With its strips as they are cut, so that marks agree with the bench sheet.
        plan = as_cut(plan)
        self.plan = plan
        self.paper = paper
        self.pattern = pattern_of(plan)
        self.page_frame = PageFrame(paper, Tag.of(design), "true-size template")
        width, _ = paper.size
        self.title = wrap_text(design.title, _TITLE, width - 2 * MARGIN, bold=True)
        self.head = len(self.title) * _TITLE_LINE + 2 * _LINE
        self.tiles = tiles_of(plan, self.pattern, paper, self.head)
        self.flat = [self._flattened(cone) for cone in self.cones]

    @property
    def cones(self) -> tuple[Cone, ...]:
        return tuple({tile.piece: tile.cone for tile in self.tiles}.values())

    def _flattened(self, cone: Cone) -> list[tuple[Pen, Array]]:
        """Lines of the pattern on a piece, flattened, mm."""
        return [
            (line.pen, cone.flat(sheet[:, 0], sheet[:, 1]))
            for line in self.pattern.lines
            for part in between(line.points, line.points[:, 1], cone.start, cone.end)
            for sheet in split_at_seam(part)
        ]

    def save(self, data: BytesIO, progress: Progress) -> int:
        canvas = new_canvas(data, self.paper, self.page_frame.tag, self.page_frame.what)
        strokes = [(pen.shows, Stroke.of(pen.full)) for pen in self.pattern.pens]
        shown = dict.fromkeys(mark.shows for mark in self.pattern.marks if mark.shows)
        legend = Legend(
            (
                ("guide line, with its marks", _GUIDE),
                *strokes,
                *((shows, _MARK_SAMPLE) for shows in shown),
            )
        )
        notes = Notes(self.plan, self.pattern, self.cones, legend, len(self.tiles))
        left, bottom, right, top = self._notes_box(self.tiles[0])
        apart = right - left < NOTES_WIDTH or notes.height(right - left) > top - bottom
        total = len(self.tiles) + apart
        share = 1 / total
        if apart:
            self._frame(canvas, 1, total, "read this first")
            notes.draw(canvas, self._notes_box(None))
            canvas.showPage()
            progress.advance(share)
        for number, tile in enumerate(self.tiles, start=1 + apart):
            progress.describe(f"page {number} of {total}")
            self._frame(canvas, number, total, self._part_text(tile))
            self._tile(canvas, tile)
            if number == 1:
                notes.draw(canvas, (left, bottom, right, top))
            canvas.showPage()
            progress.advance(share)
        canvas.save()
        return total

    def _part_text(self, tile: Tile) -> str:
        """The part of the pattern that a page shows, in words."""
        parts = []
        if len(self.cones) > 1:
            parts.append(f"piece {tile.piece + 1} of {len(self.cones)} from the butt")
        if tile.rows > 1:
            parts.append(f"part {tile.row + 1} of {tile.rows} up the blank")
        if tile.columns > 1:
            parts.append(f"{tile.column + 1} of {tile.columns} round it")
        return ", ".join(parts) or "all of it"

    def _notes_box(self, tile: Tile | None) -> Box:
        width, height = self.paper.size
        top = height - MARGIN - self.head
        if tile is None:
            return MARGIN + _BAR_ROOM, MARGIN + _FOOT, MARGIN + _BAR_ROOM + 120, top
        left = tile.origin[0] + tile.box[2] + _GAP
        return left, MARGIN + _FOOT, width - MARGIN, top

    def _frame(self, canvas: Canvas, number: int, total: int, which: str) -> None:
        """Draw title, check bars and footer of a page."""
        width, height = self.paper.size
        y = height - MARGIN
        for line in self.title:
            y -= _TITLE_LINE
            text(canvas, MARGIN, y + 1.6, line, _TITLE, bold=True)
        y -= _LINE
        heading = f"True-size template, {which}"
        text(canvas, MARGIN, y + 1.6, heading, _TEXT, room=0.62 * (width - 2 * MARGIN))
        scale = "Print at 100 %, no fit to page"
        text(canvas, width - MARGIN, y + 1.6, scale, _TEXT, bold=True, align="right")
        check_bars(canvas, self.paper)
        self.page_frame.draw_footer(canvas, number, total, ())

    def _tile(self, canvas: Canvas, tile: Tile) -> None:
        shift = np.asarray(tile.origin)
        canvas.saveState()
        _OUTLINE.apply_to(canvas)
        for part in _inside(_outline(tile.cone), tile.box):
            polyline(canvas, part + shift)
        for pen, flat in self.flat[tile.piece]:
            Stroke.of(pen.full).apply_to(canvas)
            for part in _inside(flat, tile.box):
                polyline(canvas, part + shift)
        _GUIDE.apply_to(canvas)
        guide = tile.cone.flat(0.0, np.array([tile.cone.start, tile.cone.end]))
        for part in _inside(guide, tile.box):
            polyline(canvas, part + shift)
        canvas.restoreState()
        self._marks(canvas, tile)
        self._scale(canvas, tile)
        _registers(canvas, tile)

    def _marks(self, canvas: Canvas, tile: Tile) -> None:
        """Draw the marks and their names: on the guide line, and at the ends of cords."""
        high = cap_height(_MARK) + 0.8
        placed = [
            (mark, *(flat + np.asarray(tile.origin)).tolist())
            for mark in self.pattern.marks
            for flat in (tile.cone.flat(mark.theta, mark.at),)
            if tile.cone.start <= mark.at <= tile.cone.end and _contains(tile.box, flat)
        ]
        _RULE.apply_to(canvas)
        # No name covers the tick of another mark.
        taken: list[Array] = []
        for mark, x, y in placed:
            if mark.row == 0:
                polyline(canvas, ((x - _TICK, y), (x + _TICK, y)))
                taken.append(np.array((x - _TICK, y - 0.15, x + _TICK, y + 0.15)))
            else:
                polyline(canvas, ((x, y), (x, y + math.copysign(0.8, mark.row))))
        for mark, x, y in placed:
            wide = width_of(mark.name, _MARK, bold=True) + 0.8
            boxes = (
                np.array((*at, at[0] + wide, at[1] + high)) for at in _places(mark, x, y, wide)
            )
            # What hangs over an edge of the paper is cut off.
            sides = [tile.cone.flat(turn, mark.at)[0] + tile.origin[0] for turn in (-np.pi, np.pi)]
            box = next(
                (
                    box
                    for box in boxes
                    if (mark.row or sides[0] < box[0] < box[2] < sides[1])
                    and not any(_overlap(box, other) for other in taken)
                ),
                None,
            )
            if box is None:
                continue
            taken.append(box)
            left, bottom = box[:2].tolist()
            canvas.setFillGray(1)
            canvas.rect(left * mm, bottom * mm, wide * mm, high * mm, stroke=0, fill=1)
            text(canvas, left + 0.4, bottom + 0.4, mark.name, _MARK, bold=True)

    def _scale(self, canvas: Canvas, tile: Tile) -> None:
        """Draw distances from the butt along the left edge of the paper."""
        if tile.column:
            return
        units = self.plan.design.units
        # Distance between ticks in these units, and number of ticks between labels.
        step, each = (5.0, 2) if units is Units.MM else (0.125, 4)
        _REGISTER.apply_to(canvas)
        first = math.ceil(tile.cone.start / units.in_mm / step)
        last = math.floor(tile.cone.end / units.in_mm / step)
        for number in range(first, last + 1):
            flat = tile.cone.flat(-np.pi, number * step * units.in_mm)
            if not tile.box[1] <= flat[1] <= tile.box[3]:
                continue
            x, y = (flat + np.asarray(tile.origin)).tolist()
            named = number % each == 0
            polyline(canvas, ((x - (3.0 if named else 1.5), y), (x, y)))
            if named:
                label = f"{number * step:g}"
                text(canvas, x - 3.6, y - cap_height(8) / 2, label, 8, align="right")


def _places(mark: BlankMark, x: float, y: float, wide: float) -> Iterator[tuple[float, float]]:
    """Yield places for the lower left corner of a mark's name, mm, the best first.

    Beside the point: right, left, above, below, then further out as far as the mark is still seen
    to be meant. A name with a row has one place.
    """
    high = cap_height(_MARK) + 0.8
    if mark.row:
        outward = math.copysign(1.0, mark.row)
        yield (
            x - wide / 2,
            y + mark.row * high - (high if outward > 0 else 0.0) + outward,
        )
        return
    for out in np.arange(0.0, _FARTHEST_NAME, 0.5).tolist():
        for rise in (0.0, out, -out) if out else (0.0,):
            yield x + _TICK + 0.4 + out / 2, y - high / 2 + rise
            yield x - _TICK - 0.4 - out / 2 - wide, y - high / 2 + rise
        for aside in (0.0, 0.8, -0.8):
            yield x - wide / 2 + aside, y + 0.3 + out
            yield x - wide / 2 + aside, y - 0.3 - out - high


def _contains(box: Box, point: Array) -> bool:
    x, y = point.tolist()
    return box[0] <= x <= box[2] and box[1] <= y <= box[3]


def _overlap(first: Array, second: Array) -> bool:
    return bool((first[:2] < second[2:]).all() and (second[:2] < first[2:]).all())


def _inside(flat: Array, box: Box) -> Iterator[Array]:
    left, bottom, right, top = np.array(box) + _ROUNDING * np.array((-1, -1, 1, 1))
    for part in between(flat, flat[:, 0], left, right):
        yield from between(part, part[:, 1], bottom, top)


_TITLE, _TITLE_LINE = 13.0, 5.8
_TEXT, _LINE = 10.0, 5.0
_MARK = 6.5
_TICK = 1.6
"""Half the length of a mark's tick, mm."""

_FARTHEST_NAME = 4.0
"""Farthest that a name is moved from its mark to stand free of others, mm."""

_MARK_SAMPLE = Stroke(0.25, dash=(2 * _TICK, 40.0))
"""One tick, for the legend."""


def check_bars(canvas: Canvas, paper: PaperSize) -> None:
    """Draw both check bars: 100 mm along the bottom and along the left side.

    Parameters
    ----------
    canvas : Canvas
    paper : PaperSize
    """
    x, y = MARGIN + _BAR_ROOM, MARGIN + 9.0
    _RULE.apply_to(canvas)
    for along, beside in (((1.0, 0.0), (0.0, 1.0)), ((0.0, 1.0), (-1.0, 0.0))):
        start = np.array((x, y)) if along[0] else np.array((MARGIN + 3.0, MARGIN + _FOOT + 2.0))
        run, side = np.array(along), np.array(beside)
        polyline(canvas, np.stack((start, start + BAR * run)))
        for ten in range(11):
            tick = 2.4 if ten % 5 == 0 else 1.3
            at = start + 10 * ten * run
            polyline(canvas, np.stack((at, at + tick * side)))
    text(canvas, x + BAR + 3, y - 0.3, "100 mm: measure this bar and the one at the side", 9)
    canvas.saveState()
    canvas.translate((MARGIN + 3.0 + 3.6) * mm, (MARGIN + _FOOT + 2.0) * mm)
    canvas.rotate(90)
    text(canvas, BAR / 2, 0, "100 mm", 9, align="middle")
    canvas.restoreState()


def _registers(canvas: Canvas, tile: Tile) -> None:
    """Draw register marks in the middle of each overlap; they coincide when pages are joined."""
    left, bottom, right, top = tile.box
    places: list[tuple[float, float, str]] = []
    for row, y in ((tile.row, bottom + OVERLAP / 2), (tile.row + 1, top - OVERLAP / 2)):
        if 0 < row < tile.rows:
            places += [(x, y, _letter(row)) for x in (left + 4, right - 4)]
    for column, x in ((tile.column, left + OVERLAP / 2), (tile.column + 1, right - OVERLAP / 2)):
        if 0 < column < tile.columns:
            places += [(x, y, _letter(column, "α")) for y in (bottom + 16, top - 16)]
    for x, y, name in places:
        at = np.array((x, y)) + np.asarray(tile.origin)
        _REGISTER.apply_to(canvas)
        for arm in np.array(((3.0, 0.0), (0.0, 3.0))):
            polyline(canvas, np.stack((at - arm, at + arm)))
        x, y = at.tolist()
        canvas.circle(x * mm, y * mm, 1.6 * mm, stroke=1, fill=0)
        text(canvas, x + 1.2, y + 1.6, name, 8, bold=True)


def _letter(number: int, first: str = "A") -> str:
    return chr(ord(first) + (number - 1) % 24)
