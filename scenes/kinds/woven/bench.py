"""Bench entries of a woven panel: sizes, picks by colour, and the chart row by row."""

from collections.abc import Iterator

import numpy as np

from geometry.layers.woven import floats
from scenes.artwork.charts import runs_of
from scenes.figures.figures import (
    Amount,
    Cell,
    Column,
    Figure,
    Kind,
    Section,
    SectionKey,
    Sentence,
    Step,
    Table,
    sentence,
)
from scenes.figures.trust import SHELF_WIDTH_SHARE
from scenes.kinds.builder import ThreadUse, WrapContext
from scenes.kinds.entries import Entries, ThreadNeed, by_thread
from scenes.kinds.flat.runs import RunDirection
from scenes.kinds.woven.builder import WovenBuilder
from scenes.quantities import counted

__all__ = ["LETTERS", "bench_warnings", "entries", "row_words"]

LETTERS = "Wabcdefghijklmnopqrstuvx"
"""Letter of each thread in the list of rows: the warp, then the pick threads."""

_LONG_FLOAT = 5.0
"""A longer float stands off the blank before the finish holds it, mm (from memory)."""


def entries(builder: WovenBuilder, uses: tuple[ThreadUse, ...], wrap: WrapContext) -> Entries:
    """List what a panel brings to the bench: sizes, picks by colour, the chart row by row.

    Parameters
    ----------
    builder : WovenBuilder
    uses : tuple of ThreadUse
        Thread that the layer took.
    wrap : WrapContext
        Built at any detail.
    """
    return Entries(
        sections=(
            Section(
                SectionKey.PATTERN,
                tuple(_figures(builder)),
                (_colour_table(builder), _row_table(builder)),
                tuple(_notes(builder)),
            ),
        ),
        threads=tuple(_needs(builder, uses)),
        steps=tuple(_steps(builder)),
    )


def row_words(row: np.ndarray[tuple[int], np.dtype[np.intp]]) -> str:
    """Write a row of a chart from left to right: number and letter of each run of crossings.

    Parameters
    ----------
    row : (n,) int
        Index of the thread on top, 0 for the warp.
    """
    return " ".join(f"{run.count}{LETTERS[run.thread]}" for run in runs_of(row))


def _figures(builder: WovenBuilder) -> Iterator[Figure]:
    key, called, size = builder.path.replace(".", "_"), builder.path, builder.panel_size
    rows, columns = builder.chart.top.shape
    share = SHELF_WIDTH_SHARE
    stacked = builder.longest > size.length * (1 + 1e-9)
    yield Figure(
        f"{key}_warps",
        f"{called}: warp threads",
        columns * size.repeats_across,
        Kind.COUNT,
        sentence(
            "{columns} columns, {times} beside each other",
            columns=str(columns),
            times=str(size.repeats_across),
        ),
        main=True,
    )
    yield Figure(
        f"{key}_rows",
        f"{called}: rows",
        rows * size.repeats_along,
        Kind.COUNT,
        sentence(
            "{rows} rows of the chart, {times} times", rows=str(rows), times=str(size.repeats_along)
        ),
        main=True,
    )
    width = size.width * (builder.closing_spread if builder.layer.closed else 1.0)
    across, along = builder.pitch
    yield Figure(
        f"{key}_width",
        f"{called}: width",
        width,
        Kind.LENGTH,
        sentence("all the way round the blank")
        if builder.layer.closed
        else sentence("its warp threads, {one} each", one=Amount(across, Kind.FINE_LENGTH)),
        share * width,
        main=True,
    )
    yield Figure(
        f"{key}_length",
        f"{called}: length",
        size.length,
        Kind.LENGTH,
        sentence(
            "its rows, {one} each, a row's picks on one another; from there to all of them side by "
            "side",
            one=Amount(along, Kind.FINE_LENGTH),
        )
        if stacked
        else sentence("its rows, {one} each", one=Amount(along, Kind.FINE_LENGTH)),
        None if stacked else share * size.length,
        main=True,
        bounds=((1 - share) * size.length, (1 + share) * builder.longest) if stacked else None,
    )
    if builder.layer.closed:
        yield Figure(
            f"{key}_spread",
            f"{called}: how far the warp is spread",
            builder.closing_spread,
            Kind.SHARE,
            sentence("so that the last thread meets the first"),
            share,
        )
    warp, pick = floats(builder.chart)
    yield Figure(
        f"{key}_float",
        f"{called}: longest float of a pick",
        pick * across,
        Kind.LENGTH,
        sentence("{count} crossings in a row", count=Amount(pick, Kind.COUNT)),
        share * pick * across,
    )
    yield Figure(
        f"{key}_warp_float",
        f"{called}: longest float of the warp",
        warp * along,
        Kind.LENGTH,
        sentence("{count} crossings in a column, in one chart", count=Amount(warp, Kind.COUNT)),
        share * warp * along,
    )


