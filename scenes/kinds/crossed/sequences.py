"""Expansion of a pattern to its full lay sequence."""

from collections.abc import Callable, Iterable, Iterator
from itertools import groupby

from geometry.layers.bundles import Side
from geometry.winding import Hand
from scenes.kinds.crossed.model import Chevron, Course, Diamond, Towards

__all__ = ["written_out"]


def written_out(
    pattern: Diamond | Chevron, room: float, diameter: Callable[[str], float]
) -> tuple[Course, ...]:
    """Write the lay sequence of a pattern, every course on each axis in turn.

    Parameters
    ----------
    pattern : Diamond or Chevron
    room : float
        Distance between bundles across their run, mm, which a filled pattern fills.
    diameter : callable
        Gives the diameter of a thread by name, mm.

    Returns
    -------
    tuple of Course
        Steps of each hand in turn, right hand first.
    """
    if isinstance(pattern, Diamond):
        return tuple(_diamond(pattern, room, diameter))
    return tuple(_chevron(pattern, room, diameter))


def _diamond(pattern: Diamond, room: float, diameter: Callable[[str], float]) -> Iterator[Course]:
    middle, *others = pattern.threads
    for hand in Hand:
        yield Course(hand=hand, side=Side.CENTRE, thread=middle.thread, count=middle.count)
    names = [run.thread for run in others for _ in range(run.count)]
    if pattern.filled:
        last = pattern.threads[-1].thread
        wide = middle.count * diameter(middle.thread) + 2 * sum(map(diameter, names))
        names += [last] * max(0, round((room - wide) / (2 * diameter(last))))
    for name, count in _chunks(names, pattern.at_once):
        for hand in Hand:
            for side in (Side.TIP, Side.BUTT):
                yield Course(hand=hand, side=side, thread=name, count=count)


def _chevron(pattern: Chevron, room: float, diameter: Callable[[str], float]) -> Iterator[Course]:
    side = Side.TIP if pattern.towards is Towards.TIP else Side.BUTT
    names = [run.thread for run in pattern.threads for _ in range(run.count)]
    if pattern.filled:
        last = pattern.threads[-1].thread
        wide = sum(map(diameter, names))
        names += [last] * max(0, round((room - wide) / diameter(last)))
    for name, count in _chunks(names, pattern.at_once):
        for hand in Hand:
            yield Course(hand=hand, side=side, thread=name, count=count)


def _chunks(names: Iterable[str], most: int) -> Iterator[tuple[str, int]]:
    """Yield runs of one thread, at most `most` long."""
    for name, group in groupby(names):
        left = len(list(group))
        while left > 0:
            yield name, min(left, most)
            left -= most
