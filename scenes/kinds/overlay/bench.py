"""What overlays bring to the bench: pitch, beat, thread that stays and that is pulled out."""

import itertools
import math
from collections.abc import Iterator
from typing import Any

from geometry.beat import Beat
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
    said,
)
from scenes.figures.trust import SHELF_WIDTH_SHARE, WOUND_MM
from scenes.kinds.entries import Entries, ThreadNeed, by_thread
from scenes.kinds.laying import ThreadUse, WoundBuilder, WrapContext
from scenes.kinds.overlay.beats import LayersBeat, beats_of
from scenes.kinds.overlay.laying import OverlayBuilder, OverlayFound

__all__ = ["entries", "told_beat"]

_TRIED = 40
"""Repeats of a test strip that is worth winding to know a pitch."""


def entries(laying: OverlayBuilder, uses: tuple[ThreadUse, ...], wrap: WrapContext) -> Entries:
    """Say what a layer of this kind brings to the bench (`scenes.kinds.kind.Kind.entries`)."""
    found = wrap.found_of(laying.layer)
    assert isinstance(found, OverlayFound)
    beats = [one for one in beats_of(wrap.plan) if one.over is laying]
    figures = [*_figures(laying), *(figure for one in beats for figure in _beat_figures(one))]
    return Entries(
        sections=(
            Section(
                SectionKey.PATTERN,
                tuple(figures),
                (_sequence_table(laying),),
                tuple(note for one in beats for note in told_beat(one)),
            ),
        ),
        threads=(*_needs(laying, uses, False), *_needs(laying, found.pulled(), True)),
        steps=tuple(_steps(laying)),
    )


def told_beat(one: LayersBeat) -> Iterator[Sentence]:
    """Say what two layers' beat is, and what becomes of it if the pitch is off."""
    beat = one.beat
    if math.isinf(beat.length):
        yield said(
            "All the way {over} and {under} lie alike: there is no beat. With a pitch 1 % wider "
            "there is one of {wider}.",
            over=one.over.path,
            under=one.under.path,
            wider=Amount(beat.moved(0.01).length, Kind.LENGTH),
        )
        return
    wider, closer = beat.moved(0.01).length, beat.moved(-0.01).length
    yield said(
        "The beat of {over} with {under} is {length} long. With a pitch 1 % wider it is {wider}, "
        "1 % closer {closer}: wind test strips of {count} repeats and measure them first."
        + (" Beneath is one colour, so it will be faint." if one.plain else ""),
        over=one.over.path,
        under=one.under.path,
        length=Amount(beat.length, Kind.LENGTH),
        wider=_told(wider),
        closer=_told(closer),
        count=str(_TRIED),
    )


def _told(length: float) -> Amount | str:
    return "endless" if math.isinf(length) else Amount(length, Kind.LENGTH)


def _figures(laying: OverlayBuilder) -> Iterator[Figure]:
    given = laying.layer.pitch is not None
    off = _pitch_share(laying) * laying.pitch
    yield Figure(
        f"{laying.path}_pitch",
        f"{laying.path}, from repeat to repeat",
        laying.pitch,
        Kind.FINE_LENGTH,
        said("as the design asks; a test strip of {count} repeats shows it", count=str(_TRIED))
        if given
        else said(
            "the shelf's laid widths together; wind a test strip and give {path}.pitch",
            path=laying.path,
        ),
        off,
        () if given else (Mark.MEMORY,),
        main=True,
    )
    turns = (laying.span[1] - laying.span[0]) / laying.pitch
    yield Figure(
        f"{laying.path}_turns",
        f"{laying.path} turns",
        turns,
        Kind.NUMBER,
        said(
            "{length} of overlay by its pitch; {count} threads at once",
            length=Amount(laying.span[1] - laying.span[0], Kind.LENGTH),
            count=str(len(laying.sequence)),
        ),
        off / laying.pitch * turns,
        main=True,
    )


