"""Numerical search for values of fields at which wishes are met, where no formula gives them."""

import itertools
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scenes.fit.knobs import Knob
from scenes.fit.trials import Trial, Trials
from scenes.fit.wishes import Wish

__all__ = [
    "fan_of",
    "feasible_values",
    "least_squares_trial",
    "pattern_search",
    "roots",
    "secant_trials",
]

Array = NDArray[np.float64]

OtherChanges = Callable[[float], dict[str, float] | None]

_SAMPLES = 13
"""Values on each side of a field's present one at which a measure is read to bracket its roots."""

_REACH = 40
"""Greatest change of a field other than an angle, in visible steps."""

_HALVINGS = 26
"""Bisections between a valid design and an invalid one."""

_COARSE_SAMPLES, _COARSE_HALVINGS = 7, 10
"""The same where two fields are searched together: every trial takes 2 ms."""

_SECANTS = 12
"""Most wraps built along one field."""

_UNSEEN = 0.1
"""Range of a field, in visible steps, within which a wrap jumps if it still has too little at one
end and too much at the other."""

_FINEST = 1e-3
"""Step at which a pattern search ends, in visible steps."""

_INFEASIBLE = 1e3
"""Penalty for an infeasible design, relative to the target."""


class _InfeasibleError(Exception):
    """A design between two feasible ones is infeasible."""


def feasible_values(
    trials: Trials,
    base_changes: Mapping[str, Any],
    knob: Knob,
    other_changes: OtherChanges = lambda _: {},
    *,
    coarse: bool = False,
) -> list[float]:
    """Sample a field at values for which the design is feasible.

    Parameters
    ----------
    trials : Trials
    base_changes : dict
        Changes already made, by path.
    knob : Knob
        The field.
    other_changes : callable, optional
        Gives further changes by path for a value of the field; None if there are none that fit.
    coarse : bool, optional
        Whether fewer values are tried, and the ends of a range found less closely.

    Returns
    -------
    list of float
        Ascending, with the ends of each feasible range.
    """

    def can_be(place: float) -> bool:
        others = other_changes(place)
        changes = {**base_changes, knob.path: place, **(others or {})}
        return others is not None and trials.evaluate(changes).valid

    every = fan_of(knob, coarse=coarse)
    can = [can_be(place) for place in every]
    found = [place for place, ok in zip(every, can, strict=True) if ok]
    for (x, y), (a, b) in zip(itertools.pairwise(every), itertools.pairwise(can), strict=True):
        if a != b:
            halvings = _COARSE_HALVINGS if coarse else _HALVINGS
            found.append(_feasible_bound(can_be, *((x, y) if a else (y, x)), halvings))
    return sorted(found)


def fan_of(knob: Knob, *, coarse: bool = False) -> list[float]:
    """List values of a field all over the range that is searched, densest near its present one.

    Parameters
    ----------
    knob : Knob
    coarse : bool, optional
        Whether there are fewer values.

    Returns
    -------
    list of float
        Ascending, with both ends of the range.
    """
    start, low, high = knob.start, knob.low, knob.high
    if not knob.path.endswith(".angle"):
        low, high = max(low, start - _REACH * knob.step), min(high, start + _REACH * knob.step)
    fan = np.linspace(0, 1, _COARSE_SAMPLES if coarse else _SAMPLES) ** 2
    return sorted(map(float, {*(start + (high - start) * fan), *(start - (start - low) * fan)}))


def _feasible_bound(
    can_be: Callable[[float], bool], can: float, cannot: float, halvings: int
) -> float:
    """Bisect to the end of a feasible range; the result is feasible."""
    for _ in range(halvings):
        middle = (can + cannot) / 2
        if can_be(middle):
            can = middle
        else:
            cannot = middle
    return can


def roots(
    trials: Trials,
    base_changes: Mapping[str, Any],
    knob: Knob,
    wish: Wish,
    other_changes: OtherChanges = lambda _: {},
    places: Sequence[float] | None = None,
) -> Iterator[Trial]:
    """Find the values of one field at which a wish for a value is met.

    Parameters
    ----------
    trials : Trials
    base_changes : dict
        Changes already made, by path.
    knob : Knob
        The field.
    wish : Wish
        A wish for a value.
    other_changes : callable, optional
        As in `feasible_values`.
    places : sequence of float, optional
        Its result, if it is known.

    Yields
    ------
    Trial
    """
    # The page offers the search, and starts without waiting for it to load.
    from scipy.optimize import brentq

    def off(place: float) -> float:
        others = other_changes(float(place))
        if others is None:
            raise _InfeasibleError
        value = trials.evaluate({**base_changes, knob.path: float(place), **others}).value(
            wish.measure
        )
        if value is None:
            raise _InfeasibleError
        return value - wish.value

    read: list[tuple[float, float]] = []
    if places is None:
        places = feasible_values(trials, base_changes, knob, other_changes)
    for place in places:
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
        yield trials.evaluate(
            {**base_changes, knob.path: float(root), **(other_changes(float(root)) or {})}
        )


