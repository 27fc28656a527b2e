"""What rings bring to the bench, those of a wrap and those on the feet of guides."""

import itertools
from collections.abc import Iterator, Sequence

from geometry.trim import Edge as Side
from materials.thread import Thread
from scenes.bench.entries import Entries, ThreadNeed, by_thread, entries_of
from scenes.bench.figures import (
    Amount,
    Column,
    Kind,
    Section,
    SectionKey,
    Step,
    Table,
    said,
)
from scenes.bench.trust import MARK_MM, SHELF_WIDTH_SHARE
from scenes.build import Plan, Wrap
from scenes.feet import foot_uses
from scenes.laying.base import ThreadUse
from scenes.laying.rings import RingsLaying

__all__ = ["guides_entries", "runs"]

_TURNING = (
    "Nothing loose near the turning blank: no sleeves, hair or cloth; stop it before you reach in. "
    "Blades are bare: cut away from the hand."
)


def runs(threads: Sequence[Thread]) -> list[tuple[Thread, int]]:
    """Threads of one kind side by side, and how many."""
    return [
        (same[0], len(same))
        for same in (list(group) for _, group in itertools.groupby(threads, lambda t: t.name))
    ]


@entries_of.register
def _(laying: RingsLaying, uses: tuple[ThreadUse, ...], wrap: Wrap) -> Entries:
    order = ", ".join(f"{count} {thread.name}" for thread, count in runs(laying.laid))
    where = "both ends" if len(laying.bands) == 2 else "one end"
    inlaid = laying.layer.inlaid
    work = (
        "In the cover at {where}, from the end inwards: {order}. Wind them along with the cover, "
        "in place of its rows; tie each thread in opposite the guide line and let the next bind "
        "its end down."
        if inlaid
        else "Over the wrap at {where}, from the end inwards: {order}. Tie each thread in opposite "
        "the guide line and let the next bind its end down."
    )
    step = Step(
        "Wind the rings" if laying.path == "rings" else f"Wind {laying.path}",
        said(work, where=where, order=order),
        said(
            "A band is {width} wide, its threads side by side; both ends alike.",
            width=Amount(laying.width, Kind.LENGTH),
        ),
        _TURNING,
    )
    return Entries(
        sections=(Section(SectionKey.PATTERN, tables=(_table(laying),)),),
        threads=tuple(_needs(laying.laid, uses, len(laying.bands))),
        steps=(step,),
    )


def _table(laying: RingsLaying) -> Table:
    """Where every run of threads begins and ends, from the butt on."""
    rows = []
    for side, (first, _) in laying.bands.items():
        listed = runs(laying.laid if side is Side.LOWER else laying.laid[::-1])
        at = first
        for thread, count in listed:
            end = at + count * thread.diameter_mm
            rows.append((thread.name, count, at, end, end - at))
            at = end
    return Table(
        f"{laying.path}_rings",
        f"{laying.path}, from the butt on",
        (
            Column("thread", "thread"),
            Column("count", "turns", Kind.COUNT),
            Column("start", "from", Kind.LENGTH, said("distance from the butt"), MARK_MM),
            Column("end", "to", Kind.LENGTH, said("distance from the butt"), MARK_MM),
            Column(
                "width",
                "width",
                Kind.LENGTH,
                said("by the threads' widths on the shelf"),
                share=SHELF_WIDTH_SHARE,
            ),
        ),
        tuple(rows),
    )


def _needs(laid: Sequence[Thread], uses: tuple[ThreadUse, ...], ends: int) -> Iterator[ThreadNeed]:
    """Turns of one thread side by side are wound without cutting it."""
    bands = [thread.name for thread, _ in runs(laid)]
    for one in by_thread(uses):
        yield ThreadNeed(
            one.use,
            one.thread,
            one.threads,
            one.length,
            ends * bands.count(one.thread.name),
            float(ends * one.threads),
            on_lathe=True,
        )


def guides_entries(plan: Plan) -> Entries:
    """What binding the feet of guides brings: thread, and one step for all of them."""
    needs: list[ThreadNeed] = []
    feet = foot_uses(plan)
    for one, uses in feet:
        foot, own = one.foot, uses
        if foot.underwrap is not None and one.underwrap is not None:
            needs.append(_wound(uses[0], one.underwrap[1] - one.underwrap[0], 1))
            own = uses[1:]
        rings = [plan.shelf.thread(run.thread) for run in foot.rings for _ in range(run.count)]
        wide = sum(thread.diameter_mm for thread in rings)
        length = sum(end - start for start, end in one.wraps) - 2 * wide
        # Rings part the wrap where they do not lie at its very end.
        needs.append(_wound(own[0], length, 4 if rings and foot.inset else 2))
        needs += _needs(rings, own[1:], 2)
    if not feet:
        return Entries()
    places = {f"at{number}": one.foot.at for number, (one, _) in enumerate(feet)}
    where = ", ".join(f"{{{name}}}" for name in places)
    return Entries(
        threads=tuple(needs),
        steps=(
            Step(
                "Bind the guides",
                said(
                    f"At {where}: bind both ends of each foot from beyond its tip up to the frame, "
                    "over its underwrap and with its rings where the design has them. File the "
                    "tips of the feet thin and smooth first, so that thread climbs without a gap.",
                    **{name: Amount(at, Kind.LENGTH) for name, at in places.items()},
                ),
                said("Guides in line along the guide line, and no row parted on the ramp."),
                f"Filings are sharp: wear glasses, wipe them off. {_TURNING}",
            ),
        ),
    )


def _wound(use: ThreadUse, length: float, pieces: int) -> ThreadNeed:
    turns = round(max(length, 0.0) / use.thread.diameter_mm)
    return ThreadNeed(
        use.use, use.thread, 1, use.length, pieces, float(turns), SHELF_WIDTH_SHARE, on_lathe=True
    )
