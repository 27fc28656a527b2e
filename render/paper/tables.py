"""Tables of the bench sheet, made to fit a column or the page."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from reportlab.lib.colors import Color
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Table, TableStyle

from render.paper.fonts import clean, width_of
from render.paper.setting import (
    BODY,
    CELLS,
    HAIR,
    LABEL,
    PAD,
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

__all__ = ["BenchCells", "Fitting", "Words", "list_of", "table_fitting"]

_LOOSEST = 7.0
"""Most that a column is widened by where there is room, mm."""

_NARROWEST = 12.0
"""Least width of a column of words that must be broken anywhere, mm."""

_CROWDED = 1.2
"""How much more than a column's width a table may need, before it takes the page's."""

_COLOUR = "colour"
"""Key of a column that holds colours."""


def list_of(
    figures: Sequence[Figure], written: FigureFormatter, width: float, size: float = BODY
) -> Table:
    """List figures, a line for each: name on the left, value on the right."""
    values = [value_of(figure, written) for figure in figures]
    wide = max(width_of(value, size, bold=True) for value in values) + 2 * PAD + SLACK
    wide = min(wide, 0.6 * width)
    rows = [
        [paragraph(figure.name, size), paragraph(value, size, bold=True, right=True)]
        for figure, value in zip(figures, values, strict=True)
    ]
    style = TableStyle([*CELLS, ("LINEBELOW", (0, 0), (-1, -1), 0.3, HAIR)])
    return Table(rows, colWidths=[(width - wide) * mm, wide * mm], style=style)


@dataclass(frozen=True, slots=True)
class Fitting:
    """A table made to fit.

    Parameters
    ----------
    size : float
        points.
    widths : tuple of float
        Of each column, mm.
    """

    size: float
    widths: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Words:
    """A table as words.

    Parameters
    ----------
    heads : sequence of str
    rows : sequence of sequence of str
    broken : sequence of bool
        Whether a column's cells may be broken into lines: words may, numbers not.
    """

    heads: Sequence[str]
    rows: Sequence[Sequence[str]]
    broken: Sequence[bool]

    def least(self, size: float) -> list[float]:
        """Width of each column with every line broken that may be, mm."""
        return [
            max(
                _longest(head, min(size, LABEL), bold=True),
                max((measure(cell, size) for cell in cells), default=0.0),
            )
            + 2 * PAD
            + SLACK
            for head, measure, cells in self._columns()
        ]

    def natural(self, size: float) -> list[float]:
        """Width of each column with no cell broken, and a heading over two lines, mm."""
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
            measure = _longest if self.broken[number] else width_of
            yield head, measure, [row[number] for row in self.rows]


def table_fitting(words: Words, room: float, largest: float = TABLE) -> Fitting:
    """Choose the size of a table and the width of its columns, for `room` mm.

    The first of three sizes that fits, the `largest` in points and the others 9 and 8 tenths of it.
    Should even the least size not fit, the columns share the room and words break anywhere.
    """
    for size in (largest, 0.9 * largest, 0.8 * largest):
        least, natural = words.least(size), words.natural(size)
        if sum(natural) <= room:
            spare = min((room - sum(natural)) / len(natural), _LOOSEST)
            return Fitting(size, tuple(one + spare for one in natural))
        if sum(least) <= room:
            give = (room - sum(least)) / (sum(natural) - sum(least))
            pairs = zip(least, natural, strict=True)
            return Fitting(size, tuple(a + give * (b - a) for a, b in pairs))
    # Words break anywhere; numbers are kept whole as long as words still have something.
    whole = sum(one for one, broken in zip(least, words.broken, strict=True) if not broken)
    if words.broken.count(True) * _NARROWEST > room - whole:
        return Fitting(size, tuple(one * room / sum(least) for one in least))
    share = (room - whole) / (sum(least) - whole)
    pairs = zip(least, words.broken, strict=True)
    return Fitting(size, tuple(one * share if broken else one for one, broken in pairs))


def _longest(text: str, size: float, bold: bool = False) -> float:
    return max((width_of(word, size, bold) for word in clean(text).split(" ")), default=0.0)


def _over_two(head: str, size: float) -> float:
    """Least width in which a heading takes two lines, mm."""
    words = clean(head).split(" ")
    breaks = ((words[:n], words[n:]) for n in range(1, len(words) + 1))
    return min(max(width_of(" ".join(line), size, bold=True) for line in lines) for lines in breaks)


class BenchCells:
    """A table of the bench as words: what it has nothing to say in is left out."""

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
            _kept_together(f"{written.heading(column)} {signs(column.marks)}")
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
        if self.rows and self.columns[0].kind is None:
            self.rows = list(_said_once(self.rows))
        self.words = Words(self.heads, self.rows, [column.kind is None for column in self.columns])
        self.tick = TICK if ticked else 0.0
        self.size = min(size, TABLE)
        self.name = table.name

    def wide(self, column: float) -> bool:
        """Whether it is crowded in a column, `column` mm wide."""
        room = column - self.tick
        least, natural = (sum(of(self.size)) for of in (self.words.least, self.words.natural))
        return least > room or natural > _CROWDED * room

    def named(self, wanted: bool) -> list[Flowable]:
        """Its name, where it is wanted."""
        words = self.name[:1].upper() + self.name[1:]
        if not wanted:
            return []
        named = paragraph(words, min(BODY, 1.1 * self.size), bold=True)
        named.keepWithNext = True
        return [named]

    def made(self, room: float) -> Table:
        """Make the table for `room` mm."""
        fitting = table_fitting(self.words, room - self.tick, self.size)
        rows = []
        for values, told in zip(self.values, self.rows, strict=True):
            cells = [self._cell(n, values[n], told[n], fitting.size) for n in range(len(told))]
            rows.append([*([TickBox()] if self.tick else []), *cells])
        heads = [
            paragraph(head, min(fitting.size, LABEL), bold=True, right=not broken)
            for head, broken in zip(self.heads, self.words.broken, strict=True)
        ]
        widths = [*([self.tick] if self.tick else []), *fitting.widths]
        return Table(
            [[*([""] if self.tick else []), *heads], *rows],
            colWidths=[one * mm for one in widths],
            repeatRows=1,
            hAlign="LEFT",
            style=TableStyle(
                [
                    *CELLS,
                    ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
                    ("LINEBELOW", (0, 0), (-1, 0), 0.6, Color(0, 0, 0)),
                    ("LINEBELOW", (0, 1), (-1, -1), 0.3, HAIR),
                ]
            ),
        )

    def _cell(self, number: int, value: Cell, told: str, size: float) -> Flowable:
        if self.columns[number].key == _COLOUR and isinstance(value, str) and value:
            return Swatch(value)
        return paragraph(told, size, right=not self.words.broken[number])


def _said_once(rows: Sequence[list[str]]) -> Iterator[list[str]]:
    """Leave the first cell empty where it is that of the row above."""
    last = None
    for first, *others in rows:
        yield ["" if first == last else first, *others]
        last = first


def _kept_together(head: str) -> str:
    """Keep the unit and the sign at a heading's end with the word before them."""
    name, comma, unit = head.strip().rpartition(", ")
    tail = (unit if comma else head.strip()).replace(" ", "\u00a0")
    return f"{name},\u00a0{tail}" if comma and len(unit) < _LONGEST_UNIT else head.strip()


_LONGEST_UNIT = 9
"""Letters of a unit and its signs that are kept with the word before them."""
