"""Figures of the bench as CSV and JSON files for other programs."""

import csv
import io
import itertools
import json
import math
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from render.common.files import replacing
from scenes.figures.figures import BenchReport, Cell, Column, Figure, Section, Table
from scenes.figures.formatter import FigureFormatter
from scenes.quantities import Units

__all__ = ["SUFFIXES", "csv_text", "json_text", "write_numbers"]

SUFFIXES = (".csv", ".json")

_SIGNIFICANT_DIGITS = 7
"""Significant digits in a file, more than any gauge shows."""

_HEADINGS = (
    "section", "table", "row", "key", "name", "value", "unit", "plus_minus", "how", "marks",
    "least", "most",
)  # fmt: skip

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
"""First characters of a text that spreadsheets run as a formula."""


def write_numbers(
    bench: BenchReport, units: Units, path: Path, wraps: Sequence[BenchReport] = ()
) -> None:
    """Write all figures to a CSV or JSON file.

    Parameters
    ----------
    bench : BenchReport
    units : Units
        Of the written lengths.
    path : Path
        Its suffix selects the format.
    wraps : sequence of BenchReport
        Each wrap, where `bench` is of a rod with several.

    Raises
    ------
    RequestProblem
        If the file cannot be written; an existing file is unchanged.
    """
    make = csv_text if path.suffix.casefold() == ".csv" else json_text
    text = make(bench, units, wraps)
    with replacing(path) as temporary:
        temporary.write_text(text, encoding="utf-8", newline="")


def json_text(bench: BenchReport, units: Units, wraps: Sequence[BenchReport] = ()) -> str:
    """All figures as one JSON object, each number with its unit.

    Parameters
    ----------
    bench : BenchReport
    units : Units
        Of the written lengths.
    wraps : sequence of BenchReport
        Each wrap of a rod, as an object of the same form under ``wraps``.
    """
    document = _document(bench, units)
    if wraps:
        document["wraps"] = [_document(wrap, units) for wrap in wraps]
    return json.dumps(document, indent=1, ensure_ascii=False) + "\n"


def _document(bench: BenchReport, units: Units) -> dict[str, Any]:
    words = FigureFormatter(units, bench.currency)
    return {
        "turnlight bench": 1,
        "title": bench.title,
        "design": bench.design,
        "units": units.value,
        "currency": bench.currency,
        "sections": [_section(section, words) for section in bench.sections],
        "warnings": [words.sentence(warning) for warning in bench.warnings],
        "order of work": [
            {
                "title": step.title,
                "work": words.sentence(step.work),
                "check": words.sentence(step.check) if step.check else None,
                "caution": step.caution,
            }
            for step in bench.steps
        ],
        "cautions": list(bench.cautions),
    }


def _section(section: Section, words: FigureFormatter) -> dict[str, Any]:
    return {
        "section": section.key.value,
        "figures": [_figure(figure, words) for figure in section.figures],
        "tables": [_table(table, words) for table in section.tables],
        "notes": [words.sentence(note) for note in section.notes],
    }


def _figure(figure: Figure, words: FigureFormatter) -> dict[str, Any]:
    off = figure.plus_minus
    bounds = [
        None if math.isinf(bound) else _rounded(words.converted(bound, figure.kind))
        for bound in figure.bounds or ()
    ]
    return {
        "key": figure.key,
        "name": figure.name,
        "value": _rounded(words.converted(figure.value, figure.kind)),
        "unit": words.unit(figure.kind),
        "plus_minus": None if off is None else _rounded(words.converted(off, figure.kind)),
        "how": words.sentence(figure.how),
        "marks": [mark.value for mark in figure.marks],
    } | dict(zip(("least", "most"), bounds, strict=False))


def _table(table: Table, words: FigureFormatter) -> dict[str, Any]:
    return {
        "key": table.key,
        "name": table.name,
        "columns": [
            {
                "key": column.key,
                "name": column.name,
                "unit": words.unit(column.kind) if column.kind else "",
                "how": words.sentence(column.how) if column.how else None,
                "marks": [mark.value for mark in column.marks],
            }
            for column in table.columns
        ],
        "rows": [
            {
                column.key: {"value": value, "plus_minus": _uncertainty(column, cell, words)}
                if isinstance(value, int | float)
                else value
                for column, cell in zip(table.columns, row, strict=True)
                for value in [_value(column, cell, words)]
            }
            for row in table.rows
        ],
    }


