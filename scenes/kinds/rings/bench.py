"""Bench entries of rings: thread, step, and a table of places."""

from geometry.layers.trim import Edge as Side
from scenes.figures.figures import (
    Amount,
    Column,
    Kind,
    Section,
    SectionKey,
    Sentence,
    Step,
    Table,
    sentence,
)
from scenes.figures.trust import MARK_MM, SHELF_WIDTH_SHARE
from scenes.kinds.builder import ThreadUse, WrapContext
from scenes.kinds.entries import TURNING_SAFETY, Entries, ring_needs, thread_runs
from scenes.kinds.rings.builder import RingsBuilder

__all__ = ["entries"]


def entries(builder: RingsBuilder, uses: tuple[ThreadUse, ...], wrap: WrapContext) -> Entries:
    """List what rings bring to the bench: places, thread and how they are wound.

    Parameters
    ----------
    builder : RingsBuilder
    uses : tuple of ThreadUse
        Thread that the layer took.
    wrap : WrapContext
        Built at any detail.
    """
    order = ", ".join(
        f"{count} {thread.name}" for thread, count in thread_runs(builder.ordered_threads)
    )
    both = len(builder.bands) == 2
    (start, end), *_ = builder.bands.values()
    where, way = (
        ("at both ends, from the end inwards", "")
        if both
        else (
            "from {start} to {end} from the butt",
            ", towards the tip" if Side.LOWER in builder.bands else ", towards the butt",
        )
    )
    inlaid = builder.layer.inlaid
    work = (
        f"In the cover {where}{way}: {{order}}. Wind them along with the cover, "
        "in place of its rows; tie each thread in opposite the guide line and let the next bind "
        "its end down."
        if inlaid
        else f"Over the wrap {where}{way}: {{order}}. Tie each thread in opposite "
        "the guide line and let the next bind its end down."
    )
    step = Step(
        "Wind the rings" if builder.path == "rings" else f"Wind {builder.path}",
        Sentence(
            work,
            {"order": order}
            | (
                {}
                if both
                else {"start": Amount(start, Kind.LENGTH), "end": Amount(end, Kind.LENGTH)}
            ),
        ),
        sentence(
            f"{'A' if both else 'The'} band is {{width}} wide, its threads side by side"
            f"{'; both ends alike' if both else ''}.",
            width=Amount(builder.width, Kind.LENGTH),
        ),
        TURNING_SAFETY,
    )
    return Entries(
        sections=(Section(SectionKey.PATTERN, tables=(_table(builder),)),),
        threads=tuple(ring_needs(builder.ordered_threads, uses, len(builder.bands))),
        steps=(step,),
    )


def _table(builder: RingsBuilder) -> Table:
    """Table of where every run of threads begins and ends, from the butt on."""
    rows = []
    for side, (first, _) in builder.bands.items():
        listed = thread_runs(
            builder.ordered_threads if side is Side.LOWER else builder.ordered_threads[::-1]
        )
        at = first
        for thread, count in listed:
            end = at + count * thread.diameter_mm
            rows.append((thread.name, count, at, end, end - at))
            at = end
    return Table(
        f"{builder.path}_rings",
        f"{builder.path}, from the butt on",
        (
            Column("thread", "thread"),
            Column("count", "turns", Kind.COUNT),
            Column("start", "from", Kind.LENGTH, sentence("distance from the butt"), MARK_MM),
            Column("end", "to", Kind.LENGTH, sentence("distance from the butt"), MARK_MM),
            Column(
                "width",
                "width",
                Kind.LENGTH,
                sentence("by the threads' widths on the shelf"),
                share=SHELF_WIDTH_SHARE,
            ),
        ),
        tuple(rows),
    )
