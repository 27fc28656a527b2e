"""Report of a design's figures as text, in the units of its file."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

from render.common.progress import Progress
from render.request.subject import Subject
from scenes.bench.report import WrapAmounts, report_of, wrap_amounts
from scenes.bench.rod_report import rod_report
from scenes.building.build import Plan
from scenes.design.field_words import in_words_with_paths
from scenes.design.layers import KINDS
from scenes.design.rod import other_wraps
from scenes.design.threads import variants_without_thread
from scenes.design.variants import design_hash
from scenes.figures.figures import BenchReport, Cell, Column, Kind, Section, SectionKey, Table
from scenes.figures.formatter import FigureFormatter
from scenes.kinds.builder import LayerBuilder
from scenes.kinds.kind import Kind as LayerKind
from scenes.problems import DESIGN_REFUSALS, shown

__all__ = ["report"]

Line = tuple[str, str]


def report(subject: Subject, progress: Progress | None = None, *, whole: bool = True) -> str:
    """Report what follows from a design, one line for each figure, with its unit.

    Parameters
    ----------
    subject : Subject
    progress : Progress, optional
        Advanced by `render.request.subject.BUILDING` for each wrap.
    whole : bool
        Report every wrap of a rod with several, and their sums; else the first alone.

    Raises
    ------
    DesignProblem
        If a wrap cannot be built.
    """
    progress = progress or Progress.none()
    design = subject.design
    written = FigureFormatter(design.units, design.bench.currency)
    lines = [design.title, f"design {design_hash(design)}", ""]
    subjects = [subject]
    if whole:
        subjects += [replace(subject, design=rod) for rod in other_wraps(design)]
    measured: list[WrapAmounts] = []
    for number, one in enumerate(subjects):
        wrap = one.build_for_bench(progress)
        progress.describe("lengths")
        amounts = wrap_amounts(wrap, step=progress.describe)
        measured.append(amounts)
        if len(subjects) > 1:
            lines += [*([""] if number else []), f"{_WRAP}{shown(one.design.wrap_name)}", ""]
        lines += _wrap_lines(one, report_of(amounts), written)
    if len(subjects) > 1:
        lines += ["", "THE ROD", *_rod_lines(rod_report(measured), written)]
    return "\n".join(lines)


_WRAP = "WRAP "
"""Heading of a wrap where there are several, before its name."""


def _wrap_lines(subject: Subject, bench: BenchReport, written: FigureFormatter) -> list[str]:
    """Figures and warnings of one wrap."""
    plan, design = subject.plan(), subject.design
    lines = _aligned(_lines(plan, written))
    threads = _threads(bench, written)
    if threads:
        lines += ["", "thread on the blank, and to load with tails and waste", *threads]
    for section in bench.sections:
        lines += _main_figures(section, written)
    warnings = list(design.warnings)
    warnings += [
        f"variants: {shown(name)} is set aside: {reason}"
        for name, reason in variants_without_thread(design, subject.shelf).items()
    ]
    for kind, builder in _first_of_each_kind(plan):
        warnings += [written.sentence(warning) for warning in kind.numbers.warnings(builder)]
    warnings += map(written.sentence, bench.warnings)
    warnings += _mark_warnings(subject)
    return lines + _warning_lines(warnings)


def _mark_warnings(subject: Subject) -> Iterator[str]:
    """Warn of a mark that cannot stand on a picture."""
    if subject.design.order.mark is None:
        return
    from render.output.signature import Signature

    try:
        Signature.of(subject)
    except DESIGN_REFUSALS as problem:
        yield str(problem)


def _rod_lines(bench: BenchReport, written: FigureFormatter) -> list[str]:
    """Sums of a rod: spools, then the main figures of each section."""
    lines = []
    spools = bench.table("spools")
    if spools is not None:
        lines += ["", "thread to load in all, and what the spools have"]
        loads = [
            (str(name), ", ".join(_in_words(spools.columns[1:], cells, written)))
            for name, *cells in spools.rows
        ]
        lines += [f"  {line}" for line in _aligned(iter(loads))]
    for section in bench.sections:
        lines += _main_figures(section, written)
    return lines + _warning_lines([written.sentence(warning) for warning in bench.warnings])


def _warning_lines(warnings: Sequence[str]) -> list[str]:
    if not warnings:
        return []
    return ["", "warnings", *(f"  {in_words_with_paths(warning)}" for warning in warnings)]


def _lines(plan: Plan, written: FigureFormatter) -> Iterator[Line]:
    """Figures of the wrap and of the first layer of each kind."""
    place = plan.design.placement
    yield "wrap", f"{written.span(place.start, place.end)}, {written.length(place.length)} long"
    yield "blank", f"{written.length(2 * plan.middle_radius)} thick at the middle of the wrap"
    for kind, builder in _first_of_each_kind(plan):
        for name, sentence in kind.numbers.lines(builder):
            yield name, in_words_with_paths(written.sentence(sentence))


def _first_of_each_kind(plan: Plan) -> Iterator[tuple[LayerKind[Any], LayerBuilder[Any]]]:
    for kind in KINDS:
        builder = next(
            (builder for builder in plan.builders if isinstance(builder, kind.builder)), None
        )
        if builder is not None:
            yield kind, builder


def _aligned(lines: Iterator[Line]) -> list[str]:
    listed = list(lines)
    width = max(len(name) for name, _ in listed)
    return [f"{name:<{width}}  {value}".rstrip() for name, value in listed]


def _threads(bench: BenchReport, written: FigureFormatter) -> list[str]:
    """One line for each thread of each layer, in bench order."""
    table = bench.table("threads")
    if table is None:
        return []
    columns = {column.key: column for column in table.columns}
    rows = []
    for row in table.rows:
        cells = dict(zip(columns, row, strict=True))
        shown = {key: written.cell(columns[key], cell) for key, cell in cells.items()}
        length, mass = (_unit_of(written, columns[key].kind) for key in ("on_blank", "mass"))
        rows.append(
            (
                shown["use"],
                shown["thread"],
                f"{shown['on_blank']} {length}" if shown["on_blank"] else "pulled out",
                f"{shown['mass']} {mass}" if shown["mass"] else "",
                f"load {shown['load']} {length}",
            )
        )
    widths = [max((len(row[column]) for row in rows), default=0) for column in range(5)]
    return [
        f"  {use:<{widths[0]}}  {name:<{widths[1]}}  {length:>{widths[2]}}  {mass:>{widths[3]}}  "
        f"{load:>{widths[4]}}"
        for use, name, length, mass, load in rows
    ]


def _unit_of(written: FigureFormatter, kind: Kind | None) -> str:
    assert kind is not None
    return written.unit(kind)


_ALREADY_LISTED = frozenset({"angle", "pitch", "cover_turns", "cord_angle"})
"""Keys of figures that are among the first lines already."""


def _main_figures(section: Section, written: FigureFormatter) -> list[str]:
    """Heading, main figures and notes of a section."""
    figures = [
        figure for figure in section.figures if figure.main and figure.key not in _ALREADY_LISTED
    ]
    if not figures:
        return []
    lines = [(figure.name, written.figure(figure)) for figure in figures]
    notes = section.notes if section.key is SectionKey.CUT else ()
    return [
        "",
        section.key.value,
        *(f"  {line}" for line in _aligned(iter(lines))),
        *(line for table in section.tables if table.main for line in _main_table(table, written)),
        *(f"  {in_words_with_paths(written.sentence(note))}" for note in notes),
    ]


def _main_table(table: Table, written: FigureFormatter) -> list[str]:
    """Title of a table, and its rows: the first cell, then the numbers in words."""
    rows = [
        (str(first), ", ".join(_in_words(table.columns[1:], cells, written)))
        for first, *cells in table.rows
    ]
    return [f"  {table.name}", *(f"    {line}" for line in _aligned(iter(rows)))]


def _in_words(
    columns: Sequence[Column], cells: Sequence[Cell], written: FigureFormatter
) -> Iterator[str]:
    """Write each number with its unit and the name of its column."""
    for column, cell in zip(columns, cells, strict=True):
        if column.kind is not None and cell is not None:
            unit = written.unit(column.kind)
            yield " ".join(filter(None, (written.cell(column, cell), unit, column.name)))
