"""Tables of the bench sheet, fitted to a column or to the page."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from reportlab.lib.colors import Color
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Table, TableStyle

from render.paper.fonts import clean, width_of
from render.paper.typography import (
    BODY,
    FLUSH_CELLS,
    LABEL,
    PAD,
    RULE_COLOUR,
    SLACK,
    TABLE,
    TICK,
    Swatch,
    TickBox,
    paragraph,
    signs,
    value_of,
)
from scenes.figures.figures import Cell, Figure
from scenes.figures.figures import Table as BenchTable
from scenes.figures.formatter import FigureFormatter

__all__ = ["SheetTable", "TableLayout", "TextTable", "figure_list", "fit_table"]

_MAX_ADDED_WIDTH = 7.0
"""Maximum width that is added to a column if there is room, mm."""

_MIN_WORD_WIDTH = 12.0
"""Minimum width of a column whose words are broken anywhere, mm."""

_CROWDED = 1.2
"""A table wider than a page column by more than this factor takes the whole page width."""

_COLOUR = "colour"
"""Key of a table's column of colours."""


def figure_list(
    figures: Sequence[Figure], written: FigureFormatter, width: float, size: float = BODY
) -> Table:
    """Table of figures, one a line: name on the left, value on the right.

    Parameters
    ----------
    figures : sequence of Figure
    written : FigureFormatter
    width : float
        mm.
    size : float, optional
        Type size, points.
    """
    values = [value_of(figure, written) for figure in figures]
    wide = max(width_of(value, size, bold=True) for value in values) + 2 * PAD + SLACK
    wide = min(wide, 0.6 * width)
    rows = [
        [paragraph(figure.name, size), paragraph(value, size, bold=True, right=True)]
        for figure, value in zip(figures, values, strict=True)
    ]
    style = TableStyle([*FLUSH_CELLS, ("LINEBELOW", (0, 0), (-1, -1), 0.3, RULE_COLOUR)])
    return Table(rows, colWidths=[(width - wide) * mm, wide * mm], style=style)


@dataclass(frozen=True, slots=True)
class TableLayout:
    """Type size and column widths of a table.

    Parameters
    ----------
    size : float
        Type size, points.
    widths : tuple of float
        Width of each column, mm.
    """

    size: float
    widths: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class TextTable:
    """Texts of a table.

    Parameters
    ----------
    heads : sequence of str
        Headings of the columns.
    rows : sequence of sequence of str
        Texts of the cells.
    broken : sequence of bool
        Whether the cells of each column may be broken into lines: words may, numbers may not.
    """

    heads: Sequence[str]
    rows: Sequence[Sequence[str]]
    broken: Sequence[bool]

    def least(self, size: float) -> list[float]:
        """Minimum width of each column, with all possible line breaks, mm.

        Parameters
        ----------
        size : float
            Type size, points.
        """
        return [
            max(
                _longest_word(head, min(size, LABEL), bold=True),
                max((measure(cell, size) for cell in cells), default=0.0),
            )
            + 2 * PAD
            + SLACK
            for head, measure, cells in self._columns()
        ]

    def natural(self, size: float) -> list[float]:
        """Width of each column with unbroken cells and a heading of at most two lines, mm.

        Parameters
        ----------
        size : float
            Type size, points.
        """
        return [
            max(
                _over_two(head, min(size, LABEL)),
                max((width_of(cell, size) for cell in cells), default=0.0),
            )
            + 2 * PAD
            + SLACK
            for head, _, cells in self._columns()
        ]

    def _columns(self) -> Iterator[tuple[str, Callable[[str, float], float], list[str]]]:
        for number, head in enumerate(self.heads):
            measure = _longest_word if self.broken[number] else width_of
            yield head, measure, [row[number] for row in self.rows]


def fit_table(words: TextTable, room: float, largest: float = TABLE) -> TableLayout:
    """Choose the type size and column widths of a table.

    The size is the first of 1, 0.9 and 0.8 times `largest` that fits. If none fits, the columns
    share the room and words break anywhere.

    Parameters
    ----------
    words : TextTable
    room : float
        Available width, mm.
    largest : float, optional
        Largest type size, points.
    """
    for size in (largest, 0.9 * largest, 0.8 * largest):
        least, natural = words.least(size), words.natural(size)
        if sum(natural) <= room:
            spare = min((room - sum(natural)) / len(natural), _MAX_ADDED_WIDTH)
            return TableLayout(size, tuple(width + spare for width in natural))
        if sum(least) <= room:
            give = (room - sum(least)) / (sum(natural) - sum(least))
            pairs = zip(least, natural, strict=True)
            return TableLayout(size, tuple(a + give * (b - a) for a, b in pairs))
    # Words break anywhere; numbers stay whole as long as words keep their minimum width.
    whole = sum(width for width, broken in zip(least, words.broken, strict=True) if not broken)
    if words.broken.count(True) * _MIN_WORD_WIDTH > room - whole:
        return TableLayout(size, tuple(width * room / sum(least) for width in least))
    share = (room - whole) / (sum(least) - whole)
    pairs = zip(least, words.broken, strict=True)
    return TableLayout(size, tuple(width * share if broken else width for width, broken in pairs))


