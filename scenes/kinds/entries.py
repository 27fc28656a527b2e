"""What one layer brings to the bench.

The thread of every layer is known already (`scenes.kinds.builder.LayerResult.threads`), so a new
kind gets its metres, grams and cost without code of its own. Everything else comes from one
function, `entries` in the kind's `bench.py`:

    def entries(builder: RingsBuilder, uses: tuple[ThreadUse, ...], wrap: WrapContext) -> Entries:
        return Entries(sections=(...), threads=by_thread(uses), steps=(...))
"""

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from materials.thread import Thread
from scenes.figures.figures import Amount, Kind, Mark, Section, Sentence, Step, sentence
from scenes.kinds.builder import LayerBuilder, ThreadUse, WrapContext
from scenes.parts.bench import BenchSpec
from scenes.quantities import counted

__all__ = [
    "LATHE_SAFETY",
    "TURNING_SAFETY",
    "Entries",
    "Mass",
    "ThreadNeed",
    "by_thread",
    "default_entries",
    "default_marks",
    "finish_density_words",
    "finish_marks",
    "ring_needs",
    "square_ends",
    "thread_runs",
]

LATHE_SAFETY = (
    "Nothing loose near the turning blank: no sleeves, hair or cloth; stop it before you reach in."
)

TURNING_SAFETY = f"{LATHE_SAFETY} Blades are bare: cut away from the hand."

_HAND_LED_SHARE = 0.03
"""Relative uncertainty of the length of a thread led by hand (from memory)."""


@dataclass(frozen=True, slots=True)
class ThreadNeed:
    """Thread of one kind for one layer.

    Parameters
    ----------
    use : str
        Path of the layer: ``cover``, ``trim``.
    thread : Thread
    threads : int
        Number of threads side by side.
    length : float
        Length on the blank without tails and waste, mm.
    pieces : int
        Number of pieces; each has two tails.
    turns : float
        Turns round the blank, in all; 0 where they are not counted.
    share : float
        Relative uncertainty of `length`.
    on_lathe : bool
        Whether it is wound with the lathe running; else it is led by hand.
    pulled_out : bool
        Whether it is pulled out again.
    at_ends : float
        Length wound round the blank beside the layer to hold the thread, and cut away later, mm.
    reserve : float
        Length that it may take besides, where the layer may turn out longer, mm.
    """

    use: str
    thread: Thread
    threads: int
    length: float
    pieces: int
    turns: float = 0.0
    share: float = _HAND_LED_SHARE
    on_lathe: bool = False
    pulled_out: bool = False
    at_ends: float = 0.0
    reserve: float = 0.0

    @property
    def mass_g(self) -> float:
        """Mass on the blank, from its tex, g."""
        return 0.0 if self.pulled_out else self.thread.mass_g(self.length / 1000)


def by_thread(uses: tuple[ThreadUse, ...], pieces: int = 1) -> tuple[ThreadNeed, ...]:
    """Sum up uses of the same thread.

    Parameters
    ----------
    uses : tuple of ThreadUse
    pieces : int
        Number of times that each use is started and cut.
    """
    sums: dict[str, list[ThreadUse]] = {}
    for use in uses:
        sums.setdefault(use.thread.name, []).append(use)
    return tuple(
        ThreadNeed(
            same[0].use,
            same[0].thread,
            len(same),
            sum(use.length for use in same),
            pieces * len(same),
        )
        for same in sums.values()
    )


def thread_runs(threads: Sequence[Thread]) -> list[tuple[Thread, int]]:
    """Group neighbouring threads of one kind, with their number.

    Parameters
    ----------
    threads : sequence of Thread
        In the order in which they lie.
    """
    return [
        (same[0], len(same))
        for same in (list(group) for _, group in itertools.groupby(threads, lambda t: t.name))
    ]


