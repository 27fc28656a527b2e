"""Time and cost: lathe time, hand time, thread, and a quote."""

from collections.abc import Iterator, Sequence

from scenes.bench.threads import Spool, lathe_turns
from scenes.figures.figures import (
    Amount,
    Figure,
    Kind,
    Mark,
    Section,
    SectionKey,
    Sentence,
    sentence,
)
from scenes.kinds.entries import ThreadNeed
from scenes.parts.bench import BenchSpec
from scenes.quantities import counted

__all__ = ["cost_section"]

_MINUTE, _HOUR = 60.0, 3600.0

_STEP_TIME, _LED_TIME = 15 * _MINUTE, 2 * _MINUTE
"""Time for a step, and for one thread led by hand, s: invented, no source."""

_GUESS_SHARE = 0.5
"""Relative uncertainty of that guess (invented)."""


def cost_section(
    needs: Sequence[ThreadNeed], spools: Sequence[Spool], bench: BenchSpec, steps: int
) -> Section:
    """List time and cost.

    Parameters
    ----------
    needs : sequence of ThreadNeed
        Thread of every layer and of the guides.
    spools : sequence of Spool
        The same by spool.
    bench : BenchSpec
        Speed, rate and other costs.
    steps : int
        Steps of the order of work.
    """
    return Section(
        SectionKey.COST,
        tuple(_figures(needs, spools, bench, steps)),
        notes=tuple(_notes(spools, bench)),
    )


def _figures(
    needs: Sequence[ThreadNeed], spools: Sequence[Spool], bench: BenchSpec, steps: int
) -> Iterator[Figure]:
    speed = (Mark.DEFAULT,) if bench.invented("lathe_speed") else ()
    turns = lathe_turns(needs)
    share = max((need.share for need in needs if need.on_lathe), default=0.0)
    lathe = turns / bench.lathe_speed * _MINUTE
    yield Figure(
        "lathe_time",
        "lathe time, without stops",
        lathe,
        Kind.TIME,
        sentence(
            "{turns} turns at {speed}",
            turns=Amount(turns, Kind.COUNT),
            speed=Amount(bench.lathe_speed, Kind.SPEED),
        ),
        share * lathe,
        speed,
        main=True,
    )
    hand = None if bench.hand_time is None else bench.hand_time * _MINUTE
    if hand is None:
        led = sum(max(need.threads, need.pieces) for need in needs if not need.on_lathe)
        guess = steps * _STEP_TIME + led * _LED_TIME
        yield Figure(
            "hand_time",
            "hand time, a guess",
            guess,
            Kind.TIME,
            sentence(
                "{steps} at {step} and {led} led by hand at {each}, not the waits "
                "between coats: invented, so give your own",
                steps=counted(steps, "step"),
                step=Amount(_STEP_TIME, Kind.TIME),
                led=counted(led, "thread"),
                each=Amount(_LED_TIME, Kind.TIME),
            ),
            _GUESS_SHARE * guess,
            (Mark.DEFAULT,),
            main=True,
        )
    else:
        yield Figure("hand_time", "hand time", hand, Kind.TIME, sentence("as entered"), main=True)
    tails = tuple({Mark.DEFAULT for f in ("thread_tail", "waste") if bench.invented(f)})
    spread = max((need.share for need in needs), default=0.0)
    thread = sum(spool.cost for spool in spools)
    yield Figure(
        "thread_cost",
        "thread",
        thread,
        Kind.MONEY,
        sentence("loads by metre, at the shelf's prices"),
        spread * thread,
        tails,
        main=True,
    )
    buy = sum(spool.to_buy for spool in spools)
    yield Figure(
        "spools_to_buy",
        "spools to buy",
        buy,
        Kind.COUNT,
        sentence("where the load is more than what is left"),
    )
    materials = thread + (bench.other_materials or 0.0)
    if bench.other_materials is not None:
        yield Figure(
            "materials",
            "all materials",
            materials,
            Kind.MONEY,
            sentence(
                "thread, and {other} for the rest, as entered",
                other=Amount(bench.other_materials, Kind.MONEY),
            ),
            spread * thread,
            tails,
        )
    if bench.rate is not None and hand is not None:
        hours = (lathe + hand) / _HOUR
        yield Figure(
            "quote",
            "quote",
            materials + hours * bench.rate,
            Kind.MONEY,
            sentence(
                "{hours} at {rate} an hour, and {materials} of materials",
                hours=Amount(lathe + hand, Kind.TIME),
                rate=Amount(bench.rate, Kind.MONEY),
                materials=Amount(materials, Kind.MONEY),
            ),
            spread * thread + share * lathe / _HOUR * bench.rate,
            tails + tuple(mark for mark in speed if mark not in tails),
            main=True,
        )


def _notes(spools: Sequence[Spool], bench: BenchSpec) -> Iterator[Sentence]:
    missing = [
        f"bench.{field}"
        for field in ("rate", "hand_time", "other_materials")
        if getattr(bench, field) is None
    ]
    if missing:
        yield sentence("Give {fields} for a quote of everything.", fields=" and ".join(missing))
    if any(spool.thread.price == 0 for spool in spools):
        yield sentence("A thread without a price on the shelf counts as nothing.")
