"""Blocks of the bench sheet: the figures read first, sections, steps, and how it was all got."""

import math
from collections.abc import Sequence

from reportlab.lib.colors import Color
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Spacer, Table, TableStyle

from render.paper.flow import Block
from render.paper.fonts import fitted, markup
from render.paper.setting import (
    BARE,
    BODY,
    LABEL,
    SIGNS,
    SMALL,
    TICK,
    TickBox,
    heading,
    marked,
    paragraph,
    value_of,
)
from render.paper.tables import BenchCells, list_of
from scenes.figures.figures import Figure, Mark, Section, Sentence, Step
from scenes.figures.formatter import FigureFormatter

__all__ = [
    "boxed",
    "glance_block",
    "how_blocks",
    "section_blocks",
    "signs_of",
    "step_block",
]

_MAIN = 16.0
"""Size of the figures that are read first, points."""


def glance_block(figures: Sequence[Figure], written: FigureFormatter, width: float) -> Block:
    """Put the figures that are read first side by side, large, over `width` mm."""
    across = math.ceil(len(figures) / math.ceil(len(figures) / 4))
    values = [value_of(figure, written) for figure in figures]
    size = min(fitted(one, _MAIN, width / across - 4.0, BODY, bold=True) for one in values)
    cells: list[list[Flowable]] = [
        [
            paragraph(figure.name, LABEL),
            paragraph(value, size, bold=True),
        ]
        for figure, value in zip(figures, values, strict=True)
    ]
    rows = [cells[n : n + across] for n in range(0, len(cells), across)]
    rows[-1] += [[] for _ in range(across - len(rows[-1]))]
    style = TableStyle(
        [
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LEFTPADDING", (0, 0), (-1, -1), 5),
            ("RIGHTPADDING", (0, 0), (-1, -1), 3),
            ("TOPPADDING", (0, 0), (-1, -1), 0),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 4),
            ("LINEBEFORE", (0, 0), (-1, -1), 0.9, Color(0, 0, 0)),
        ]
    )
    return Block([Table(rows, colWidths=[width / across * mm] * across, style=style)])


def section_blocks(
    section: Section,
    written: FigureFormatter,
    widths: tuple[float, float],
    *,
    ticked: bool = False,
    size: float = BODY,
) -> list[tuple[Block, bool]]:
    """Set one section of what the bench is told.

    Parameters
    ----------
    section : Section
    written : FigureFormatter
    widths : (float, float)
        Of a column and of the whole page, mm.
    ticked : bool
        Whether its tables have boxes to tick.
    size : float
        Of its words, points.

    Returns
    -------
    list of (Block, bool)
        In order, each with whether it takes the whole width: what fits a column comes first, for
        it goes beside whatever else does.
    """
    tables = [table for table in section.tables if table.rows]
    cells = [BenchCells(one, written, ticked and one.key not in _UNTICKED, size) for one in tables]
    narrow, wide = widths
    head = heading(section.key.value, size)
    columns: list[list[Flowable]] = []
    if section.figures:
        columns.append([list_of(section.figures, written, narrow, size)])
    for one in cells:
        if not one.wide(narrow):
            columns.append([*one.named(len(tables) > 1), one.made(narrow)])
    notes = _spaced([paragraph(written.sentence(note), size) for note in section.notes])
    across = not columns and bool(cells)
    if notes and section.figures:
        columns[0] += [Spacer(1, 1.6 * mm), *notes]
    elif notes and not across:
        columns.append(notes)
    blocks: list[tuple[Block, bool]] = []
    for parts in columns:
        blocks.append((Block([*head, *parts], _CLOSE if blocks else _ABOVE), False))
        head = []
    for one in cells:
        if one.wide(narrow):
            parts = [*head, *one.named(not head or len(tables) > 1), one.made(wide)]
            blocks.append((Block(parts, _ABOVE if head else _CLOSE), True))
            head = []
    if notes and across:
        blocks.append((Block(notes, _CLOSE / 2), True))
    return blocks


def _spaced(parts: Sequence[Flowable]) -> list[Flowable]:
    """Put a little white between paragraphs."""
    return [one for part in parts for one in (Spacer(1, 1.2 * mm), part)][1:]


_ABOVE = 4.5
"""White above a section, mm."""

_CLOSE = 3.0
"""White between the parts of a section, mm."""

_UNTICKED = frozenset({"drift"})
"""Tables that nobody works through, among those of sections that are worked through."""


def step_block(number: int, step: Step, written: FigureFormatter, width: float) -> Block:
    """Set one step of the order of work, with its box, its check and its caution."""
    parts: list[Flowable] = [
        marked(markup(f"{number}  {step.title}", bold=True), BODY),
        paragraph(written.sentence(step.work)),
    ]
    for label, words in (
        ("Check", written.sentence(step.check) if step.check else ""),
        ("Care", step.caution or ""),
    ):
        if words:
            parts.append(marked(f"{markup(f'{label}: ', bold=True)} {markup(words)}", BODY))
    table = Table(
        [[TickBox(), parts]],
        colWidths=[TICK * mm, (width - TICK) * mm],
        style=TableStyle([*BARE, ("TOPPADDING", (0, 0), (0, 0), 1.6)]),
    )
    return Block([table], 2.4)


def boxed(
    label: str, sentences: Sequence[Sentence], written: FigureFormatter, width: float
) -> Block:
    """Put what must not be overlooked in a frame."""
    parts = [
        marked(f"{markup(f'{label}: ', bold=True)} {markup(written.sentence(one))}", BODY)
        for one in sentences
    ]
    style = TableStyle(
        [
            ("BOX", (0, 0), (-1, -1), 1.1, Color(0, 0, 0)),
            ("LEFTPADDING", (0, 0), (-1, -1), 6),
            ("RIGHTPADDING", (0, 0), (-1, -1), 6),
            ("TOPPADDING", (0, 0), (-1, -1), 2),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 5),
        ]
    )
    return Block([Table([[part] for part in parts], colWidths=[width * mm], style=style)])


def how_blocks(sections: Sequence[Section], written: FigureFormatter) -> list[Block]:
    """Say in small print how each figure was got; those got alike are named together."""
    blocks = []
    for section in sections:
        entries = [(one.name, one.how) for one in section.figures]
        entries += [
            (column.name, column.how)
            for table in section.tables
            for column in table.columns
            if column.how is not None
        ]
        alike: dict[str, list[str]] = {}
        for name, how in entries:
            alike.setdefault(written.sentence(how), []).append(name)
        lines: list[Flowable] = [
            marked(f"{markup('; '.join(dict.fromkeys(names)), bold=True)}: {markup(how)}", SMALL)
            for how, names in alike.items()
        ]
        if lines:
            title = section.key.value
            headed = paragraph(title[:1].upper() + title[1:], SMALL, bold=True)
            first, *others = lines
            blocks.append(Block([headed, first], 2.0))
            blocks += [Block([line], 0.0) for line in others]
    return blocks


def signs_of(sections: Sequence[Section]) -> str:
    """Say what the signs beside figures mean, as far as they are used."""
    used: set[Mark] = set()
    for section in sections:
        used.update(mark for figure in section.figures for mark in figure.marks)
        used.update(
            mark for table in section.tables for column in table.columns for mark in column.marks
        )
    return ", ".join(f"{SIGNS[mark]} {mark.value}" for mark in Mark if mark in used)
