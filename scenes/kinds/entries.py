"""What one layer brings to the bench, and how a kind of layer says so.

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
from scenes.figures.figures import Section, Sentence, Step, sentence
from scenes.kinds.builder import LayerBuilder, ThreadUse, WrapContext

__all__ = [
    "LATHE_SAFETY",
    "TURNING_SAFETY",
    "Entries",
    "Mass",
    "ThreadNeed",
    "by_thread",
    "default_entries",
    "ring_needs",
    "thread_runs",
]

LATHE_SAFETY = (
    "Nothing loose near the turning blank: no sleeves, hair or cloth; stop it before you reach in."
)

TURNING_SAFETY = f"{LATHE_SAFETY} Blades are bare: cut away from the hand."

_LED = 0.03
"""Share by which the length of a thread led by hand may be off (from memory)."""


@dataclass(frozen=True, slots=True)
class ThreadNeed:
    """Thread of one kind for one layer.

    Parameters
    ----------
    use : str
        Path of the layer: ``cover``, ``trim``.
    thread : Thread
    threads : int
        How many lie side by side.
    length : float
        On the blank, without tails or waste, mm.
    pieces : int
        How many times it is started and cut: each piece has two tails.
    turns : float
        Round the blank, in all; 0 where nobody counted.
    share : float
        Of `length`, by which it may be off.
    on_lathe : bool
        Whether it is wound with the lathe running; otherwise it is led by hand.
    pulled_out : bool
        Whether it is pulled out again, and nothing of it stays.
    """

    use: str
    thread: Thread
    threads: int
    length: float
    pieces: int
    turns: float = 0.0
    share: float = _LED
    on_lathe: bool = False
    pulled_out: bool = False

    @property
    def mass_g(self) -> float:
        """On the blank, from its tex, g."""
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


@dataclass(frozen=True, slots=True)
class Mass:
    """What a layer weighs, thread apart: that follows from `ThreadNeed`.

    Parameters
    ----------
    name : str
    grams : float
    plus_minus : float
        g.
    at : float
        Distance of its centre from the butt, mm.
    how : Sentence
    """

    name: str
    grams: float
    plus_minus: float
    at: float
    how: Sentence


@dataclass(frozen=True, slots=True)
class Entries:
    """What one layer brings to the bench.

    Parameters
    ----------
    sections : tuple of Section
        Merged with other layers' sections of the same key.
    threads : tuple of ThreadNeed
        Summed up, checked against the spools, weighed and priced by the bench itself.
    masses : tuple of Mass
    steps : tuple of Step
        Its part of the order of work; layers follow each other in bench order.
    warnings : tuple of Sentence
    """

    sections: tuple[Section, ...] = ()
    threads: tuple[ThreadNeed, ...] = ()
    masses: tuple[Mass, ...] = ()
    steps: tuple[Step, ...] = ()
    warnings: tuple[Sentence, ...] = ()


def default_entries(
    builder: LayerBuilder[Any], uses: tuple[ThreadUse, ...], wrap: WrapContext
) -> Entries:
    """What a layer brings to the bench of which its kind says nothing: thread and one plain step.

    Parameters
    ----------
    builder : LayerBuilder
        One of ``wrap.plan.builders``.
    uses : tuple of ThreadUse
        The thread that it took.
    wrap : WrapContext
        Built at any detail.
    """
    step = Step(f"Lay the {builder.progress_label}", sentence("Lay it as the picture shows."))
    return Entries(threads=by_thread(uses), steps=(step,))
