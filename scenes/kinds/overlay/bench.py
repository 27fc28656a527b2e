"""Bench entries of overlays: pitch, beat, thread that stays and that is pulled out."""

import itertools
import math
from collections.abc import Iterator
from typing import Any

from scenes.figures.figures import (
    Amount,
    Column,
    Figure,
    Kind,
    Mark,
    Section,
    SectionKey,
    Sentence,
    Step,
    Table,
    sentence,
)
from scenes.figures.trust import SHELF_WIDTH_SHARE, WOUND_MM
from scenes.kinds.builder import ThreadUse, WoundBuilder, WrapContext
from scenes.kinds.entries import LATHE_SAFETY, Entries, ThreadNeed, by_thread
from scenes.kinds.overlay.beats import LayersBeat, beats_of
from scenes.kinds.overlay.builder import OverlayBuilder, OverlayResult
from scenes.quantities import counted

__all__ = ["beat_notes", "entries"]

_TEST_REPEATS = 40
"""Repeats in a test strip for measuring a pitch."""


def entries(builder: OverlayBuilder, uses: tuple[ThreadUse, ...], wrap: WrapContext) -> Entries:
    """List what an overlay brings to the bench: pitch, beat, thread that stays and that goes.

    Parameters
    ----------
    builder : OverlayBuilder
    uses : tuple of ThreadUse
        Thread that the layer took.
    wrap : WrapContext
        Built at any detail.
    """
    result = wrap.kind_result_of(builder.layer)
    assert isinstance(result, OverlayResult)
    beats = [beat_pair for beat_pair in beats_of(wrap.plan) if beat_pair.over is builder]
    figures = [
        *_figures(builder),
        *(figure for beat_pair in beats for figure in _beat_figures(beat_pair)),
    ]
    return Entries(
        sections=(
            Section(
                SectionKey.PATTERN,
                tuple(figures),
                (_sequence_table(builder),),
                tuple(note for beat_pair in beats for note in beat_notes(beat_pair)),
            ),
        ),
        threads=(*_needs(builder, uses, False), *_needs(builder, result.pulled_out(), True)),
        steps=tuple(_steps(builder)),
    )


def beat_notes(beat_pair: LayersBeat) -> Iterator[Sentence]:
    """Write how long a beat is, and how an error of the pitch changes it.

    Parameters
    ----------
    beat_pair : LayersBeat
    """
    beat = beat_pair.beat
    if math.isinf(beat.length):
        yield sentence(
            "All the way {over} and {under} lie alike: there is no beat. With a pitch 1 % wider "
            "there is one of {wider}.",
            over=beat_pair.over.path,
            under=beat_pair.under.path,
            wider=Amount(beat.moved(0.01).length, Kind.LENGTH),
        )
        return
    wider, closer = beat.moved(0.01).length, beat.moved(-0.01).length
    yield sentence(
        "The beat of {over} with {under} is {length} long. With a pitch 1 % wider it is {wider}, "
        "1 % closer {closer}: wind test strips of {count} repeats and measure them first."
        + (" Beneath is one colour, so it will be faint." if beat_pair.plain else ""),
        over=beat_pair.over.path,
        under=beat_pair.under.path,
        length=Amount(beat.length, Kind.LENGTH),
        wider=_length_or_endless(wider),
        closer=_length_or_endless(closer),
        count=str(_TEST_REPEATS),
    )


def _length_or_endless(length: float) -> Amount | str:
    return "endless" if math.isinf(length) else Amount(length, Kind.LENGTH)


def _figures(builder: OverlayBuilder) -> Iterator[Figure]:
    given = builder.layer.pitch is not None
    off = _pitch_share(builder) * builder.pitch
    yield Figure(
        f"{builder.path}_pitch",
        f"{builder.path}, from repeat to repeat",
        builder.pitch,
        Kind.FINE_LENGTH,
        sentence(
            "as the design asks; a test strip of {count} repeats shows it", count=str(_TEST_REPEATS)
        )
        if given
        else sentence(
            "the shelf's laid widths together; wind a test strip and give {path}.pitch",
            path=builder.path,
        ),
        off,
        () if given else (Mark.MEMORY,),
        main=True,
    )
    turns = (builder.span[1] - builder.span[0]) / builder.pitch
    yield Figure(
        f"{builder.path}_turns",
        f"{builder.path} turns",
        turns,
        Kind.NUMBER,
        sentence(
            "{length} of overlay by its pitch; {count} at once",
            length=Amount(builder.span[1] - builder.span[0], Kind.LENGTH),
            count=counted(len(builder.sequence), "thread"),
        ),
        off / builder.pitch * turns,
        main=True,
    )


