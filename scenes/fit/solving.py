"""Values of fields at which measures are as wanted, where no formula gives them."""

import itertools
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq, least_squares

from scenes.fit.knobs import Knob
from scenes.fit.trials import Trial, Trials
from scenes.fit.wishes import Wish

__all__ = ["feasible_values", "least_squares_trial", "pattern_search", "roots", "secant_trials"]

Array = NDArray[np.float64]

OtherChanges = Callable[[float], dict[str, float] | None]

_SAMPLES = 13
"""Places to either side of a field's value at which a measure is read before its roots are closed
in on."""

_REACH = 40
"""How far a length is changed at most, in steps that are seen."""

_HALVINGS = 26
"""Of the stretch between a design that can be and one that cannot."""

_SECANTS = 7
"""Designs built along one field before it is given up."""

_FINEST = 1e-3
"""Step at which a pattern search ends, in steps that are seen."""

_INFEASIBLE = 1e3
"""What a design that cannot be counts, in shares of a wish."""


class _InfeasibleError(Exception):
    """Between two designs there is one that cannot be."""


def feasible_values(
    trials: Trials,
    stepped: Mapping[str, Any],
    knob: Knob,
    beside: OtherChanges = lambda _: {},
) -> list[float]:
    """Give places along a field, in order, at which the design can be.

    Parameters
    ----------
    trials : Trials
    stepped : dict
        What is changed already, by path.
    knob : Knob
    beside : callable, optional
        What else changes with the field, by path; None where nothing can.
    """

    def can_be(place: float) -> bool:
        others = beside(place)
        changes = {**stepped, knob.path: place, **(others or {})}
        return others is not None and trials.evaluate(changes).measured is not None

    start, low, high = knob.start, knob.low, knob.high
    if not knob.path.endswith(".angle"):
        low, high = max(low, start - _REACH * knob.step), min(high, start + _REACH * knob.step)
    fan = np.linspace(0, 1, _SAMPLES) ** 2
    every = sorted(map(float, {*(start + (high - start) * fan), *(start - (start - low) * fan)}))
    can = [can_be(place) for place in every]
    found = [place for place, ok in zip(every, can, strict=True) if ok]
    for (x, y), (a, b) in zip(itertools.pairwise(every), itertools.pairwise(can), strict=True):
        if a != b:
            found.append(_feasible_bound(can_be, *((x, y) if a else (y, x))))
    return sorted(found)


def _feasible_bound(can_be: Callable[[float], bool], can: float, cannot: float) -> float:
    """Close in on where a design can no longer be, from the side where it can."""
    for _ in range(_HALVINGS):
        middle = (can + cannot) / 2
        if can_be(middle):
            can = middle
        else:
            cannot = middle
    return can


def roots(
    trials: Trials,
    stepped: Mapping[str, Any],
    knob: Knob,
    wish: Wish,
    beside: OtherChanges = lambda _: {},
) -> Iterator[Trial]:
    """Find where one measure is as wanted along one field.

    Parameters
    ----------
    trials, stepped, knob
        As for `feasible_values`.
    wish : Wish
        With a value to be equal to.
    beside : callable, optional
        What else changes with the field, by path; None where nothing can.
    """

    def off(place: float) -> float:
        others = beside(float(place))
        if others is None:
            raise _InfeasibleError
        value = trials.evaluate({**stepped, knob.path: float(place), **others}).value(wish.measure)
        if value is None:
            raise _InfeasibleError
        return value - wish.value

    read: list[tuple[float, float]] = []
    for place in feasible_values(trials, stepped, knob, beside):
        try:
            read.append((place, off(place)))
        except _InfeasibleError:
            continue
    for (x, fx), (y, fy) in itertools.pairwise(read):
        if fx * fy > 0 or fx == fy:
            continue
        try:
            root = brentq(off, x, y, xtol=max(1e-12 * abs(y), 1e-13), maxiter=60)
        except _InfeasibleError:
            continue
        yield trials.evaluate({**stepped, knob.path: float(root), **(beside(float(root)) or {})})