def secant_trials(
    trials: Trials, base_changes: Mapping[str, Any], knob: Knob, wish: Wish
) -> Iterator[Trial]:
    """Approach a wish for a slow measure along one field by the secant method.

    Such measures are nearly linear, except for jumps where a strip is cut in whole cells. So the
    ends of the range are tried where the secant leads away from the wish, and a step that does not
    halve the range between too little and too much is followed by one to its middle.

    Parameters
    ----------
    trials : Trials
    base_changes : dict
        Changes already made, by path.
    knob : Knob
        The field.
    wish : Wish
        A wish for a value of a slow measure.

    Yields
    ------
    Trial
        Every feasible design on the way, the nearest to the wish first.
    """
    here = trials.evaluate(base_changes)
    value = here.value(wish.measure)
    stretch = feasible_values(trials, base_changes, knob)
    if value is None or len(stretch) < 2:
        return
    low, high = stretch[0], stretch[-1]
    side = 1.0 if high - knob.start >= knob.start - low else -1.0
    ends = [low, high] if side > 0 else [high, low]
    found: list[Trial] = []
    x, off = knob.start, value - wish.value
    first = abs(off)
    # The last value of the field with too little, and the last with too much.
    sides = {off > 0: (x, off)}
    width = math.inf
    nearer = float(np.clip(x + side * knob.step, low, high))
    for _ in range(_SECANTS):
        trial = trials.evaluate({**base_changes, knob.path: nearer})
        value = trial.value(wish.measure)
        if value is None:
            break
        found.append(trial)
        before, x, slope = x, nearer, (value - wish.value - off) / (nearer - x)
        off = value - wish.value
        sides[off > 0] = (x, off)
        if abs(off) <= wish.margin / 2:
            break
        if len(sides) > 1:
            (a, less), (b, more) = sides.values()
            halved = abs(b - a) <= width / 2
            width = abs(b - a)
            if width <= _UNSEEN * knob.step:
                break
            nearer = a - less * (b - a) / (more - less) if halved else (a + b) / 2
            continue
        nearer = float(np.clip(x - off / slope, low, high)) if slope else x
        if nearer in (x, before):
            ends = [end for end in ends if end not in (x, before)]
            if not ends or abs(off) < first:
                break
            nearer = ends.pop()
    yield from sorted(found, key=lambda trial: trial.miss(wish))


def least_squares_trial(
    trials: Trials,
    base_changes: Mapping[str, Any],
    knobs: Sequence[Knob],
    targets: Sequence[Wish],
) -> Trial | None:
    """Change several fields so that the wishes are missed by as little as possible.

    Parameters
    ----------
    trials : Trials
    base_changes : dict
        Changes already made, by path.
    knobs : sequence of Knob
        The fields; the search starts at their present values.
    targets : sequence of Wish
        Wishes for values.

    Returns
    -------
    Trial or None
        None if the design is infeasible at the start.
    """
    from scipy.optimize import least_squares

    low = np.array([knob.low for knob in knobs])
    high = np.array([knob.high for knob in knobs])
    step = np.array([knob.step for knob in knobs])
    start = np.array([knob.start for knob in knobs])
    slow = any(wish.measure.slow for wish in targets)

    def changes(values: Array) -> dict[str, Any]:
        named = zip((knob.path for knob in knobs), values.tolist(), strict=True)
        return {**base_changes, **dict(named)}

    def off(values: Array) -> Array:
        trial = trials.evaluate(changes(values))
        misses = np.full(len(targets), _INFEASIBLE)
        for index, wish in enumerate(targets):
            value = trial.value(wish.measure)
            if value is not None:
                side = 1 if value > wish.value else -1
                misses[index] = side * wish.miss(value) / max(abs(wish.value), 1e-2)
        return misses

    start = np.clip(start, low + 1e-9 * step, high - 1e-9 * step)
    if not trials.evaluate(changes(start)).valid:
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
    """Approach the wishes by small changes of one field after another.

    Pattern search [Hooke1961]. It needs no gradients, which do not exist at the end of a feasible
    range.

    Parameters
    ----------
    trials : Trials
    trial : Trial
        Start; feasible.
    knobs : sequence of Knob
        The fields.
    missed : callable
        Gives the distance of a trial from the wishes; infinite for an infeasible one.

    Returns
    -------
    Trial
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