def csv_text(bench: BenchReport, units: Units, wraps: Sequence[BenchReport] = ()) -> str:
    """All figures as comma-separated values, one a line below a heading, with decimal points.

    Parameters
    ----------
    bench : BenchReport
    units : Units
        Of the written lengths.
    wraps : sequence of BenchReport
        Each wrap of a rod; its lines follow those of the rod, the one with its title first.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(_HEADINGS)
    words = FigureFormatter(units, bench.currency)
    for line in itertools.chain.from_iterable(_lines(one, words) for one in (bench, *wraps)):
        cells = [_escaped(cell) for cell in line]
        writer.writerow(cells + [""] * (len(_HEADINGS) - len(cells)))
    return out.getvalue()


def _lines(bench: BenchReport, words: FigureFormatter) -> Iterator[tuple[Cell, ...]]:
    yield "design", "", "", "title", "title", bench.title, "", "", "", ""
    yield "design", "", "", "design", "design", bench.design, "", "", "", ""
    for section in bench.sections:
        key = section.key.value
        for figure in section.figures:
            entry = _figure(figure, words)
            yield (
                key, "", "", figure.key, figure.name, entry["value"], entry["unit"],
                entry["plus_minus"], entry["how"], "; ".join(entry["marks"]),
                entry.get("least", ""), entry.get("most", ""),
            )  # fmt: skip
        for table in section.tables:
            yield from _table_lines(key, table, words)
        for number, note in enumerate(section.notes, start=1):
            yield key, "", number, "note", "note", words.sentence(note), "", "", "", ""
    for number, warning in enumerate(bench.warnings, start=1):
        yield "warnings", "", number, "warning", "warning", words.sentence(warning), *_NOTHING
    for number, step in enumerate(bench.steps, start=1):
        yield "order of work", "", number, "work", step.title, words.sentence(step.work), *_NOTHING
        if step.check:
            check = words.sentence(step.check)
            yield "order of work", "", number, "check", step.title, check, *_NOTHING
        if step.caution:
            yield "order of work", "", number, "caution", step.title, step.caution, *_NOTHING
    for number, caution in enumerate(bench.cautions, start=1):
        yield "cautions", "", number, "caution", "caution", caution, *_NOTHING


_NOTHING = ("", "", "", "")


def _table_lines(section: str, table: Table, words: FigureFormatter) -> Iterator[tuple[Cell, ...]]:
    for number, row in enumerate(table.rows, start=1):
        for column, cell in zip(table.columns, row, strict=True):
            if cell is None or cell == "":
                continue
            yield (
                section,
                table.key,
                number,
                column.key,
                column.name,
                _value(column, cell, words),
                words.unit(column.kind) if column.kind else "",
                _uncertainty(column, cell, words),
                words.sentence(column.how) if column.how else "",
                "; ".join(mark.value for mark in column.marks),
            )


def _value(column: Column, cell: Cell, words: FigureFormatter) -> Cell:
    if cell is None or isinstance(cell, str) or column.kind is None:
        return cell
    return _rounded(words.converted(cell, column.kind))


def _uncertainty(column: Column, cell: Cell, words: FigureFormatter) -> float | None:
    if cell is None or isinstance(cell, str) or column.kind is None:
        return None
    if column.share is not None:
        return _rounded(words.converted(abs(cell) * column.share, column.kind))
    off = column.plus_minus
    return None if off is None else _rounded(words.converted(off, column.kind))


def _rounded(value: float) -> float:
    short = float(f"{value:.{_SIGNIFICANT_DIGITS}g}")
    return int(short) if short.is_integer() and abs(short) < 1e15 else short + 0.0


def _escaped(cell: Cell) -> Cell:
    """Prefix a text with an apostrophe if a spreadsheet would take it for a formula."""
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(_FORMULA_STARTS) else cell
