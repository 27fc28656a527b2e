"""The range of a slider: up to where the design would be refused, or would get a warning.

The bounds of a field alone are wide: a gap may be a metre. The useful range depends on the rest of
the design. It is found by trying values in the design itself, so that it holds for every kind of
layer.
"""

import math
from collections.abc import Callable

from scenes.design.document import Design, with_changes
from scenes.problems import DesignProblem

__all__ = ["Range", "tightened"]

Range = tuple[float, float, float]
"""Low end, high end, and step."""

_STEPS_ACROSS = 300
"""Approximate number of steps from end to end: one for each pixel of a slider."""


def tightened(
    design: Design, path: str, value: float, low: float, high: float, step: float
) -> Range:
    """Find the range around a value in which a design is valid and gets no further warning.

    Parameters
    ----------
    design : Design
        In the units of the numbers below; its variants are ignored.
    path : str
        Path of the field.
    value : float
        Present value of the field; an int if the field holds whole numbers.
    low, high : float
        The field's own bounds.
    step : float
        Finest useful step.

    Returns
    -------
    low, high, step : float
        Valid ends on either side of `value`, and a round step for the range.
    """
    bare = design.without_variants()
    most = len(bare.warnings)
    whole = isinstance(value, int)

    def is_valid(number: float) -> bool:
        try:
            made = with_changes(bare, {path: int(number) if whole else number})
        except DesignProblem:
            return False
        return len(made.warnings) <= most

    ends = [_end(is_valid, value, bound, step) for bound in (low, high)]
    across = ends[1] - ends[0]
    if whole:
        return int(ends[0]), int(ends[1]), 1
    return ends[0], ends[1], _round_step(across / _STEPS_ACROSS, step)


def _end(is_valid: Callable[[float], bool], value: float, bound: float, step: float) -> float:
    """Find the last valid number from `value` towards `bound`, to within a step, by bisection."""
    if bound == value or is_valid(bound):
        return bound
    sign = 1 if bound > value else -1
    good, bad = 0, math.ceil(abs(bound - value) / step)
    while bad - good > 1:
        middle = (good + bad) // 2
        if is_valid(_plain(value + sign * middle * step)):
            good = middle
        else:
            bad = middle
    found = _plain(value + sign * good * step)
    # Prefer a multiple of the step, if there is one between the value and the end.
    tidy = _plain((math.floor if sign > 0 else math.ceil)(found / step) * step)
    return tidy if sign * (tidy - value) >= 0 else value


def _round_step(wanted: float, least: float) -> float:
    """The largest of 1, 2, 5, 10, ... that is at most `wanted`, but not less than `least`."""
    if wanted <= least:
        return least
    power = 10.0 ** math.floor(math.log10(wanted) + 1e-9)
    step = next(power * factor for factor in (5, 2, 1) if power * factor <= wanted * (1 + 1e-9))
    return max(_plain(step), least)


def _plain(number: float) -> float:
    return float(f"{number:.9g}")
