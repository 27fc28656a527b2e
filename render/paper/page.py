"""Pages: how large they are, and the few marks that everything printed is made of, in mm."""

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
    "PaperSize",
    "Stroke",
    "Surround",
    "metadata",
    "new_canvas",
    "paper_of",
    "polyline",
    "text",
    "write",
]

SUFFIXES = (".pdf",)

MARGIN = 11.0
"""Kept clear at every edge of the paper, mm: office printers reach to within 5 mm (from memory)."""

BLACK, GREY = 0.0, 0.45
"""Inks, 0 black to 1 white. Grey prints as a dot screen, so hairlines are not set in it."""


class PaperSize(StrEnum):
    """Sizes of paper (ISO 216:2007; ANSI/ASME Y14.1)."""

    A4 = "A4"
    LETTER = "letter"

    @property
    def size(self) -> tuple[float, float]:
        """Width and height, mm."""
        return (210.0, 297.0) if self is PaperSize.A4 else (215.9, 279.4)


def paper_of(text: str) -> PaperSize:
    """Read a paper size; capitals do not matter.

    Raises
    ------
    RequestProblem
    """
    for paper in PaperSize:
        if paper.value.casefold() == text.strip().casefold():
            return paper
    raise RequestProblem(
        f"paper: {shown(text)} is not a paper size; give {one_of(one.value for one in PaperSize)}."
    )


@dataclass(frozen=True, slots=True)
class Stroke:
    """How a line is drawn: told apart by width and dashes, so that no colour is needed.

    Parameters
    ----------
    width : float
        mm.
    grey : float
        0 black to 1 white.
    dash : tuple of float
        Lengths of dash and space, mm; empty for a whole line.
    """

    width: float
    grey: float = BLACK
    dash: tuple[float, ...] = ()

    @classmethod
    def of(cls, trace: Trace) -> Self:
        """The stroke that leaves a trace."""
        return cls(trace.width, trace.grey, trace.dash)

    def put_on(self, canvas: Canvas) -> None:
        """Draw from here on so."""
        canvas.setStrokeGray(self.grey)
        canvas.setLineWidth(self.width * mm)
        canvas.setDash([length * mm for length in self.dash])


def new_canvas(file: BytesIO | str, paper: PaperSize, tag: Tag, what: str) -> Canvas:
    """Begin a PDF; the same drawing always makes the same bytes.

    Parameters
    ----------
    file : BytesIO or str
    paper : PaperSize
    tag : Tag
        Title and hash go into the file's own description.
    what : str
        What is printed, in a few words.
    """
    width, height = paper.size
    canvas = Canvas(file, pagesize=(width * mm, height * mm), invariant=1, pageCompression=1)
    metadata(canvas, tag, what)
    canvas.setLineCap(0)
    canvas.setLineJoin(1)
    return canvas


def metadata(canvas: Canvas, tag: Tag, what: str) -> None:
    """Describe a file: what it is, of which design."""
    canvas.setTitle(f"{tag.title} | {what}")
    canvas.setSubject(f"{what}, design {tag.design}")
    canvas.setCreator(SOFTWARE)
    canvas.setAuthor("")
    canvas.setProducer(SOFTWARE)
    canvas.setKeywords(f"design {tag.design}")
    # A true-size page must not be scaled by the viewer's own habit (ISO 32000-1:2008, 12.2).
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
    """Set one line of text and give its width, mm.

    Parameters
    ----------
    canvas : Canvas
    x, y : float
        Where its base line begins, ends (``right``) or has its middle (``middle``), mm.
    words : str
    size : float
        points.
    bold : bool
    align : str
    grey : float
    room : float, optional
        Cut it short where it is wider, mm.
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
    """Draw a line through points (n, 2), mm, with the stroke put on."""
    path = canvas.beginPath()
    first, *rest = np.asarray(points, dtype=np.float64) * mm
    path.moveTo(*first.tolist())
    for point in rest:
        path.lineTo(*point.tolist())
    canvas.drawPath(path, stroke=1, fill=0)


@dataclass(frozen=True, slots=True)
class Surround:
    """What stands round every page: whose it is, which page it is, and small print.

    Parameters
    ----------
    paper : PaperSize
    tag : Tag
    what : str
        What is printed.
    turned : bool
        Whether the paper lies on its long side.
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

    def small_print(self, canvas: Canvas, number: int, total: int, extra: Iterable[str]) -> None:
        """Set the foot of a page: page n of m on the right, small print on the left."""
        width, _ = self.size
        pages = f"page {number} of {total}"
        taken = text(canvas, width - MARGIN, MARGIN, pages, 10, bold=True, align="right")
        parts = (*extra, f"design {self.tag.design}", SOFTWARE)
        room = width - 2 * MARGIN - taken - 6
        text(canvas, MARGIN, MARGIN, "   ·   ".join(parts), 7.5, grey=0.25, room=room)


def write(data: BytesIO, file: Path) -> None:
    """Write a finished PDF; straight, see `render.common.files.replacing`."""
    file.write_bytes(data.getvalue())