def _colour_table(builder: WovenBuilder) -> Table:
    """Table of crossings and picks of each thread, in one chart and in the whole panel."""
    counts, rows_with = builder.colour_counts(), builder.rows_with()
    size = builder.panel_size
    rows: list[tuple[Cell, ...]] = [
        (
            LETTERS[0],
            builder.warp.name,
            "warp",
            counts[0],
            None,
            counts[0] * size.repeats_along * size.repeats_across,
        )
    ]
    for number, (thread, picks) in enumerate(zip(builder.picks, rows_with, strict=True), start=1):
        rows.append(
            (
                LETTERS[number],
                thread.name,
                "picks",
                counts[number],
                picks,
                counts[number] * size.repeats_along * size.repeats_across,
            )
        )
    return Table(
        f"{builder.path.replace('.', '_')}_colours",
        f"{builder.path}: picks by colour",
        (
            Column("letter", "letter"),
            Column("thread", "thread"),
            Column("part", "part"),
            Column("crossings", "on top, one chart", Kind.COUNT),
            Column("picks", "picks, one chart", Kind.COUNT),
            Column("crossings_in_all", "on top, in all", Kind.COUNT),
        ),
        tuple(rows),
    )


def _row_table(builder: WovenBuilder) -> Table:
    """Table of one chart, row by row from the butt."""
    top = builder.chart.top
    listed = tuple(
        (number, len(set(row[row > 0].tolist())), row_words(row))
        for number, row in enumerate(top[::-1], start=1)
    )
    return Table(
        f"{builder.path.replace('.', '_')}_chart_rows",
        f"{builder.path}: the chart row by row, the first nearest the butt",
        (
            Column("row", "row", Kind.COUNT),
            Column("picks", "picks", Kind.COUNT),
            Column("crossings", "on top, from left to right with the tip up"),
        ),
        listed,
    )


def _notes(builder: WovenBuilder) -> Iterator[Sentence]:
    yield sentence(
        "In the list of rows {letter} is the warp on top, other letters a pick of that thread; a "
        "row's picks are led through one after another, each under the warp where it does not "
        "show.",
        letter=LETTERS[0],
    )
    yield sentence(
        "The panel is counted at the shelf's thread widths. Weave and measure a trial of twenty "
        "threads, and set spread to what you find."
    )


def _needs(builder: WovenBuilder, uses: tuple[ThreadUse, ...]) -> Iterator[ThreadNeed]:
    """Yield the thread: single pieces of warp and edge, picks that go to and fro."""
    size = builder.panel_size
    columns = builder.chart.top.shape[1] * size.repeats_across
    rows = (columns, *(count * size.repeats_along for count in builder.rows_with()))
    woven = len(rows)
    for number, use in enumerate(uses[:woven]):
        pieces = columns if number == 0 else size.repeats_along
        # Warp that is cut too short ends the panel; picks are as long however they lie.
        reserve = columns * (builder.longest - size.length) if number == 0 else 0.0
        yield ThreadNeed(
            use.use, use.thread, rows[number], use.length, pieces, reserve=max(reserve, 0.0)
        )
    yield from by_thread(uses[woven:], pieces=len(builder.lines))


def _steps(builder: WovenBuilder) -> Iterator[Step]:
    size = builder.panel_size
    columns = builder.chart.top.shape[1] * size.repeats_across
    start, end = builder.room.flat.reach(size.length, size.width)
    yield Step(
        "Weave the panel",
        sentence(
            "{columns} warp threads of {warp}, then {rows} rows as the chart lists them, from the "
            "butt; beat each row close.",
            columns=Amount(columns, Kind.COUNT),
            warp=builder.warp.name,
            rows=Amount(builder.chart.top.shape[0] * size.repeats_along, Kind.COUNT),
        ),
        sentence(
            "Every ten rows: {ten} of length, and the picture as in the chart.",
            ten=Amount(10 * builder.pitch[1], Kind.LENGTH),
        ),
    )
    yield Step(
        "Lay the panel",
        sentence(
            "Along the flat band, from {start} to {end}."
            if builder.layer.runs is RunDirection.BAND
            else "Along the blank, from {start} to {end}.",
            start=Amount(start, Kind.LENGTH),
            end=Amount(end, Kind.LENGTH),
        ),
        sentence(
            "Warp in line with its run, picks square to it; tails under the threads of the edge."
        ),
    )
    if builder.edge:
        yield Step(
            "Hold the edge",
            sentence(
                "{count} along both sides, snug against the panel."
                if builder.layer.runs is RunDirection.BAND
                else "{count} as a ring at both ends, over the tails.",
                count=counted(len(builder.edge), "thread"),
            ),
        )


def bench_warnings(builder: WovenBuilder) -> Iterator[Sentence]:
    """Warn of picks on one another, of long floats, and of colours that the chart lacks.

    Parameters
    ----------
    builder : WovenBuilder
    """
    picks = builder.picks_in_rows
    if picks.max() > 1:
        yield sentence(
            "{path}: {rows} more than one pick, counted as lying on one "
            "another in one row's place. Where they do not, the panel is longer, {longest} if none "
            "does, for which the warp is loaded: weave and measure twenty rows first.",
            path=builder.path,
            rows=counted(int((picks > 1).sum()), "row of the chart has", "rows of the chart have"),
            longest=Amount(builder.longest, Kind.LENGTH),
        )
    _, pick = floats(builder.chart)
    across, _ = builder.pitch
    if pick * across > _LONG_FLOAT:
        yield sentence(
            "{path}.chart: a pick floats over {count} warp threads, {long}; such a float stands "
            "off, so bind it with a crossing of the warp here and there.",
            path=builder.path,
            count=Amount(pick, Kind.COUNT),
            long=Amount(pick * across, Kind.LENGTH),
        )
    unused = [
        entry.colour
        for index, entry in enumerate(builder.layer.colours)
        if not builder.colour_used(index)
    ]
    if unused:
        yield sentence(
            "{path}.colours: {colour} is not in the chart; leave it out or correct it.",
            path=builder.path,
            colour=unused[0],
        )
