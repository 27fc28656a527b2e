"""Pages: paper sizes, strokes, text and lines, all in mm."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from io import BytesIO
from pathlib import Path
from typing import Self

import numpy as np
from numpy.typing import NDArray
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from render.common.problems import RequestProblem
from render.common.tags import SOFTWARE, Tag
from render.paper.fonts import runs, shortened, width_of
from scenes.kinds.lines import Trace
from scenes.problems import one_of, shown

__all__ = [
    "BLACK",
    "GREY",
    "MARGIN",
    "SUFFIXES",
    "PageFrame",
    "PaperSize",
    "Stroke",
    "new_canvas",
    "paper_of",
    "polyline",
    "set_metadata",
    "text",
    "write",
]

SUFFIXES = (".pdf",)

MARGIN = 11.0
"""Margin at every edge of the paper, mm: office printers need about 5 mm (from memory)."""

BLACK, GREY = 0.0, 0.45
"""Inks, 0 black to 1 white. Grey prints as a dot screen, so it is not used for hairlines."""


class PaperSize(StrEnum):
    """Sizes of paper [ISO216], [ASMEY14-1]."""

    A4 = "A4"
    LETTER = "letter"

    @property
    def size(self) -> tuple[float, float]:
        """Width and height, mm."""
        return (210.0, 297.0) if self is PaperSize.A4 else (215.9, 279.4)


def paper_of(text: str) -> PaperSize:
    """Read a paper size; case is ignored.

    Parameters
    ----------
    text : str

    Raises
    ------
    RequestProblem
        If there is no such size.
    """
    for paper in PaperSize:
        if paper.value.casefold() == text.strip().casefold():
            return paper
    raise RequestProblem(
        f"paper: {shown(text)} is not a paper size; give {one_of(size for size in PaperSize)}."
    )


@dataclass(frozen=True, slots=True)
class Stroke:
    """Style of a line; lines differ by width and dashes, so that no colour is needed.

    Parameters
    ----------
    width : float
        Line width, mm.
    grey : float
        0 black to 1 white.
    dash : tuple of float
        Lengths of dashes and gaps, mm; empty for a solid line.
    """

    width: float
    grey: float = BLACK
    dash: tuple[float, ...] = ()

    @classmethod
    def of(cls, trace: Trace) -> Self:
        """The stroke that draws a trace.

        Parameters
        ----------
        trace : Trace
        """
        return cls(trace.width, trace.grey, trace.dash)

    def apply_to(self, canvas: Canvas) -> None:
        """Use this stroke for all lines from here on.

        Parameters
        ----------
        canvas : Canvas
        """
        canvas.setStrokeGray(self.grey)
        canvas.setLineWidth(self.width * mm)
        canvas.setDash([length * mm for length in self.dash])


def new_canvas(file: BytesIO | str, paper: PaperSize, tag: Tag, what: str) -> Canvas:
    """Begin a PDF; equal drawings give equal bytes.

    Parameters
    ----------
    file : BytesIO or str
    paper : PaperSize
    tag : Tag
        Its title and hash go into the metadata.
    what : str
        Description of the contents, in a few words.
    """
    width, height = paper.size
    canvas = Canvas(file, pagesize=(width * mm, height * mm), invariant=1, pageCompression=1)
    set_metadata(canvas, tag, what)
    canvas.setLineCap(0)
    canvas.setLineJoin(1)
    return canvas


def set_metadata(canvas: Canvas, tag: Tag, what: str) -> None:
    """Write the metadata of a PDF: contents, title and hash of the design.

    Parameters
    ----------
    canvas : Canvas
    tag : Tag
    what : str
        Description of the contents, in a few words.
    """
    canvas.setTitle(f"{tag.title} | {what}")
    canvas.setSubject(f"{what}, design {tag.design}")
    canvas.setCreator(SOFTWARE)
    canvas.setAuthor("")
    canvas.setProducer(SOFTWARE)
    canvas.setKeywords(f"design {tag.design}")
    # Viewers must not scale a true-size page when they print it [ISO32000-1], section 12.2.
    canvas.setViewerPreference("PrintScaling", "None")


def text(
    canvas: Canvas,
    x: float,
    y: float,
    words: str,
    size: float,
    *,
    bold: bool = False,
    align: str = "left",
    grey: float = BLACK,
    room: float | None = None,
) -> float:
    """Draw one line of text and return its width, mm.

    Parameters
    ----------
    canvas : Canvas
    x, y : float
        Position of the base line, mm.
    words : str
    size : float
        Type size, points.
    bold : bool
    align : str
        Point of the base line at `x`: ``left``, ``middle`` or ``right``.
    grey : float
        0 black to 1 white.
    room : float, optional
        Maximum width, mm; a longer text ends in an ellipsis.
    """
    words = words if room is None else shortened(words, size, room, bold)
    wide = width_of(words, size, bold)
    x -= {"left": 0.0, "middle": wide / 2, "right": wide}[align]
    canvas.setFillGray(grey)
    line = canvas.beginText(x * mm, y * mm)
    for name, part in runs(words, bold):
        line.setFont(name, size)
        line.textOut(part)
    canvas.drawText(line)
    return wide


def polyline(canvas: Canvas, points: NDArray[np.float64] | Sequence[Sequence[float]]) -> None:
    """Draw a line through points with the present stroke.

    Parameters
    ----------
    canvas : Canvas
    points : (n, 2) float
        mm.
    """
    path = canvas.beginPath()
    first, *rest = np.asarray(points, dtype=np.float64) * mm
    path.moveTo(*first.tolist())
    for point in rest:
        path.lineTo(*point.tolist())
    canvas.drawPath(path, stroke=1, fill=0)


@dataclass(frozen=True, slots=True)
class PageFrame:
    """Paper, orientation and footer of the pages of a document.

    Parameters
    ----------
    paper : PaperSize
    tag : Tag
    what : str
        Description of the contents.
    turned : bool
        Whether the page is landscape.
    """

    paper: PaperSize
    tag: Tag
    what: str
    turned: bool = False

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of the page, mm."""
        width, height = self.paper.size
        return (height, width) if self.turned else (width, height)

    def draw_footer(self, canvas: Canvas, number: int, total: int, extra: Iterable[str]) -> None:
        """Draw the footer of a page: page n of m on the right, small print on the left.

        Parameters
        ----------
        canvas : Canvas
        number : int
            Page, from 1.
        total : int
            Number of pages.
        extra : iterable of str
            First parts of the small print.
        """
        width, _ = self.size
        pages = f"page {number} of {total}"
        taken = text(canvas, width - MARGIN, MARGIN, pages, 10, bold=True, align="right")
        parts = (*extra, f"design {self.tag.design}", SOFTWARE)
        room = width - 2 * MARGIN - taken - 6
        text(canvas, MARGIN, MARGIN, "   ·   ".join(parts), 7.5, grey=0.25, room=room)


def write(data: BytesIO, file: Path) -> None:
    """Write a finished PDF in place; `render.common.files.replacing` gives a temporary file.

    Parameters
    ----------
    data : BytesIO
        The PDF.
    file : Path
    """
    file.write_bytes(data.getvalue())
