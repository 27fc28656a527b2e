"""What the bench sheet is set in: sizes, paragraphs, headings, boxes to tick and swatches."""

from collections.abc import Iterable

from reportlab.lib.colors import Color, HexColor
from reportlab.lib.enums import TA_LEFT, TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Paragraph, Spacer, Table, TableStyle

from render.paper.fonts import face, markup
from scenes.figures.figures import Figure, Mark
from scenes.figures.formatter import FigureFormatter

__all__ = [
    "BARE",
    "BODY",
    "CELLS",
    "DESK",
    "HAIR",
    "LABEL",
    "PAD",
    "SIGNS",
    "SLACK",
    "SMALL",
    "TABLE",
    "TICK",
    "Swatch",
    "TickBox",
    "heading",
    "marked",
    "paragraph",
    "signs",
    "value_of",
]

BODY = 11.0
"""Size of what is read at the bench, points.

At arm's length, 640 mm, its small letters stand 10 minutes of arc high, twice what an eye of 20/20
just tells apart (ISO 8596:2017: 5 minutes). Fluent reading needs about twice the threshold, an
acuity reserve of 2 to 1 (Whittaker & Lovie-Kitchin 1993, "Visual requirements for reading", Optom.
Vis. Sci. 70, 54).
"""

DESK = 9.0
"""Size of what is read at a desk, at two thirds of an arm's length, points."""

SMALL = 8.0
"""Size of small print, points: how a figure was got."""

LABEL = 10.0
"""Size of what names a figure or a column, points."""

TABLE = 10.0
"""Size of tables, points: a figure is as tall as a capital, 12 minutes of arc at arm's length."""

PAD = 1.3
"""White on either side of a cell, mm."""

SLACK = 0.1
"""Added to a width that just holds a word, mm, so that rounding does not break it."""

SIGNS = {Mark.DEFAULT: "†", Mark.PRACTICE: "‡", Mark.MEMORY: "§"}
"""What stands after a figure that should be trusted less."""

HAIR = Color(0.72, 0.72, 0.72)
"""Colour of the lines between rows."""


TICK = 6.5
"""Width of the column of tick boxes, mm."""


CELLS = [
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LEFTPADDING", (0, 0), (0, -1), 0),
    ("LEFTPADDING", (1, 0), (-1, -1), PAD * mm),
    ("RIGHTPADDING", (0, 0), (-2, -1), PAD * mm),
    ("RIGHTPADDING", (-1, 0), (-1, -1), 0),
    ("TOPPADDING", (0, 0), (-1, -1), 0.8),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 2.2),
]
"""Style of a table whose outer edges are flush with the text above it."""


BARE = [
    ("LEFTPADDING", (0, 0), (-1, -1), 0),
    ("RIGHTPADDING", (0, 0), (-1, -1), 0),
    ("TOPPADDING", (0, 0), (-1, -1), 0),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
]
"""Style of a table that only puts things side by side."""


def paragraph(
    words: str, size: float = BODY, *, bold: bool = False, right: bool = False
) -> Paragraph:
    """Set words as a paragraph; they are taken as they are, signs and all."""
    return marked(markup(words, bold), size, right=right)


def marked(words: str, size: float, *, right: bool = False) -> Paragraph:
    """Set words as a paragraph whose signs are marked up already (`render.paper.fonts.markup`)."""
    style = ParagraphStyle(
        f"{size} {right}",
        fontName=face(),
        fontSize=size,
        leading=1.24 * size,
        splitLongWords=1,
        alignment=TA_RIGHT if right else TA_LEFT,
    )
    return Paragraph(words, style)


def heading(words: str, size: float = BODY) -> list[Flowable]:
    """Head a block whose words are of `size` points: bold, over a rule."""
    words = words[:1].upper() + words[1:]
    head = Table(
        [[paragraph(words, 1.18 * size, bold=True)]],
        style=TableStyle(
            [
                ("LINEBELOW", (0, 0), (-1, -1), 0.9, Color(0, 0, 0)),
                ("LEFTPADDING", (0, 0), (-1, -1), 0),
                ("RIGHTPADDING", (0, 0), (-1, -1), 0),
                ("TOPPADDING", (0, 0), (-1, -1), 0),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
            ]
        ),
    )
    white = Spacer(1, 1.2 * mm)
    head.keepWithNext = white.keepWithNext = True
    return [head, white]


class TickBox(Flowable):
    """An empty square to tick with a pencil."""

    def __init__(self, side: float = 3.4) -> None:
        super().__init__()
        self.width = self.height = side * mm

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        """Take its own size."""
        return self.width, self.height

    def draw(self) -> None:
        """Draw it."""
        self.canv.setStrokeGray(0)
        self.canv.setLineWidth(0.7)
        self.canv.rect(0, 0, self.width, self.height, stroke=1, fill=0)


class Swatch(Flowable):
    """A thread's colour, in a black frame; its name stands beside it for those who print in grey.

    Parameters
    ----------
    colour : str
        sRGB, ``#rrggbb``.
    """

    def __init__(self, colour: str) -> None:
        super().__init__()
        self.colour = colour
        self.width, self.height = 9 * mm, 3.6 * mm

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        """Take its own size."""
        self.width = min(9 * mm, available_width)
        return self.width, self.height

    def draw(self) -> None:
        """Draw it."""
        self.canv.setStrokeGray(0)
        self.canv.setLineWidth(0.5)
        self.canv.setFillColor(HexColor(self.colour))
        self.canv.rect(0, 0, self.width, self.height, stroke=1, fill=1)


def signs(marks: Iterable[Mark]) -> str:
    """Write the signs of some marks."""
    return "".join(SIGNS[mark] for mark in marks)


def value_of(figure: Figure, written: FigureFormatter) -> str:
    """Write a figure with its unit, how far it may be off, and its signs."""
    return f"{written.figure(figure)} {signs(figure.marks)}".rstrip()
