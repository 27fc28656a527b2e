"""Thread in metres: the load for each layer, and whether the spools hold it."""

from collections.abc import Iterator, Sequence

from materials.shelf import Shelf
from materials.thread import Thread
from scenes.figures.figures import (
    Amount,
    Column,
    Kind,
    Mark,
    Section,
    SectionKey,
    Sentence,
    Table,
    sentence,
)
from scenes.kinds.entries import ThreadNeed
from scenes.parts.bench import BenchSpec

__all__ = ["Spool", "lathe_turns", "needed_spools", "spool_warnings", "threads_section"]

_METRE = 1000.0


class Spool:
    """The demand of a wrap for one thread of the shelf.

    Parameters
    ----------
    thread : Thread
        Thread of the shelf.
    load : float
        Length with tails and waste, mm.
    """

    __slots__ = ("load", "thread")

    def __init__(self, thread: Thread, load: float) -> None:
        self.thread, self.load = thread, load

    @property
    def left(self) -> float:
        """Length left on the builder's spool, mm."""
        return self.thread.at_hand_m * _METRE

    @property
    def cost(self) -> float:
        """Cost of the load, at the price of a spool."""
        return self.load / _METRE / self.thread.spool_m * self.thread.price

    @property
    def to_buy(self) -> int:
        """New spools needed besides the one at hand."""
        short = self.load - self.left
        return 0 if short <= 0 else int(-(-short // (self.thread.spool_m * _METRE)))


def load_of(need: ThreadNeed, bench: BenchSpec) -> float:
    """Length to load, mm: thread on the blank and at its ends, reserve, tails and waste.

    Parameters
    ----------
    need : ThreadNeed
    bench : BenchSpec
        Tails and waste.
    """
    held = need.at_ends + 2 * bench.thread_tail * need.pieces
    return (need.length + need.reserve + held) * (1 + bench.waste)


def nearest_on_shelf(thread: Thread, shelf: Shelf) -> Thread:
    """Find a thread on the shelf; for a graded shade, the nearest of its kind.

    Parameters
    ----------
    thread : Thread
    shelf : Shelf
    """
    if thread.name in shelf:
        return shelf.thread(thread.name)
    return shelf.nearest(thread.linear_rgb, thread.kind, 1)[0]


def needed_spools(needs: Sequence[ThreadNeed], shelf: Shelf, bench: BenchSpec) -> tuple[Spool, ...]:
    """Sum up the thread of all layers by thread of the shelf.

    Parameters
    ----------
    needs : sequence of ThreadNeed
        Thread of every layer.
    shelf : Shelf
    bench : BenchSpec
        Tails and waste.
    """
    sums: dict[str, Spool] = {}
    for need in needs:
        thread = nearest_on_shelf(need.thread, shelf)
        spool = sums.setdefault(thread.name, Spool(thread, 0.0))
        spool.load += load_of(need, bench)
    return tuple(sums.values())


def threads_section(needs: Sequence[ThreadNeed], shelf: Shelf, bench: BenchSpec) -> Section:
    """List threads and spools; an empty section where there is no thread.

    Parameters
    ----------
    needs : sequence of ThreadNeed
        Thread of every layer.
    shelf : Shelf
    bench : BenchSpec
        Tails and waste.
    """
    if not needs:
        return Section(SectionKey.THREADS)
    marks = tuple({Mark.DEFAULT for field in ("thread_tail", "waste") if bench.invented(field)})
    carried = any(need.at_ends for need in needs)
    reserved = any(need.reserve for need in needs)
    how = sentence(
        "on the blank, {carried}{reserved}and tails of {tail} at both ends of each piece, and "
        "{waste} for waste",
        carried="and the turns that hold a carried thread at the ends, " if carried else "",
        reserved="what a panel's warp takes if no picks lie on one another, " if reserved else "",
        tail=Amount(bench.thread_tail, Kind.LENGTH),
        waste=Amount(bench.waste, Kind.SHARE),
    )
    share = max((need.share for need in needs), default=0.0)
    columns = (
        Column("use", "layer"),
        Column("thread", "thread"),
        Column("size", "size"),
        Column("colour", "colour"),
        Column("threads", "threads", Kind.COUNT),
        Column("pieces", "pieces", Kind.COUNT, sentence("each is started and cut once")),
        Column("turns", "turns", Kind.NUMBER, sentence("round the blank, in all"), share=share),
        Column(
            "on_blank",
            "on the blank",
            Kind.THREAD_LENGTH,
            sentence("summed along the centre line of the thread as it lies"),
            share=share,
        ),
        Column("load", "load", Kind.THREAD_LENGTH, how, share=share, marks=marks),
        Column(
            "mass", "weight", Kind.MASS, sentence("from its tex, g per km (ISO 1144)"), share=share
        ),
        Column(
            "nearest",
            "take from the shelf",
            how=sentence("for a shade between two: the shelf's nearest by CIEDE2000"),
        ),
    )
    rows = tuple(
        (
            need.use,
            need.thread.name,
            need.thread.size,
            need.thread.colour,
            need.threads,
            need.pieces,
            need.turns or None,
            None if need.pulled_out else need.length,
            load_of(need, bench),
            None if need.pulled_out else need.mass_g,
            "" if need.thread.name in shelf else nearest_on_shelf(need.thread, shelf).name,
        )
        for need in needs
    )
    listed = Table("threads", "threads, layer by layer", columns, rows)
    return Section(SectionKey.THREADS, tables=(listed, _spool_table(needs, shelf, bench, marks)))


def _spool_table(
    needs: Sequence[ThreadNeed], shelf: Shelf, bench: BenchSpec, marks: tuple[Mark, ...]
) -> Table:
    share = max((need.share for need in needs), default=0.0)
    columns = (
        Column("thread", "thread"),
        Column(
            "load",
            "load in all",
            Kind.THREAD_LENGTH,
            sentence("all layers together"),
            share=share,
            marks=marks,
        ),
        Column(
            "left",
            "left on the spool",
            Kind.THREAD_LENGTH,
            sentence("the shelf's left, or a new spool where it does not say"),
        ),
        Column("enough", "enough"),
        Column(
            "cost",
            "cost",
            Kind.MONEY,
            sentence("of the load, at the shelf's price of a spool"),
            share=share,
        ),
    )
    rows = tuple(
        (spool.thread.name, spool.load, spool.left, "no" if spool.to_buy else "yes", spool.cost)
        for spool in needed_spools(needs, shelf, bench)
    )
    return Table("spools", "what the spools must have", columns, rows)


def spool_warnings(spools: Sequence[Spool]) -> Iterator[Sentence]:
    """Warn of spools that hold too little.

    Parameters
    ----------
    spools : sequence of Spool
        Spools that the wrap takes from.
    """
    for spool in spools:
        if spool.to_buy:
            more = "another spool" if spool.to_buy == 1 else f"{spool.to_buy} more spools"
            yield sentence(
                "{thread}: load {load}; the spool has {left}, so have {more} ready before you "
                "start.",
                thread=spool.thread.name,
                load=Amount(spool.load, Kind.THREAD_LENGTH),
                left=Amount(spool.left, Kind.THREAD_LENGTH),
                more=more,
            )


def lathe_turns(needs: Sequence[ThreadNeed]) -> float:
    """Turns wound with the lathe running.

    Parameters
    ----------
    needs : sequence of ThreadNeed
    """
    return sum(need.turns for need in needs if need.on_lathe)
