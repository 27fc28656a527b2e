"""Typography of the bench sheet: sizes, paragraphs, headings, tick boxes and swatches."""

from collections.abc import Iterable

from reportlab.lib.colors import Color, HexColor
from reportlab.lib.enums import TA_LEFT, TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Paragraph, Spacer, Table, TableStyle

from render.paper.fonts import font_name, markup
from scenes.figures.figures import Figure, Mark
from scenes.figures.formatter import FigureFormatter

__all__ = [
    "BODY",
    "DESK",
    "FLUSH",
    "FLUSH_CELLS",
    "LABEL",
    "PAD",
    "RULE_COLOUR",
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
"""Type size of text that is read at the bench, points.

At arm's length, 640 mm, its small letters are 10 minutes of arc high, twice the acuity limit of
20/20, 5 minutes [ISO8596]. Fluent reading needs about twice the threshold, an acuity reserve of 2
to 1 [Whittaker1993].
"""

DESK = 9.0
"""Type size of text that is read at a desk, at two thirds of arm's length, points."""

SMALL = 8.0
"""Type size of small print, which says how figures were computed, points."""

LABEL = 10.0
"""Type size of names of figures and columns, points."""

TABLE = 10.0
"""Type size of tables, points: digits are 12 minutes of arc high at arm's length."""

PAD = 1.3
"""Padding on either side of a cell, mm."""

SLACK = 0.1
"""Added to the width of a word, mm, so that rounding does not break it."""

SIGNS = {Mark.DEFAULT: "†", Mark.PRACTICE: "‡", Mark.MEMORY: "§", Mark.ASSUMED: "¶"}
"""Signs after figures that are less certain."""

RULE_COLOUR = Color(0.72, 0.72, 0.72)
"""Colour of the lines between rows."""


TICK = 6.5
"""Width of the column of tick boxes, mm."""


FLUSH_CELLS = [
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LEFTPADDING", (0, 0), (0, -1), 0),
    ("LEFTPADDING", (1, 0), (-1, -1), PAD * mm),
    ("RIGHTPADDING", (0, 0), (-2, -1), PAD * mm),
    ("RIGHTPADDING", (-1, 0), (-1, -1), 0),
    ("TOPPADDING", (0, 0), (-1, -1), 0.8),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 2.2),
]
"""Style of a table whose outer edges align with the text above it."""


FLUSH = [
    ("LEFTPADDING", (0, 0), (-1, -1), 0),
    ("RIGHTPADDING", (0, 0), (-1, -1), 0),
    ("TOPPADDING", (0, 0), (-1, -1), 0),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
]
"""Style of a table without padding, which only places parts side by side."""


def paragraph(
    words: str, size: float = BODY, *, bold: bool = False, right: bool = False
) -> Paragraph:
    """Paragraph of plain text.

    Parameters
    ----------
    words : str
    size : float, optional
        Points.
    bold : bool, optional
    right : bool, optional
        Whether it is aligned right.
    """
    return marked(markup(words, bold), size, right=right)


def marked(words: str, size: float, *, right: bool = False) -> Paragraph:
    """Paragraph of text with markup (`render.paper.fonts.markup`).

    Parameters
    ----------
    words : str
        With markup.
    size : float
        Points.
    right : bool, optional
        Whether it is aligned right.
    """
    style = ParagraphStyle(
        f"{size} {right}",
        fontName=font_name(),
        fontSize=size,
        leading=1.24 * size,
        splitLongWords=1,
        alignment=TA_RIGHT if right else TA_LEFT,
    )
    return Paragraph(words, style)


def heading(words: str, size: float = BODY) -> list[Flowable]:
    """Heading of a block: bold, above a rule.

    Parameters
    ----------
    words : str
    size : float, optional
        Type size of the text below it, points.
    """
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
    """An empty square to tick with a pencil.

    Parameters
    ----------
    side : float
        mm.
    """

    def __init__(self, side: float = 3.4) -> None:
        super().__init__()
        self.width = self.height = side * mm

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        """Take its own size.

        Parameters
        ----------
        available_width, available_height : float
            Points.
        """
        return self.width, self.height

    def draw(self) -> None:
        """Draw it."""
        self.canv.setStrokeGray(0)
        self.canv.setLineWidth(0.7)
        self.canv.rect(0, 0, self.width, self.height, stroke=1, fill=0)


class Swatch(Flowable):
    """A thread's colour in a black frame; its name is beside it, for prints in grey.

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
        """Take its own size.

        Parameters
        ----------
        available_width, available_height : float
            Points.
        """
        self.width = min(9 * mm, available_width)
        return self.width, self.height

    def draw(self) -> None:
        """Draw it."""
        self.canv.setStrokeGray(0)
        self.canv.setLineWidth(0.5)
        self.canv.setFillColor(HexColor(self.colour))
        self.canv.rect(0, 0, self.width, self.height, stroke=1, fill=1)


def signs(marks: Iterable[Mark]) -> str:
    """Signs of some marks.

    Parameters
    ----------
    marks : iterable of Mark
    """
    return "".join(SIGNS[mark] for mark in marks)


def value_of(figure: Figure, written: FigureFormatter) -> str:
    """A figure with its unit, uncertainty and signs.

    Parameters
    ----------
    figure : Figure
    written : FigureFormatter
        Writes figures in the units of the design.
    """
    return f"{written.figure(figure)} {signs(figure.marks)}".rstrip()
