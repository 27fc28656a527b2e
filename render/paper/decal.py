"""Decals at true size, to print: upright, and mirrored beside it."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from io import BytesIO
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from reportlab.lib.colors import Color
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from materials.colour import parse_hex
from render.common.files import check_suffix, replacing
from render.common.problems import RequestProblem
from render.common.progress import Progress
from render.common.tags import Tag
from render.paper.fonts import missing_letters_noted
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
from render.paper.template import check_bars
from scenes.building.build import Plan
from scenes.kinds.builder import Printed
from scenes.problems import printable
from scenes.quantities import Units, about

__all__ = ["OVERLAP", "STEPS", "save_decals"]

STEPS = 1
"""Steps of progress of `save_decals`."""

OVERLAP = 6.0
"""Overlap of two pieces of a long decal, mm."""

_EDGE = 2.0
"""Margin of clear film around a decal, mm."""

_BESIDE = 5.0
"""Gap between the two views of a decal, mm, wide enough for scissors."""

_ABOVE, _BELOW = 10.0, 3.0
"""Space above a row of frames, for its words, and below it, mm."""

_BAR_ROOM, _FOOT, _HEAD = 9.0, 17.0, 22.0
_CUT = Stroke(0.12, dash=(1.2, 1.2))
_HAIRLINE = 0.06
"""Outline around pale letters, mm: white paper does not show them, and foil is cut along it."""

_PALE = 0.72
"""Luma above which an ink is pale."""


@dataclass(frozen=True, slots=True)
class _Decal:
    """The decal of one layer.

    Parameters
    ----------
    path : str
        Path of the layer in the design.
    printed : Printed
    units : Units
        Units of the design.
    """

    path: str
    printed: Printed
    units: Units


@dataclass(frozen=True, slots=True)
class _Piece:
    """The part of a decal that one frame on paper shows, upright or mirrored.

    Parameters
    ----------
    decal : _Decal
    mirrored : bool
    first, last : float
        Ends of the part, mm from the left edge of the decal.
    number, total : int
        Number of the part, from 1, and of all parts.
    """

    decal: _Decal
    mirrored: bool
    first: float
    last: float
    number: int
    total: int

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of the frame with its margin, mm."""
        return self.last - self.first + 2 * _EDGE, self.decal.printed.size[1] + 2 * _EDGE


@dataclass(frozen=True, slots=True)
class _Row:
    """Frames side by side, and the orientation of their page.

    Parameters
    ----------
    pieces : tuple of _Piece
        Both views of one decal, or a part of one view.
    turned : bool
        Whether the page is landscape.
    """

    pieces: tuple[_Piece, ...]
    turned: bool

    @property
    def tall(self) -> float:
        """Height with its words, mm."""
        return self.pieces[0].size[1] + _ABOVE + _BELOW

    @property
    def words(self) -> tuple[str, str]:
        """Two lines of text: the decal, and its views."""
        first, decal = self.pieces[0], self.pieces[0].decal
        title = printable(decal.printed.title, 40)
        size = " by ".join(about(side, decal.units) for side in decal.printed.size)
        if len(self.pieces) == 2:
            view = "left as it is read, right mirrored, to print on the back"
        elif first.mirrored:
            view = "mirrored, to print on the back"
        else:
            view = "as it is read; both do not fit side by side, so mirrored it follows"
        part = f", part {first.number} of {first.total}" if first.total > 1 else ""
        return f"{decal.path}: {title}, {size}", f"{view}{part}"


def save_decals(plan: Plan, path: Path, paper: PaperSize, progress: Progress | None = None) -> int:
    """Write every decal of a design at its true size as PDF.

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
        If the design has no decal, or the file cannot be written.
    DesignProblem
        If a picture or font cannot be read, or a decal does not fit on the wrap.
    """
    progress = progress or Progress.none()
    check_suffix(path, SUFFIXES)
    printed = [(builder.path, builder.printed()) for builder in plan.builders]
    decals = [_Decal(path, art, plan.design.units) for path, art in printed if art is not None]
    if not decals:
        raise RequestProblem("decal: this design has no decal; add one with turnlight add.")
    with replacing(path) as file:
        progress.describe("decals")
        data = BytesIO()
        with missing_letters_noted(path, progress.note):
            pages = _draw(plan, decals, data, paper)
        write(data, file)
        progress.advance()
    return pages


def _draw(plan: Plan, decals: list[_Decal], data: BytesIO, paper: PaperSize) -> int:
    page_frame = PageFrame(paper, Tag.of(plan.design), "decals at true size")
    pages: list[tuple[PageFrame, list[tuple[_Row, float]]]] = []
    y = 0.0
    for row in (row for decal in decals for row in _rows(decal, page_frame)):
        if not pages or pages[-1][0].turned != row.turned or y - row.tall < MARGIN + _FOOT:
            pages.append((replace(page_frame, turned=row.turned), []))
            y = pages[-1][0].size[1] - MARGIN - _HEAD
        pages[-1][1].append((row, y))
        y -= row.tall
    canvas = new_canvas(data, paper, page_frame.tag, page_frame.what)
    for number, (page, rows) in enumerate(pages, start=1):
        wide, high = page.size
        canvas.setPageSize((wide * mm, high * mm))
        _head(canvas, plan, page)
        for row, at in rows:
            _row(canvas, row, MARGIN + _BAR_ROOM, at, _room(page))
        check_bars(canvas, paper)
        page.draw_footer(canvas, number, len(pages), ())
        canvas.showPage()
    canvas.save()
    return len(pages)


