"""The work of a search from wishes to designs, from which its time is forecast."""

from collections.abc import Collection

from render.timing.work import BUILD, Work
from scenes.fit.measures import Measured
from scenes.problems import DESIGN_REFUSALS

__all__ = ["points_to_weigh", "work_of_search"]

_QUICK = 2.0
"""Seconds of a search for which no wrap is built, on the core of `render.timing.work`."""

_BUILT = 20
"""Wraps that a search builds for wishes that need it."""

_OFFERED = 3
"""Designs that are offered, each of which is built once to see what the bench warns of."""

_WRAP = 0.3
"""Seconds of a wrap of few points, beside those for its points."""


def points_to_weigh(measured: Measured) -> float:
    """Points of the grid of a design as it is built to be weighed, millions; 0 if it cannot be.

    Parameters
    ----------
    measured : Measured
    """
    try:
        return measured.points / 1e6
    except DESIGN_REFUSALS:
        return 0.0


def work_of_search(names: Collection[str], points: float, *, built: bool) -> Work:
    """Describe the work of a search; those with the same measures take about as long.

    Parameters
    ----------
    names : collection of str
        Measures that are wished for, and fields that are set.
    points : float
        As `points_to_weigh` gives them for the present design.
    built : bool
        Whether a wrap must be built for one of the wishes.
    """
    wraps = _OFFERED + (_BUILT if built else 0)
    estimate = _QUICK + wraps * (_WRAP + BUILD * points)
    return Work(f"search for {', '.join(sorted(names))}", "", estimate=estimate)
