"""Decals to print at true size: as they are read, and mirrored beside that."""

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
from render.paper.page import (
    MARGIN,
    SUFFIXES,
    PaperSize,
    Stroke,
    Surround,
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
"""Steps of progress that the pages take."""

OVERLAP = 6.0
"""What two pieces of a long decal both show, mm."""

_EDGE = 2.0
"""Clear film kept round a decal, mm."""

_BESIDE = 5.0
"""Between the two views of a decal, mm: scissors pass there."""

_ABOVE, _BELOW = 10.0, 3.0
"""Room for the words over a row of frames, and under it, mm."""

_BAR_ROOM, _FOOT, _HEAD = 9.0, 17.0, 22.0
_CUT = Stroke(0.12, dash=(1.2, 1.2))
_HAIRLINE = 0.06
"""Round pale letters, mm: paper would not show them, and foil is cut along it."""

_PALE = 0.72
"""Luma above which ink is pale."""


@dataclass(frozen=True, slots=True)
class _Decal:
    """What is printed of one layer.

    Parameters
    ----------
    path : str
        Of the layer.
    printed : Printed
    units : Units
        Of the design.
    """

    path: str
    printed: Printed
    units: Units


@dataclass(frozen=True, slots=True)
class _Piece:
    """A part of one decal, as read or mirrored: what a frame on paper shows.

    Parameters
    ----------
    decal : _Decal
    mirrored : bool
    first, last : float
        mm from its left edge.
    number, total : int
    """

    decal: _Decal
    mirrored: bool
    first: float
    last: float
    number: int
    total: int

    @property
    def size(self) -> tuple[float, float]:
        """Of the frame, with its clear edge, mm."""
        return self.last - self.first + 2 * _EDGE, self.decal.printed.size[1] + 2 * _EDGE


@dataclass(frozen=True, slots=True)
class _Row:
    """Frames beside one another, and whether the paper lies on its long side for them.

    Parameters
    ----------
    pieces : tuple of _Piece
        Of one decal: both views of it, or one.
    turned : bool
    """

    pieces: tuple[_Piece, ...]
    turned: bool

    @property
    def tall(self) -> float:
        """With its words, mm."""
        return self.pieces[0].size[1] + _ABOVE + _BELOW

    @property
    def words(self) -> tuple[str, str]:
        """Which decal it is, and which views of it."""
        first, decal = self.pieces[0], self.pieces[0].decal
        called = printable(decal.printed.title, 40)
        size = " by ".join(about(one, decal.units) for one in decal.printed.size)
        if len(self.pieces) == 2:
            way = "left as it is read, right mirrored, to print on the back"
        elif first.mirrored:
            way = "mirrored, to print on the back"
        else:
            way = "as it is read; both do not fit side by side, so mirrored it follows"
        part = f", part {first.number} of {first.total}" if first.total > 1 else ""
        return f"{decal.path}: {called}, {size}", f"{way}{part}"


def save_decals(plan: Plan, path: Path, paper: PaperSize, progress: Progress | None = None) -> int:
    """Draw every decal of a design at its true size and write the pages.

    Parameters
    ----------
    plan : Plan
    path : Path
        A PDF file.
    paper : PaperSize
    progress : Progress, optional

    Returns
    -------
    int
        Pages.

    Raises
    ------
    RequestProblem
        If the design has no decal, or the file cannot be written.
    DesignProblem
        If a picture or font cannot be read, or a decal has no room on the wrap.
    """
    progress = progress or Progress.none()
    check_suffix(path, SUFFIXES)
    printed = [(one.path, one.printed()) for one in plan.builders]
    decals = [_Decal(path, one, plan.design.units) for path, one in printed if one is not None]
    if not decals:
        raise RequestProblem("decal: this design has no decal; add one with turnlight add.")
    with replacing(path) as file:
        progress.say("decals")
        data = BytesIO()
        pages = _draw(plan, decals, data, paper)
        write(data, file)
        progress.advance()
    return pages


def _draw(plan: Plan, decals: list[_Decal], data: BytesIO, paper: PaperSize) -> int:
    surround = Surround(paper, Tag.of(plan.design), "decals at true size")
    pages: list[tuple[Surround, list[tuple[_Row, float]]]] = []
    y = 0.0
    for row in (row for decal in decals for row in _rows(decal, surround)):
        if not pages or pages[-1][0].turned != row.turned or y - row.tall < MARGIN + _FOOT:
            pages.append((replace(surround, turned=row.turned), []))
            y = pages[-1][0].size[1] - MARGIN - _HEAD
        pages[-1][1].append((row, y))
        y -= row.tall
    canvas = new_canvas(data, paper, surround.tag, surround.what)
    for number, (page, rows) in enumerate(pages, start=1):
        wide, high = page.size
        canvas.setPageSize((wide * mm, high * mm))
        _head(canvas, plan, page)
        for row, at in rows:
            _row(canvas, row, MARGIN + _BAR_ROOM, at, _room(page))
        check_bars(canvas, paper)
        page.small_print(canvas, number, len(pages), ())
        canvas.showPage()
    canvas.save()
    return len(pages)


def _room(page: Surround) -> float:
    """Width of a page that frames may take, mm."""
    return page.size[0] - 2 * MARGIN - _BAR_ROOM


def _rows(decal: _Decal, upright: Surround) -> Iterator[_Row]:
    """Both views side by side if the paper is wide enough, upright or turned; else in turn."""
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
    """Each view of a decal in as few parts as the room takes."""
    wide = decal.printed.size[0]
    shown = room - 2 * _EDGE
    count = 1 if wide <= shown else int(np.ceil((wide - OVERLAP) / (shown - OVERLAP)))
    step = (wide - OVERLAP) / count
    for mirrored in (False, True):
        for number in range(count):
            first = 0.0 if count == 1 else number * step
            last = wide if count == 1 else (number + 1) * step + OVERLAP
            yield _Piece(decal, mirrored, first, last, number + 1, count)


def _head(canvas: Canvas, plan: Plan, page: Surround) -> None:
    width, height = page.size
    y = height - MARGIN - 5.8
    text(canvas, MARGIN, y, plan.design.title, 13, bold=True, room=width - 2 * MARGIN)
    text(canvas, MARGIN, y - 6, "Decals laid flat, at true size", 10)
    right = width - MARGIN
    text(canvas, right, y - 6, "Print at 100 %, no fit to page", 10, bold=True, align="right")


def _row(canvas: Canvas, row: _Row, x: float, y: float, room: float) -> None:
    """Draw a row with its upper left corner at x, y, mm: its words, and its frames below them."""
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
    _CUT.put_on(canvas)
    polyline(canvas, (*corners, corners[0]))
    canvas.saveState()
    frame = canvas.beginPath()
    frame.rect(x * mm, bottom * mm, wide * mm, high * mm)
    canvas.clipPath(frame, stroke=0, fill=0)
    # From here on mm, the origin on the decal's own upper left corner, y up.
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
    """Fill the outlines, and draw a hairline round them if the ink is pale."""
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
