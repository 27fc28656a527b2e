"""Blocks of the bench sheet: main figures, sections, steps, and how figures were computed."""

import math
from collections.abc import Sequence

from reportlab.lib.colors import Color
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Spacer, Table, TableStyle

from render.paper.flow import Block
from render.paper.fonts import fitting_size, markup
from render.paper.tables import SheetTable, figure_list
from render.paper.typography import (
    BODY,
    FLUSH,
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
from scenes.building.build import Plan
from scenes.customer.reply import agreement_words
from scenes.figures.figures import Figure, Mark, Section, Sentence, Step
from scenes.figures.formatter import FigureFormatter

__all__ = [
    "framed_block",
    "glance_block",
    "method_blocks",
    "order_blocks",
    "section_blocks",
    "signs_of",
    "step_block",
]

_MAIN = 16.0
"""Type size of the main figures, points."""


def glance_block(figures: Sequence[Figure], written: FigureFormatter, width: float) -> Block:
    """Block of the main figures, large and side by side.

    Parameters
    ----------
    figures : sequence of Figure
    written : FigureFormatter
    width : float
        mm.
    """
    across = math.ceil(len(figures) / math.ceil(len(figures) / 4))
    values = [value_of(figure, written) for figure in figures]
    size = min(
        fitting_size(value, _MAIN, width / across - 4.0, BODY, bold=True) for value in values
    )
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
    """Blocks of one section.

    Parameters
    ----------
    section : Section
    written : FigureFormatter
    widths : (float, float)
        Widths of a column and of the whole page, mm.
    ticked : bool
        Whether its tables have tick boxes.
    size : float
        Type size, points.

    Returns
    -------
    list of (Block, bool)
        Blocks in order, and whether each takes the whole width. Those that fit a column come
        first, so that they can be placed beside other blocks.
    """
    tables = [table for table in section.tables if table.rows]
    sheet_tables = [
        SheetTable(table, written, ticked and table.key not in _UNTICKED, size) for table in tables
    ]
    narrow, wide = widths
    head = heading(section.key.value, size)
    columns: list[list[Flowable]] = []
    if section.figures:
        columns.append([figure_list(section.figures, written, narrow, size)])
    for sheet_table in sheet_tables:
        if not sheet_table.needs_full_width(narrow):
            columns.append([*sheet_table.title(len(tables) > 1), sheet_table.flowable(narrow)])
    notes = _spaced([paragraph(written.sentence(note), size) for note in section.notes])
    across = not columns and bool(sheet_tables)
    if notes and section.figures:
        columns[0] += [Spacer(1, 1.6 * mm), *notes]
    elif notes and not across:
        columns.append(notes)
    blocks: list[tuple[Block, bool]] = []
    for parts in columns:
        blocks.append((Block([*head, *parts], _BETWEEN if blocks else _ABOVE), False))
        head = []
    for sheet_table in sheet_tables:
        if sheet_table.needs_full_width(narrow):
            parts = [
                *head,
                *sheet_table.title(not head or len(tables) > 1),
                sheet_table.flowable(wide),
            ]
            blocks.append((Block(parts, _ABOVE if head else _BETWEEN), True))
            head = []
    if notes and across:
        blocks.append((Block(notes, _BETWEEN / 2), True))
    return blocks


def _spaced(parts: Sequence[Flowable]) -> list[Flowable]:
    """Put a small space between paragraphs."""
    return [item for part in parts for item in (Spacer(1, 1.2 * mm), part)][1:]


_ABOVE = 4.5
"""Space above a section, mm."""

_BETWEEN = 3.0
"""Space between the parts of a section, mm."""

_UNTICKED = frozenset({"drift"})
"""Keys of tables without tick boxes in sections that have them."""


def step_block(number: int, step: Step, written: FigureFormatter, width: float) -> Block:
    """Block of one step of the order of work, with tick box, check and caution.

    Parameters
    ----------
    number : int
        From 1.
    step : Step
    written : FigureFormatter
    width : float
        mm.
    """
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
        style=TableStyle([*FLUSH, ("TOPPADDING", (0, 0), (0, 0), 1.6)]),
    )
    return Block([table], 2.4)


def framed_block(
    label: str, sentences: Sequence[Sentence], written: FigureFormatter, width: float
) -> Block:
    """Block of sentences in a frame, which must not be overlooked.

    Parameters
    ----------
    label : str
        Bold text before each sentence.
    sentences : sequence of Sentence
    written : FigureFormatter
    width : float
        mm.
    """
    parts = [
        marked(f"{markup(f'{label}: ', bold=True)} {markup(written.sentence(sentence))}", BODY)
        for sentence in sentences
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


def order_blocks(
    plan: Plan, written: FigureFormatter, width: float, *, of_rod: bool = False
) -> list[Block]:
    """Blocks that say for whom the rod is, and what was agreed; none if nothing is known.

    Parameters
    ----------
    plan : Plan
    written : FigureFormatter
    width : float
        mm.
    of_rod : bool
        Of the whole rod, not of the wrap of the plan alone.
    """
    order = plan.design.order
    agreed, changed = agreement_words(plan.design, plan.shelf, plan.beside, of_rod=of_rod)
    parts = [f"For {order.customer}." if order.customer else ""]
    parts += [f"Rod {order.rod}." if order.rod else "", agreed]
    words = " ".join(filter(None, parts))
    blocks = [Block([paragraph(words, BODY, bold=True)])] if words else []
    remark = plan.design.agreed[-1].remark if plan.design.agreed else ""
    if remark:
        blocks.append(Block([paragraph(f"The customer adds: {remark}", BODY)]))
    if changed:
        sentences = [Sentence("{changed}", {"changed": changed})]
        blocks.append(framed_block("Stop", sentences, written, width))
    return blocks


def method_blocks(sections: Sequence[Section], written: FigureFormatter) -> list[Block]:
    """Small print on how figures were computed; those computed alike are listed together.

    Parameters
    ----------
    sections : sequence of Section
    written : FigureFormatter
    """
    blocks = []
    for section in sections:
        entries = [(figure.name, figure.how) for figure in section.figures]
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
    """Legend of the signs after figures, as far as they are used.

    Parameters
    ----------
    sections : sequence of Section
    """
    used: set[Mark] = set()
    for section in sections:
        used.update(mark for figure in section.figures for mark in figure.marks)
        used.update(
            mark for table in section.tables for column in table.columns for mark in column.marks
        )
    return ", ".join(f"{SIGNS[mark]} {mark.value}" for mark in Mark if mark in used)
