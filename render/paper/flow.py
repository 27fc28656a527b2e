"""Page layout: blocks flow down the pages, across the whole width or in two columns.

The parts of a block are flowables of the PDF library, which measure, split and draw themselves;
this module only places them. A short block stays whole. A long one is split where it can be split,
and its heading is never left alone. Nothing is clipped or runs off a page.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

__all__ = ["Block", "Flow"]

_GUTTER = 8.0
"""Gap between the columns, mm."""

_TOLERANCE = 0.01
"""Tolerance of a measured height, points; invisible."""

_SPLIT_ABOVE = 0.5
"""Share of a page above which a block may be split; shorter blocks are kept whole."""

_MAX_EMPTY = 0.25
"""Maximum share of a page that is left empty to keep a block whole."""

_BISECTIONS = 14
"""Bisection steps to find the least height at which two columns hold everything."""


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """Flowables that belong together, such as a heading and its table.

    Parameters
    ----------
    parts : sequence of Flowable
    above : float
        Space above it, unless it is the first on a page, mm.
    """

    parts: Sequence[Flowable]
    above: float = 4.5


@dataclass(slots=True)
class _Placed:
    part: Flowable
    column: int
    top: float
    height: float


@dataclass(slots=True)
class Flow:
    """A document whose blocks flow from page to page.

    Parameters
    ----------
    canvas : Canvas
    begin_page : callable
        Draws the frame of a new page, and returns its free area: left, bottom, right and top, mm.
    pages : int
        Number of pages so far.
    """

    canvas: Canvas
    begin_page: Callable[[], tuple[float, float, float, float]]
    pages: int = 0
    _heights: dict[tuple[int, float], float] = field(init=False, default_factory=dict)
    _kept: list[Flowable] = field(init=False, default_factory=list)
    _left: float = field(init=False, default=0.0)
    _right: float = field(init=False, default=0.0)
    _bottom: float = field(init=False, default=0.0)
    _top: float = field(init=False, default=0.0)
    _y: float = field(init=False, default=0.0)

    def __post_init__(self) -> None:
        """Begin the first page."""
        self._new_page()

    @property
    def column_width(self) -> float:
        """Width of one of two columns, mm."""
        return (self._right - self._left - _GUTTER * mm) / 2 / mm

    @property
    def full_width(self) -> float:
        """Width of the page between its margins, mm."""
        return (self._right - self._left) / mm

    def finish(self) -> None:
        """End the last page."""
        self.canvas.showPage()

    def full(self, block: Block, below: float = 0.0) -> None:
        """Put a block across the whole width.

        Parameters
        ----------
        block : Block
        below : float
            Space that must be free below it, mm, for what follows a heading; otherwise the block
            begins a new page.
        """
        whole = self.full_width * mm
        high = sum(self._height(part, whole, self._top) for part in block.parts)
        if below and self._y - self._bottom - high - block.above * mm < below * mm:
            self.new_page()
        self._flow([block], 1)

    def columns(self, blocks: Sequence[Block], head: Block | None = None) -> None:
        """Put blocks in two columns of about equal height, the left one first.

        Parameters
        ----------
        blocks : sequence of Block
        head : Block, optional
            A block across the whole width above them, on the same page as the first of them.
        """
        listed = list(blocks)
        if head is not None and listed:
            whole = self.full_width * mm
            high = sum(self._height(part, whole, self._top) for part in head.parts)
            room = self._y - self._bottom - high - head.above * mm
            if not self._fill(listed, self.column_width * mm, room, 2)[0]:
                self.new_page()
            self.full(head)
        self._flow(listed, 2)

    def new_page(self) -> None:
        """Begin a new page, unless the present one is empty."""
        if self._y < self._top:
            self._new_page()

    def _new_page(self) -> None:
        if self.pages:
            self.canvas.showPage()
        self.pages += 1
        left, bottom, right, top = (edge * mm for edge in self.begin_page())
        self._left, self._bottom, self._right, self._top, self._y = left, bottom, right, top, top

    def _flow(self, blocks: list[Block], count: int) -> None:
        while blocks:
            width = (self.full_width if count == 1 else self.column_width) * mm
            room = self._y - self._bottom
            placed, rest = self._fill(blocks, width, room, count)
            if not rest:
                # Everything fits here: balance the columns.
                placed, rest = self._balanced(blocks, width, room, count)
            elif not placed:
                if self._y >= self._top:
                    raise ValueError("a part of the page is taller than a page")
                self._new_page()
                continue
            self._draw(placed, width)
            blocks = rest
            if blocks:
                self._new_page()

    def _balanced(
        self, blocks: list[Block], width: float, room: float, count: int
    ) -> tuple[list[_Placed], list[Block]]:
        low, high = 0.0, room
        if count > 1:
            for _ in range(_BISECTIONS):
                middle = (low + high) / 2
                if self._fill(blocks, width, middle, count, split=False)[1]:
                    low = middle
                else:
                    high = middle
        placed, rest = self._fill(blocks, width, high, count, split=False)
        return (placed, rest) if not rest else self._fill(blocks, width, room, count)

    def _fill(
        self, blocks: list[Block], width: float, room: float, count: int, *, split: bool = True
    ) -> tuple[list[_Placed], list[Block]]:
        """Place what fits into `room` points of height; return the rest too."""
        placed: list[_Placed] = []
        page = self._top - self._bottom
        column, used = 0, 0.0
        queue = list(blocks)
        while queue:
            block = queue[0]
            above = _above(block, used, self._y >= self._top)
            heights = [self._height(part, width, page) for part in block.parts]
            if used + above + sum(heights) <= room + _TOLERANCE:
                used += above
                for part, height in zip(block.parts, heights, strict=True):
                    placed.append(_Placed(part, column, used, height))
                    used += height
                queue.pop(0)
                continue
            spare = count == 1 and room - used > _MAX_EMPTY * page
            if split and (spare or sum(heights) > _SPLIT_ABOVE * page):
                some, rest = _split(block, heights, width, room - used - above)
                used += above
                for part, height in some:
                    placed.append(_Placed(part, column, used, height))
                    used += height
                queue[0] = rest
            if column + 1 >= count:
                return placed, queue
            column, used = column + 1, 0.0
        return placed, queue

    def _height(self, part: Flowable, width: float, room: float) -> float:
        """Measure a part once for each width; a reference keeps its `id` unique."""
        key = id(part), width
        if key not in self._heights:
            self._kept.append(part)
            self._heights[key] = _height(part, width, room)
        return self._heights[key]

    def _draw(self, placed: Sequence[_Placed], width: float) -> None:
        for item in placed:
            x = self._left + item.column * (width + _GUTTER * mm)
            item.part.drawOn(self.canvas, x, self._y - item.top - item.height)
        self._y -= max((item.top + item.height for item in placed), default=0.0)


def _above(block: Block, used: float, page_top: bool) -> float:
    return 0.0 if page_top and used == 0 else block.above * mm


def _height(part: Flowable, width: float, room: float) -> float:
    _, height = part.wrap(width, room)
    return float(height)


def _split(
    block: Block, heights: Sequence[float], width: float, room: float
) -> tuple[list[tuple[Flowable, float]], Block]:
    """Split a block into what fits into `room` points, and a block of the rest."""
    some: list[tuple[Flowable, float]] = []
    rest: list[Flowable] = []
    for number, (part, height) in enumerate(zip(block.parts, heights, strict=True)):
        if height <= room + _TOLERANCE:
            some.append((part, height))
            room -= height
            continue
        pieces = list(_pieces(part, width, room))
        if len(pieces) > 1:
            some.append((pieces[0], _height(pieces[0], width, room)))
            rest = pieces[1:]
        else:
            rest = [part]
        rest += block.parts[number + 1 :]
        break
    while some and getattr(some[-1][0], "keepWithNext", False):
        part, _ = some.pop()
        rest.insert(0, part)
    return some, Block(rest, block.above)


def _pieces(part: Flowable, width: float, room: float) -> Iterator[Flowable]:
    if room > 0:
        yield from part.split(width, room)