def ring_needs(
    laid: Sequence[Thread], uses: tuple[ThreadUse, ...], ends: int
) -> Iterator[ThreadNeed]:
    """Thread for rings: turns of one thread side by side are wound without cutting it.

    Parameters
    ----------
    laid : sequence of Thread
        One for each turn of one band, in their order.
    uses : tuple of ThreadUse
        Of all bands together.
    ends : int
        Number of bands.
    """
    bands = [thread.name for thread, _ in thread_runs(laid)]
    for need in by_thread(uses):
        yield ThreadNeed(
            need.use,
            need.thread,
            need.threads,
            need.length,
            ends * bands.count(need.thread.name),
            float(ends * need.threads),
            on_lathe=True,
        )


def square_ends(what: str, start: float, end: float) -> Step:
    """Write the step that cuts the ends of a relief square and clears them.

    Parameters
    ----------
    what : str
        ``the strip``, ``the cords``.
    start, end : float
        Where the relief ends, mm from the butt.
    """
    return Step(
        "Square the ends",
        sentence(
            "Hold {what} by a turn of thin tape just inside {start} and {end}, and cut square "
            "there. Take off tails and their tape; the thin tape as thread comes to it.",
            what=what,
            start=Amount(start, Kind.LENGTH),
            end=Amount(end, Kind.LENGTH),
        ),
        sentence("Both ends square and flush."),
        "Bare blade: away from the hand, not into the blank.",
    )


def default_marks(bench: BenchSpec, *fields: str) -> tuple[Mark, ...]:
    """Mark of a figure that rests on a default of some fields of the bench.

    Parameters
    ----------
    bench : BenchSpec
    *fields : str
        Names of the fields.
    """
    return (Mark.DEFAULT,) if any(bench.invented(field) for field in fields) else ()


def finish_marks(bench: BenchSpec) -> tuple[Mark, ...]:
    """Mark of a weight of finish that rests on a default density or ratio.

    Parameters
    ----------
    bench : BenchSpec
    """
    return default_marks(bench, "resin_density", "hardener_density", "mix_ratio")


def finish_density_words(bench: BenchSpec) -> str:
    """Write the density of the mixed finish, and where it comes from.

    Parameters
    ----------
    bench : BenchSpec
    """
    return (
        f"{bench.finish_density:.4g} g/cm3, {counted(bench.mix_ratio, 'part')} of resin of "
        f"{bench.resin_density:g} to 1 of hardener of {bench.hardener_density:g}, volumes added up"
    )


@dataclass(frozen=True, slots=True)
class Mass:
    """Mass of a layer without its thread, which follows from `ThreadNeed`.

    Parameters
    ----------
    name : str
    grams : float
    plus_minus : float
        g.
    at : float
        Distance of its centre from the butt, mm.
    how : Sentence
    marks : tuple of Mark
    """

    name: str
    grams: float
    plus_minus: float
    at: float
    how: Sentence
    marks: tuple[Mark, ...] = ()


@dataclass(frozen=True, slots=True)
class Entries:
    """What one layer brings to the bench.

    Parameters
    ----------
    sections : tuple of Section
        Merged with sections of other layers that have the same key.
    threads : tuple of ThreadNeed
        The bench sums them up, checks the spools, weighs and prices them.
    masses : tuple of Mass
    steps : tuple of Step
        Steps of this layer in the order of work.
    air : float
        Air under its threads, which the first coat of finish may fill, mm³.
    """

    sections: tuple[Section, ...] = ()
    threads: tuple[ThreadNeed, ...] = ()
    masses: tuple[Mass, ...] = ()
    steps: tuple[Step, ...] = ()
    air: float = 0.0


def default_entries(
    builder: LayerBuilder[Any], uses: tuple[ThreadUse, ...], wrap: WrapContext
) -> Entries:
    """Entries of a kind without entries of its own: its thread and one plain step.

    Parameters
    ----------
    builder : LayerBuilder
        One of ``wrap.plan.builders``.
    uses : tuple of ThreadUse
        Thread that the layer took.
    wrap : WrapContext
        Built at any detail.
    """
    step = Step(f"Lay the {builder.progress_label}", sentence("Lay it as the picture shows."))
    return Entries(threads=by_thread(uses), steps=(step,))