def _beat_figures(beat_pair: LayersBeat) -> Iterator[Figure]:
    beat = beat_pair.beat
    if math.isinf(beat.length):
        return
    off = _pitch_share(beat_pair.under), _pitch_share(beat_pair.over)
    yield Figure(
        f"{beat_pair.over.path}_beat",
        f"beat of {beat_pair.over.path} with {beat_pair.under.path}",
        beat.length,
        Kind.LENGTH,
        sentence(
            "p1 p2 / |p1 - p2| of {under} and {over}",
            under=Amount(beat.under, Kind.FINE_LENGTH),
            over=Amount(beat.over, Kind.FINE_LENGTH),
        )
        if beat.lines == 1
        else sentence(
            "{under} and {over}, {lines} rows to a repeat: p1 p2 / |p1 - {lines} p2|",
            under=Amount(beat.under, Kind.FINE_LENGTH),
            over=Amount(beat.over, Kind.FINE_LENGTH),
            lines=str(beat.lines),
        ),
        main=True,
        bounds=beat.between(*off),
    )
    wider = beat.moved(0.01)
    if math.isinf(wider.length):
        return
    yield Figure(
        f"{beat_pair.over.path}_beat_wider",
        f"the same if {beat_pair.over.path} were 1 % wider",
        wider.length,
        Kind.LENGTH,
        sentence("how much a hundredth of the pitch moves it"),
        main=True,
        bounds=wider.between(*off),
    )


def _pitch_share(builder: WoundBuilder[Any] | OverlayBuilder) -> float:
    """Relative uncertainty of the distance from repeat to repeat."""
    if isinstance(builder, WoundBuilder):
        return builder.row_share
    return (
        SHELF_WIDTH_SHARE
        if builder.layer.pitch is None
        else WOUND_MM / _TEST_REPEATS / builder.pitch
    )


def _sequence_table(builder: OverlayBuilder) -> Table:
    rows = []
    for (name, removed), same in itertools.groupby(
        builder.sequence, lambda pair: (pair[0].name, pair[1])
    ):
        rows.append((len(list(same)), name, "pulled out" if removed else "stays"))
    return Table(
        f"{builder.path}_sequence",
        f"{builder.path}, one repeat from the butt on",
        (
            Column("count", "threads", Kind.COUNT),
            Column("thread", "thread"),
            Column("stays", "then"),
        ),
        tuple(rows),
    )


def _needs(
    builder: OverlayBuilder, uses: tuple[ThreadUse, ...], removed: bool
) -> Iterator[ThreadNeed]:
    turns = (builder.span[1] - builder.span[0]) / builder.pitch
    for need in by_thread(uses):
        yield ThreadNeed(
            need.use,
            need.thread,
            need.threads,
            need.length,
            need.threads,
            # All are wound at once: lathe time counts for the first thread that stays.
            turns,
            SHELF_WIDTH_SHARE,
            on_lathe=not removed and need.thread.name == uses[0].thread.name,
            pulled_out=removed,
        )


def _steps(builder: OverlayBuilder) -> Iterator[Step]:
    start, end = builder.span
    order = ", ".join(
        f"{len(list(same))} {name}{' (to be pulled out)' if removed else ''}"
        for (name, removed), same in itertools.groupby(
            builder.sequence, lambda pair: (pair[0].name, pair[1])
        )
    )
    yield Step(
        "Wind the overlay" if builder.path == "overlay" else f"Wind {builder.path}",
        sentence(
            "From {start} to {end}, {count}, from the butt on: {order}. {turns} turns.",
            start=Amount(start, Kind.LENGTH),
            end=Amount(end, Kind.LENGTH),
            count=counted(len(builder.sequence), "thread", "threads at once side by side"),
            order=order,
            turns=Amount(round((end - start) / builder.pitch), Kind.COUNT),
        ),
        sentence(
            "{count} repeats take {length}: measure them as you go, for a hundredth of it moves "
            "the pattern. Even tension on every thread, none riding on another.",
            count=str(_TEST_REPEATS),
            length=Amount(_TEST_REPEATS * builder.pitch, Kind.LENGTH),
        ),
        LATHE_SAFETY,
    )
    if builder.striped:
        out = sorted({thread.name for thread, removed in builder.sequence if removed})
        yield Step(
            "Pull the thread out",
            sentence(
                "Fix both ends of every thread that stays. Then unwind {names} turn by turn, "
                "before anything else is laid or brushed on: finish or colour preserver would "
                "lock it in for good.",
                names=" and ".join(out),
            ),
            sentence(
                "All stripes open from end to end, and the threads that stay where they were."
            ),
            "Cut its ends free away from the hand, and no blade on the threads that stay.",
        )