def _room(page: PageFrame) -> float:
    """Width of a page that is free for frames, mm."""
    return page.size[0] - 2 * MARGIN - _BAR_ROOM


def _rows(decal: _Decal, upright: PageFrame) -> Iterator[_Row]:
    """Both views side by side if a portrait or landscape page is wide enough, else in turn."""
    wide = decal.printed.size[0]
    ways = ((False, _room(upright)), (True, _room(replace(upright, turned=True))))
    both = tuple(_Piece(decal, mirrored, 0.0, wide, 1, 1) for mirrored in (False, True))
    framed = both[0].size[0]
    for turned, room in ways:
        if 2 * framed + _BESIDE <= room:
            yield _Row(both, turned)
            return
    turned, room = next((way for way in ways if framed <= way[1]), ways[0])
    for piece in _pieces(decal, room):
        yield _Row((piece,), turned)


def _pieces(decal: _Decal, room: float) -> Iterator[_Piece]:
    """Each view of a decal in as few parts of at most `room` mm as possible."""
    wide = decal.printed.size[0]
    shown = room - 2 * _EDGE
    count = 1 if wide <= shown else int(np.ceil((wide - OVERLAP) / (shown - OVERLAP)))
    step = (wide - OVERLAP) / count
    for mirrored in (False, True):
        for number in range(count):
            first = 0.0 if count == 1 else number * step
            last = wide if count == 1 else (number + 1) * step + OVERLAP
            yield _Piece(decal, mirrored, first, last, number + 1, count)


def _head(canvas: Canvas, plan: Plan, page: PageFrame) -> None:
    width, height = page.size
    y = height - MARGIN - 5.8
    text(canvas, MARGIN, y, plan.design.title, 13, bold=True, room=width - 2 * MARGIN)
    text(canvas, MARGIN, y - 6, "Decals laid flat, at true size", 10)
    right = width - MARGIN
    text(canvas, right, y - 6, "Print at 100 %, no fit to page", 10, bold=True, align="right")


def _row(canvas: Canvas, row: _Row, x: float, y: float, room: float) -> None:
    """Draw a row with its upper left corner at x, y, mm: its text above its frames."""
    for line, words in enumerate(row.words, start=1):
        text(canvas, x, y - 4.0 * line, words, 9, room=room)
    for piece in row.pieces:
        _piece(canvas, piece, x, y - _ABOVE)
        x += piece.size[0] + _BESIDE


def _piece(canvas: Canvas, piece: _Piece, x: float, y: float) -> None:
    """Draw one frame with its upper left corner at x, y, mm."""
    printed = piece.decal.printed
    wide, high = piece.size
    bottom = y - high
    corners = ((x, bottom), (x + wide, bottom), (x + wide, bottom + high), (x, bottom + high))
    _CUT.apply_to(canvas)
    polyline(canvas, (*corners, corners[0]))
    canvas.saveState()
    frame = canvas.beginPath()
    frame.rect(x * mm, bottom * mm, wide * mm, high * mm)
    canvas.clipPath(frame, stroke=0, fill=0)
    # From here on in mm, with the origin in the upper left corner of the decal, y up.
    canvas.translate((x + _EDGE) * mm, (bottom + high - _EDGE) * mm)
    canvas.scale(mm, mm)
    if piece.mirrored:
        canvas.translate(piece.last - piece.first, 0)
        canvas.scale(-1, 1)
    canvas.translate(-piece.first, 0)
    if printed.pixels is None:
        _letters(canvas, printed)
    else:
        _picture(canvas, printed.pixels, printed.size)
    canvas.restoreState()


def _letters(canvas: Canvas, printed: Printed) -> None:
    """Fill the letters, and outline them if the ink is pale."""
    ink = parse_hex(printed.ink)
    path = canvas.beginPath()
    for contour in printed.contours:
        first, *rest = contour.tolist()
        path.moveTo(*first)
        for point in rest:
            path.lineTo(*point)
        path.close()
    canvas.setFillColor(Color(*ink.tolist()))
    pale = float(ink @ (0.2126, 0.7152, 0.0722)) > _PALE
    canvas.setDash([])
    canvas.setLineWidth(_HAIRLINE)
    canvas.drawPath(path, stroke=int(pale), fill=1, fillMode=1)


def _picture(canvas: Canvas, pixels: NDArray[np.uint8], size: tuple[float, float]) -> None:
    wide, high = size
    picture = ImageReader(Image.fromarray(pixels))
    canvas.drawImage(picture, 0, -high, wide, high, mask="auto")