def _longest_word(text: str, size: float, bold: bool = False) -> float:
    return max((width_of(word, size, bold) for word in clean(text).split(" ")), default=0.0)


def _over_two(head: str, size: float) -> float:
    """Minimum width at which a heading takes at most two lines, mm."""
    words = clean(head).split(" ")
    breaks = ((words[:n], words[n:]) for n in range(1, len(words) + 1))
    return min(max(width_of(" ".join(line), size, bold=True) for line in lines) for lines in breaks)


class SheetTable:
    """A table of the bench figures on the sheet, without its empty columns.

    Parameters
    ----------
    table : BenchTable
    written : FigureFormatter
    ticked : bool
        Whether each row has a tick box.
    size : float
        Type size of the text around it, points.
    """

    def __init__(
        self, table: BenchTable, written: FigureFormatter, ticked: bool, size: float
    ) -> None:
        used = [
            number
            for number, _ in enumerate(table.columns)
            if any(row[number] not in (None, "") for row in table.rows)
        ]
        self.columns = [table.columns[number] for number in used]
        self.heads = [
            _with_joined_unit(f"{written.heading(column)} {signs(column.marks)}")
            for column in self.columns
        ]
        self.values: list[list[Cell]] = [[row[number] for number in used] for row in table.rows]
        self.rows = [
            [
                "\u2003\u2003" if column.key == _COLOUR else written.cell(column, cell)
                for column, cell in zip(self.columns, row, strict=True)
            ]
            for row in self.values
        ]
        # A row with a tick box is read alone, so it keeps its first cell.
        if self.rows and self.columns[0].kind is None and not ticked:
            self.rows = list(_without_repeats(self.rows))
        self.words = TextTable(
            self.heads, self.rows, [column.kind is None for column in self.columns]
        )
        self.tick = TICK if ticked else 0.0
        self.size = min(size, TABLE)
        self.name = table.name

    def needs_full_width(self, column: float) -> bool:
        """Whether the table is too crowded in a page column.

        Parameters
        ----------
        column : float
            Width of the page column, mm.
        """
        room = column - self.tick
        least, natural = (
            sum(widths(self.size)) for widths in (self.words.least, self.words.natural)
        )
        return least > room or natural > _CROWDED * room

    def title(self, wanted: bool) -> list[Flowable]:
        """Title of the table, if it is wanted.

        Parameters
        ----------
        wanted : bool
        """
        words = self.name[:1].upper() + self.name[1:]
        if not wanted:
            return []
        label = paragraph(words, min(BODY, 1.1 * self.size), bold=True)
        label.keepWithNext = True
        return [label]

    def flowable(self, room: float) -> Table:
        """Make the table for an available width.

        Parameters
        ----------
        room : float
            mm.
        """
        fitting = fit_table(self.words, room - self.tick, self.size)
        rows = []
        for values, texts in zip(self.values, self.rows, strict=True):
            cells = [self._cell(n, values[n], texts[n], fitting.size) for n in range(len(texts))]
            rows.append([*([TickBox()] if self.tick else []), *cells])
        heads = [
            paragraph(head, min(fitting.size, LABEL), bold=True, right=not broken)
            for head, broken in zip(self.heads, self.words.broken, strict=True)
        ]
        widths = [*([self.tick] if self.tick else []), *fitting.widths]
        return Table(
            [[*([""] if self.tick else []), *heads], *rows],
            colWidths=[width * mm for width in widths],
            repeatRows=1,
            hAlign="LEFT",
            style=TableStyle(
                [
                    *FLUSH_CELLS,
                    ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
                    ("LINEBELOW", (0, 0), (-1, 0), 0.6, Color(0, 0, 0)),
                    ("LINEBELOW", (0, 1), (-1, -1), 0.3, RULE_COLOUR),
                ]
            ),
        )

    def _cell(self, number: int, value: Cell, words: str, size: float) -> Flowable:
        if self.columns[number].key == _COLOUR and isinstance(value, str) and value:
            return Swatch(value)
        return paragraph(words, size, right=not self.words.broken[number])


def _without_repeats(rows: Sequence[list[str]]) -> Iterator[list[str]]:
    """Empty the first cell of each row where it repeats that of the row above."""
    last = None
    for first, *others in rows:
        yield ["" if first == last else first, *others]
        last = first


def _with_joined_unit(head: str) -> str:
    """Join unit and sign at the end of a heading to the word before, by no-break spaces."""
    name, comma, unit = head.strip().rpartition(", ")
    tail = (unit if comma else head.strip()).replace(" ", "\u00a0")
    return f"{name},\u00a0{tail}" if comma and len(unit) < _MAX_JOINED else head.strip()


_MAX_JOINED = 9
"""Length of unit and signs, characters, from which they may stand on a line of their own."""