def _beat_figures(one: LayersBeat) -> Iterator[Figure]:
    beat = one.beat
    if math.isinf(beat.length):
        return
    off = math.hypot(_pitch_share(one.under), _pitch_share(one.over))
    yield Figure(
        f"{one.over.path}_beat",
        f"beat of {one.over.path} with {one.under.path}",
        beat.length,
        Kind.LENGTH,
        said(
            "p1 p2 / |p1 - p2| of {under} and {over}",
            under=Amount(beat.under, Kind.FINE_LENGTH),
            over=Amount(beat.over, Kind.FINE_LENGTH),
        )
        if beat.lines == 1
        else said(
            "{under} and {over}, {lines} rows to a repeat: p1 p2 / |p1 - {lines} p2|",
            under=Amount(beat.under, Kind.FINE_LENGTH),
            over=Amount(beat.over, Kind.FINE_LENGTH),
            lines=str(beat.lines),
        ),
        _beat_off(beat, off),
        main=True,
    )
    wider = beat.moved(0.01)
    if math.isinf(wider.length):
        return
    yield Figure(
        f"{one.over.path}_beat_wider",
        f"the same if {one.over.path} were 1 % wider",
        wider.length,
        Kind.LENGTH,
        said("how much a hundredth of the pitch moves it"),
        _beat_off(wider, off),
        main=True,
    )


def _beat_off(beat: Beat, share: float) -> float:
    """How far a beat may be off, mm, where the ratio of the pitches is by that share of itself.

    At k lines to one of the wider, d beat / beat = beat k / wider times that share.
    """
    return beat.length**2 * beat.lines / max(beat.over, beat.under) * share


def _pitch_share(laying: WoundBuilder[Any] | OverlayBuilder) -> float:
    """Share by which the distance from repeat to repeat may be off."""
    if isinstance(laying, WoundBuilder):
        return laying.row_share
    return SHELF_WIDTH_SHARE if laying.layer.pitch is None else WOUND_MM / _TRIED / laying.pitch


def _sequence_table(laying: OverlayBuilder) -> Table:
    rows = []
    for (name, removed), same in itertools.groupby(
        laying.sequence, lambda pair: (pair[0].name, pair[1])
    ):
        rows.append((len(list(same)), name, "pulled out" if removed else "stays"))
    return Table(
        f"{laying.path}_sequence",
        f"{laying.path}, one repeat from the butt on",
        (
            Column("count", "threads", Kind.COUNT),
            Column("thread", "thread"),
            Column("stays", "then"),
        ),
        tuple(rows),
    )


def _needs(
    laying: OverlayBuilder, uses: tuple[ThreadUse, ...], removed: bool
) -> Iterator[ThreadNeed]:
    turns = (laying.span[1] - laying.span[0]) / laying.pitch
    for one in by_thread(uses):
        yield ThreadNeed(
            one.use,
            one.thread,
            one.threads,
            one.length,
            one.threads,
            # All are wound at once: the lathe turns for the first of those that stay.
            turns,
            SHELF_WIDTH_SHARE,
            on_lathe=not removed and one.thread.name == uses[0].thread.name,
            pulled_out=removed,
        )


def _steps(laying: OverlayBuilder) -> Iterator[Step]:
    start, end = laying.span
    order = ", ".join(
        f"{len(list(same))} {name}{' (to be pulled out)' if removed else ''}"
        for (name, removed), same in itertools.groupby(
            laying.sequence, lambda pair: (pair[0].name, pair[1])
        )
    )
    yield Step(
        "Wind the overlay" if laying.path == "overlay" else f"Wind {laying.path}",
        said(
            "From {start} to {end}, {count} threads at once side by side, from the butt on: "
            "{order}. {turns} turns.",
            start=Amount(start, Kind.LENGTH),
            end=Amount(end, Kind.LENGTH),
            count=str(len(laying.sequence)),
            order=order,
            turns=Amount(round((end - start) / laying.pitch), Kind.COUNT),
        ),
        said(
            "{count} repeats take {length}: measure them as you go, for a hundredth of it moves "
            "the pattern. Even tension on every thread, none riding on another.",
            count=str(_TRIED),
            length=Amount(_TRIED * laying.pitch, Kind.LENGTH),
        ),
        "Nothing loose near the turning blank: no sleeves, hair or cloth; stop it before you "
        "reach in.",
    )
    if laying.striped:
        out = sorted({thread.name for thread, removed in laying.sequence if removed})
        yield Step(
            "Pull the thread out",
            said(
                "Fix both ends of every thread that stays. Then unwind {names} turn by turn, "
                "before anything else is laid or brushed on: finish or colour preserver would "
                "lock it in for good.",
                names=" and ".join(out),
            ),
            said("All stripes open from end to end, and the threads that stay where they were."),
            "Cut its ends free away from the hand, and no blade on the threads that stay.",
        )
