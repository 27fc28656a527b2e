"""What seam trims bring to the bench: turns, thread and how it is wound."""

import itertools
from collections.abc import Iterator

from geometry.layers.trim import StripEdge
from scenes.figures.figures import (
    Step,
    sentence,
)
from scenes.kinds.builder import ThreadUse, WrapContext
from scenes.kinds.entries import Entries, ThreadNeed, by_thread
from scenes.kinds.seam_trim.builder import TrimBuilder

__all__ = ["entries"]


def entries(builder: TrimBuilder, uses: tuple[ThreadUse, ...], wrap: WrapContext) -> Entries:
    """Say what a layer of this kind brings to the bench (`scenes.kinds.kind.Kind.entries`)."""
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
                one.use, one.thread, one.threads, one.length, one.pieces, turns * one.threads
            )
            for one in by_thread(uses, pieces)
        )
        work = sentence(
            "Along {edges}, from the relief outwards: {order}.", edges=_edges(builder), order=order
        )
    else:
        needs = tuple(_rings(builder, uses))
        work = sentence(
            "As rings at {edges}, from the relief outwards: {order}.",
            edges="both ends" if len(builder.lines) == 2 else "one end",
            order=order,
        )
    step = Step(
        "Lay the trim" if builder.path == "trim" else f"Lay {builder.path}",
        work,
        sentence("Threads side by side without a gap, none riding on another; both edges alike."),
    )
    return Entries(threads=needs, steps=(step,))


def _edges(builder: TrimBuilder) -> str:
    return "both edges of the strip" if len(builder.lines) == 2 else "one edge of the strip"


def _rings(builder: TrimBuilder, uses: tuple[ThreadUse, ...]) -> Iterator[ThreadNeed]:
    """Rings side by side of one thread are wound without cutting it."""
    lines = len(builder.lines)
    bands: dict[str, int] = {}
    for name, _same in itertools.groupby(use.thread.name for use in uses):
        bands[name] = bands.get(name, 0) + 1
    for one in by_thread(uses):
        yield ThreadNeed(
            one.use,
            one.thread,
            one.threads,
            one.length,
            lines * bands[one.thread.name],
            float(lines * one.threads),
            on_lathe=True,
        )
