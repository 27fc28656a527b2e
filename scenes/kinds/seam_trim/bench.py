"""Bench entries of seam trims: turns, thread and how it is wound."""

import itertools
from collections.abc import Iterator

from geometry.layers.trim import StripEdge
from scenes.figures.figures import Amount, Kind, Sentence, Step, sentence
from scenes.kinds.builder import ThreadUse, WrapContext
from scenes.kinds.entries import Entries, ThreadNeed, by_thread, ring_needs
from scenes.kinds.seam_trim.builder import TrimBuilder
from scenes.kinds.seam_trim.rest import rest_warnings
from scenes.kinds.seam_trim.room import room_warnings

__all__ = ["bench_warnings", "entries"]


def entries(builder: TrimBuilder, uses: tuple[ThreadUse, ...], wrap: WrapContext) -> Entries:
    """List what a seam trim brings to the bench: turns, thread and how it is wound.

    Parameters
    ----------
    builder : TrimBuilder
    uses : tuple of ThreadUse
        Thread that the layer took.
    wrap : WrapContext
        Built at any detail.
    """
    start, end = builder.span
    runs = [line for line in builder.lines if isinstance(line, StripEdge)]
    order = ", ".join(
        f"{len(list(same))} {name}"
        for name, same in itertools.groupby(use.thread.name for use in uses)
    )
    if runs:
        pieces = sum(line.winding.starts for line in runs)
        turns = sum(line.winding.starts * line.winding.turns(start, end) for line in runs)
        needs = tuple(
            ThreadNeed(
                need.use, need.thread, need.threads, need.length, need.pieces, turns * need.threads
            )
            for need in by_thread(uses, pieces)
        )
        work = sentence(
            "Along {edges}, from the relief outwards: {order}. Tape the tails down beyond {start} "
            "and {end}; tie the ends in there, under a few turns of thread or the rings that "
            "follow, and cut the tails flush.",
            edges=_edges(builder),
            order=order,
            start=Amount(start, Kind.LENGTH, bare=True),
            end=Amount(end, Kind.LENGTH),
        )
    else:
        laid = [use.thread for use in uses]
        needs = tuple(ring_needs(laid, uses, len(builder.lines)))
        work = sentence(
            "As rings at {edges}, from the relief outwards: {order}. Hold each start under its "
            "first turns, opposite the guide line; draw the end in under the last three with a "
            "loop of thread, and cut it flush.",
            edges="both ends" if len(builder.lines) == 2 else "one end",
            order=order,
        )
    riding = any(room_warnings(builder))
    check = (
        "Leave off the threads that have no room; the others side by side without a gap."
        if riding
        else "Threads side by side without a gap, none riding on another; both edges alike."
    )
    step = Step(
        "Lay the trim" if builder.path == "trim" else f"Lay {builder.path}",
        work,
        sentence(check),
        "Blades are bare: cut away from the hand.",
    )
    return Entries(threads=needs, steps=(step,))


def bench_warnings(builder: TrimBuilder) -> Iterator[Sentence]:
    """Warn of a trim that does not lie flat beside the relief, or slides off the ramp there.

    Parameters
    ----------
    builder : TrimBuilder
    """
    yield from room_warnings(builder)
    yield from rest_warnings(builder)


def _edges(builder: TrimBuilder) -> str:
    return "both edges of the strip" if len(builder.lines) == 2 else "one edge of the strip"