def secant_trials(
    trials: Trials, stepped: Mapping[str, Any], knob: Knob, wish: Wish
) -> Iterator[Trial]:
    """Find where a measure that the wrap must be built for is as wanted along one field.

    Such measures go nearly straight, but for the jumps of a strip that is cut in whole cells: the
    secant through two designs, within the stretch where the design can be. Every design on the way
    is given, the last first.
    """
    here = trials.evaluate(stepped)
    value = here.value(wish.measure)
    stretch = feasible_values(trials, stepped, knob)
    if value is None or len(stretch) < 2:
        return
    low, high = stretch[0], stretch[-1]
    x, fx = knob.start, value - wish.value
    found: list[Trial] = []
    side = 1.0 if high - x >= x - low else -1.0
    nearer = float(np.clip(x + side * knob.step, low, high))
    for _ in range(_SECANTS):
        trial = trials.evaluate({**stepped, knob.path: nearer})
        value = trial.value(wish.measure)
        if value is None:
            break
        found.append(trial)
        off = value - wish.value
        if abs(off) <= wish.margin / 4 or off == fx or nearer == x:
            break
        x, fx, nearer = nearer, off, nearer - off * (nearer - x) / (off - fx)
        nearer = float(np.clip(nearer, low, high))
    yield from reversed(found)


def least_squares_trial(
    trials: Trials,
    stepped: Mapping[str, Any],
    knobs: Sequence[Knob],
    wanted: Sequence[Wish],
) -> Trial | None:
    """Change several fields until the wishes are missed by as little as can be.

    From where the fields stand, by least squares; None if there is no design to begin with.
    """
    low = np.array([knob.low for knob in knobs])
    high = np.array([knob.high for knob in knobs])
    step = np.array([knob.step for knob in knobs])
    start = np.array([knob.start for knob in knobs])
    slow = any(wish.measure.slow for wish in wanted)

    def changes(values: Array) -> dict[str, Any]:
        named = zip((knob.path for knob in knobs), values.tolist(), strict=True)
        return {**stepped, **dict(named)}

    def off(values: Array) -> Array:
        trial = trials.evaluate(changes(values))
        misses = np.full(len(wanted), _INFEASIBLE)
        for index, wish in enumerate(wanted):
            value = trial.value(wish.measure)
            if value is not None:
                side = 1 if value > wish.value else -1
                misses[index] = side * wish.miss(value) / max(abs(wish.value), 1e-2)
        return misses

    start = np.clip(start, low + 1e-9 * step, high - 1e-9 * step)
    if trials.evaluate(changes(start)).measured is None:
        return None
    result = least_squares(
        off,
        start,
        bounds=(low, high),
        x_scale=step,
        diff_step=1e-3 if slow else 1e-6,
        max_nfev=10 if slow else 50,
        xtol=1e-9 if slow else 1e-13,
        ftol=1e-9 if slow else 1e-14,
        gtol=1e-9 if slow else 1e-14,
    )
    return trials.evaluate(changes(result.x))


def pattern_search(
    trials: Trials, trial: Trial, knobs: Sequence[Knob], missed: Callable[[Trial], float]
) -> Trial:
    """Come nearer by small changes of one field after another, up to where a design can be.

    Pattern search (Hooke & Jeeves 1961): it needs no slopes, which end at that edge.

    Parameters
    ----------
    trials : Trials
    trial : Trial
        Where to begin; it can be.
    knobs : sequence of Knob
    missed : callable
        How far a trial is from what is wished; infinite if it cannot be.
    """
    best = {path: value for path, value in trial.changes.items() if path not in trials.settings}
    best = {**{knob.path: knob.start for knob in knobs}, **best}
    if missed(trials.evaluate(best)) > missed(trial):
        return trial
    size = 1.0
    while size > _FINEST:
        before = dict(best)
        for knob in knobs:
            here = best[knob.path]
            for side in (1, -1):
                place = min(max(here + side * size * knob.step, knob.low), knob.high)
                if missed(trials.evaluate({**best, knob.path: place})) < missed(
                    trials.evaluate(best)
                ):
                    best[knob.path] = place
        if best == before:
            size /= 2
            continue
        onward = {
            knob.path: min(max(2 * best[knob.path] - before[knob.path], knob.low), knob.high)
            for knob in knobs
        }
        if missed(trials.evaluate({**best, **onward})) < missed(trials.evaluate(best)):
            best.update(onward)
    return trials.evaluate(best)
