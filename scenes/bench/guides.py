"""Bench entries of the feet of guides: thread, and how they are bound."""

from scenes.building.build import Plan
from scenes.figures.figures import Amount, Kind, Step, sentence
from scenes.figures.trust import SHELF_WIDTH_SHARE
from scenes.kinds.builder import ThreadUse
from scenes.kinds.entries import TURNING_SAFETY, Entries, ThreadNeed, ring_needs
from scenes.stage.feet import foot_thread_uses

__all__ = ["guides_entries"]


def guides_entries(plan: Plan) -> Entries:
    """List the thread for the feet of guides, and one step for all of them.

    Parameters
    ----------
    plan : Plan
    """
    needs: list[ThreadNeed] = []
    feet = foot_thread_uses(plan)
    for placed, uses in feet:
        foot, own = placed.foot, uses
        if foot.underwrap is not None and placed.underwrap is not None:
            needs.append(_wound(uses[0], placed.underwrap[1] - placed.underwrap[0], 1))
            own = uses[1:]
        rings = [plan.shelf.thread(run.thread) for run in foot.rings for _ in range(run.count)]
        wide = sum(thread.diameter_mm for thread in rings)
        length = sum(end - start for start, end in placed.wraps) - 2 * wide
        # Rings divide the wrap unless they lie at its end.
        needs.append(_wound(own[0], length, 4 if rings and foot.inset else 2))
        needs += ring_needs(rings, own[1:], 2)
    if not feet:
        return Entries()
    places = {f"at{number}": placed.foot.at for number, (placed, _) in enumerate(feet)}
    where = ", ".join(f"{{{name}}}" for name in places)
    return Entries(
        threads=tuple(needs),
        steps=(
            Step(
                "Bind the guides",
                sentence(
                    f"At {where}: bind both ends of each foot from beyond its tip up to the frame, "
                    "over its underwrap and with its rings where the design has them. File the "
                    "tips of the feet thin and smooth first, so that thread climbs without a gap.",
                    **{name: Amount(at, Kind.LENGTH) for name, at in places.items()},
                ),
                sentence("Guides in line along the guide line, and no row parted on the ramp."),
                f"Filings are sharp: wear glasses, wipe them off. {TURNING_SAFETY}",
            ),
        ),
    )


def _wound(use: ThreadUse, length: float, pieces: int) -> ThreadNeed:
    turns = round(max(length, 0.0) / use.thread.diameter_mm)
    return ThreadNeed(
        use.use, use.thread, 1, use.length, pieces, float(turns), SHELF_WIDTH_SHARE, on_lathe=True
    )
