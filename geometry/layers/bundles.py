"""Bundles of threads that grow side by side: where each thread of a lay sequence lies."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from geometry.layers.crossed import Pass
from geometry.winding import Hand

__all__ = ["Course", "Side", "bundle_width", "passes"]


class Side(StrEnum):
    """Where in its bundle a thread is added, looking along the blank."""

    CENTRE = "centre"
    BUTT = "butt"
    TIP = "tip"


@dataclass(frozen=True, slots=True)
class Course:
    """Threads of one kind laid side by side in one go, on some bundles in turn.

    Parameters
    ----------
    starts : tuple of int
        Numbers of the bundles, in the order in which they are visited.
    hand : Hand
        Which way they climb.
    side : Side
        At the centre they lie on whatever is there; else outside what was laid before.
    count : int
        Threads on each bundle.
    diameter : float
        Diameter of a thread, mm.
    material : int
        Palette index.
    """

    starts: tuple[int, ...]
    hand: Hand
    side: Side
    count: int
    diameter: float
    material: int


def passes(courses: Iterable[Course]) -> tuple[tuple[Pass, ...], ...]:
    """Place every thread of a lay sequence.

    Parameters
    ----------
    courses : iterable of Course
        In the order in which they are laid.

    Returns
    -------
    tuple of tuple of Pass
        One inner tuple for each course, bundle by bundle, each from its middle outwards.
    """
    edges: dict[tuple[int, Hand], tuple[float, float]] = {}
    laid = []
    for course in courses:
        part: list[Pass] = []
        for start in course.starts:
            low, high = edges.get((start, course.hand), (0.0, 0.0))
            first, step = _placed(course, low, high)
            places = [first + step * number for number in range(course.count)]
            part += [
                Pass(start, course.hand, place, course.diameter, course.material)
                for place in places
            ]
            half = course.diameter / 2
            edges[start, course.hand] = (
                min(low, min(places) - half),
                max(high, max(places) + half),
            )
        laid.append(tuple(part))
    return tuple(laid)


def bundle_width(sequence: Iterable[Iterable[Pass]]) -> float:
    """Width of the widest bundle across its run, mm; 0 if nothing is laid.

    Parameters
    ----------
    sequence : iterable of iterable of Pass
        As `passes` gives it.
    """
    edges: dict[tuple[int, Hand], tuple[float, float]] = {}
    for thread in (thread for part in sequence for thread in part):
        bundle, half = (thread.start, thread.hand), thread.diameter / 2
        low, high = edges.get(bundle, (thread.across, thread.across))
        edges[bundle] = (min(low, thread.across - half), max(high, thread.across + half))
    return max((high - low for low, high in edges.values()), default=0.0)


def _placed(course: Course, low: float, high: float) -> tuple[float, float]:
    """Middle of the first thread of a course and the step to the next, mm."""
    width = course.diameter
    match course.side:
        case Side.TIP:
            return high + width / 2, width
        case Side.BUTT:
            return low - width / 2, -width
        case _:
            return -(course.count - 1) / 2 * width, width
