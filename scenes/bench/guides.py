"""Bench entries of the feet of guides: thread, finish, and how they are bound."""

from dataclasses import dataclass

from geometry.rod_mass import MassIntegrals, uniform
from scenes.bench.coats import FeetCoats
from scenes.building.build import Plan
from scenes.figures.figures import Amount, Kind, Step, sentence
from scenes.figures.trust import SHELF_WIDTH_SHARE
from scenes.kinds.builder import ThreadUse
from scenes.kinds.entries import TURNING_SAFETY, Entries, ThreadNeed, ring_needs
from scenes.stage.feet import FootAmounts, foot_amounts, inlaid_threads

__all__ = ["BoundFeet", "guides_entries", "no_guides"]


@dataclass(frozen=True, slots=True)
class BoundFeet:
    """What binds the guides of a rod.

    Parameters
    ----------
    entries : Entries
        Thread and work.
    coats : FeetCoats
        Finish.
    mass : MassIntegrals
        Thread and finish of every guide, each spread over its binding.
    """

    entries: Entries
    coats: FeetCoats
    mass: MassIntegrals


def guides_entries(plan: Plan) -> BoundFeet:
    """List the thread for the feet of guides, one step for all of them, and their coats of finish.

    Parameters
    ----------
    plan : Plan
    """
    needs: list[ThreadNeed] = []
    feet = foot_amounts(plan)
    for amounts in feet:
        placed, uses = amounts.placed, amounts.threads
        own, binding, ends = uses, placed.binding, len(placed.wraps)
        if binding.underwrap is not None and placed.underwrap is not None:
            needs.append(_wound(uses[0], placed.underwrap[1] - placed.underwrap[0], 1))
            own = uses[1:]
        inlaid = inlaid_threads(binding, plan.shelf)
        wide = sum(thread.diameter_mm for threads in inlaid.values() for thread in threads)
        length = sum(end - start for start, end in placed.wraps) - ends * wide
        # Rings divide the wrap unless they lie at its end; a band always does.
        pieces = 1 + bool(binding.rings and binding.inset) + bool(binding.band)
        needs.append(_wound(own[0], length, ends * pieces))
        own = own[1:]
        for threads in inlaid.values():
            needs += ring_needs(threads, own[: len(threads)], ends)
            own = own[len(threads) :]
    coats = tuple(sum(foot.coats[n] for foot in feet) for n in range(len(plan.coats)))
    finish = FeetCoats(coats, sum(foot.air for foot in feet))
    if not feet:
        return no_guides(plan)
    places = {f"at{number}": amounts.placed.foot.at for number, amounts in enumerate(feet)}
    where = ", ".join(f"{{{name}}}" for name in places)
    entries = Entries(
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
    return BoundFeet(entries, finish, MassIntegrals.total(_mass(plan, foot) for foot in feet))


def no_guides(plan: Plan) -> BoundFeet:
    """What `guides_entries` lists where no guide is bound.

    Parameters
    ----------
    plan : Plan
    """
    return BoundFeet(Entries(), FeetCoats((0.0,) * len(plan.coats), 0.0), MassIntegrals.total(()))


def _mass(plan: Plan, amounts: FootAmounts) -> MassIntegrals:
    """Thread and finish of one guide, spread from end to end of its binding."""
    bench = plan.design.bench
    thread = sum(use.thread.mass_g(use.length / 1000) for use in amounts.threads)
    soaked = bench.soak * amounts.air if plan.coats else 0.0
    ends = [place for span in amounts.placed.wraps for place in span]
    return uniform(thread + bench.finish_mass(sum(amounts.coats) + soaked), min(ends), max(ends))


def _wound(use: ThreadUse, length: float, pieces: int) -> ThreadNeed:
    turns = round(max(length, 0.0) / use.thread.diameter_mm)
    return ThreadNeed(
        use.use, use.thread, 1, use.length, pieces, float(turns), SHELF_WIDTH_SHARE, on_lathe=True
    )
