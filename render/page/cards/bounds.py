"""How far a slider can go: to where the design would be refused, or would be warned of.

The bounds of a field alone are wide: a gap may be a metre. What ends a slider is the design around
it, and that is found by asking the design itself, so that it holds for every kind of layer.
"""

import math
from collections.abc import Callable

from scenes.design.document import Design, with_changes
from scenes.problems import DesignProblem

__all__ = ["Range", "tightened"]

Range = tuple[float, float, float]
"""Low and high end, and the step between places."""

_STEPS_ACROSS = 300
"""Steps from end to end, about: a pixel of a slider each."""


def tightened(
    design: Design, path: str, value: float, low: float, high: float, step: float
) -> Range:
    """Find the range around a value in which a design is right and gets no further warning.

    Parameters
    ----------
    design : Design
        In the units that the numbers are in; its variants do not count.
    path : str
        Of the field.
    value : float
        As the field stands; an int if the field holds whole numbers.
    low, high : float
        Its own bounds.
    step : float
        The finest step that makes sense.

    Returns
    -------
    low, high, step : float
        The ends, each right, with `value` between them; and a round step across the range.
    """
    bare = design.without_variants()
    most = len(bare.warnings)
    whole = isinstance(value, int)

    def right(number: float) -> bool:
        try:
            made = with_changes(bare, {path: int(number) if whole else number})
        except DesignProblem:
            return False
        return len(made.warnings) <= most

    ends = [_end(right, value, bound, step) for bound in (low, high)]
    across = ends[1] - ends[0]
    if whole:
        return int(ends[0]), int(ends[1]), 1
    return ends[0], ends[1], _round_step(across / _STEPS_ACROSS, step)


def _end(right: Callable[[float], bool], value: float, bound: float, step: float) -> float:
    """Find the last right place from a value towards a bound, to a step."""
    if bound == value or right(bound):
        return bound
    sign = 1 if bound > value else -1
    good, bad = 0, math.ceil(abs(bound - value) / step)
    while bad - good > 1:
        middle = (good + bad) // 2
        if right(_plain(value + sign * middle * step)):
            good = middle
        else:
            bad = middle
    found = _plain(value + sign * good * step)
    # A round number looks better, if there is one between the value and the end.
    tidy = _plain((math.floor if sign > 0 else math.ceil)(found / step) * step)
    return tidy if sign * (tidy - value) >= 0 else value


def _round_step(wanted: float, least: float) -> float:
    """The largest of 1, 2, 5, 10, ... that is not more than wanted, but no less than `least`."""
    if wanted <= least:
        return least
    power = 10.0 ** math.floor(math.log10(wanted) + 1e-9)
    step = next(power * factor for factor in (5, 2, 1) if power * factor <= wanted * (1 + 1e-9))
    return max(_plain(step), least)


def _plain(number: float) -> float:
    return float(f"{number:.9g}")
