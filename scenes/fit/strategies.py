"""Strategies of a fit: which fields change together, and how their values are found.

Closed forms where there are any; a strip's angle and width together, as a builder would turn a
strip of given width; roots along one field; least squares for the rest.
"""

import itertools
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import Any

from geometry.strip import StripFigure
from scenes.design.layers import kind_of
from scenes.fit.closed_forms import angle_for, turning_of
from scenes.fit.knobs import Knob, Switch
from scenes.fit.solving import feasible_values, least_squares_trial, roots, secant_trials
from scenes.fit.trials import Trial, Trials
from scenes.fit.wishes import Relation, Wish
from scenes.kinds.numbers import CoupledRun

__all__ = ["Strategies"]

_MOST_STARTS = 3
"""Most designs from which one more slow wish is approached."""

_WHOLE_REACH = 6
"""Greatest distance of a whole number from the present value, for closed forms."""

_HELD_FIGURES = (StripFigure.WIDTH, StripFigure.SHARE)
"""Figures of a strip of which one is kept while its angle changes."""


class Strategies:
    """All strategies that are tried for some wishes.

    Parameters
    ----------
    trials : Trials
    wishes : sequence of Wish
    knobs : sequence of Knob
        Continuous fields that may change.
    switches : sequence of Switch
        Other values of discrete fields, of which one at a time is tried.
    """

    def __init__(
        self,
        trials: Trials,
        wishes: Sequence[Wish],
        knobs: Sequence[Knob],
        switches: Sequence[Switch],
    ) -> None:
        self._trials = trials
        self._wishes = wishes
        self._knobs = knobs
        self._switches = switches
        self._base = trials.evaluate({})
        relief = trials.design.relief
        above = "" if relief is None else trials.design.path_of(relief)
        self._alternatives = [f"{above}.{name}" for name in relief.alternatives] if relief else []
        turns = relief is not None and kind_of(relief).numbers.coupled is not None
        strip = (f"{above}.angle", *self._alternatives) if turns else ()
        # The angle, and the first alternative that may change.
        self._strip_fields = [knob.path for knob in knobs if knob.path in strip][:2]
        # Both may change, so a strip can be turned.
        self._turns = len(self._strip_fields) == 2 and self._strip_fields[0] == strip[0]

    def step_changes(self) -> Iterator[dict[str, Any]]:
        """List the changes of discrete fields to try, by path; no change first."""
        yield {}
        for switch in self._switches:
            yield {switch.path: switch.value}

    def smooth_fields(self) -> list[Knob]:
        """List the continuous fields, with only the first of a strip's alternatives."""
        alternatives = [knob for knob in self._knobs if knob.path in self._alternatives]
        return [knob for knob in self._knobs if knob not in alternatives[1:]]

    def trials(
        self, base_changes: dict[str, Any], targets: Sequence[Wish], size: int, *, near: bool
    ) -> Iterator[Trial]:
        """Try all choices of some number of continuous fields.

        Parameters
        ----------
        base_changes : dict
            Changes of discrete fields, by path.
        targets : sequence of Wish
            Wishes for values.
        size : int
            Number of fields that change.
        near : bool
            Whether numerical searches are tried too, not only closed forms.

        Yields
        ------
        Trial
        """
        if size == 0:
            yield self._trials.evaluate(base_changes)
        if size == 0 or not targets:
            return
        if any(wish.measure.slow for wish in targets):
            yield from self._after_building(base_changes, targets, size, near=near)
            return
        strip = turning_of(self._trials, base_changes) if self._strip_fields else None
        if strip and self._turns and size == len(targets) <= 2:
            yield from self._strips(strip, base_changes, targets, near=near)
        for knobs in itertools.combinations(self._knobs, size):
            paths = [knob.path for knob in knobs]
            # Two alternatives of a strip describe the same quantity.
            if sum(path in self._alternatives for path in paths) > 1:
                continue
            if strip and size == 1 and paths[0] in self._strip_fields:
                # One figure determines one field; other wishes are checked on the result.
                figure = next(iter(_figures(strip, targets)), None)
                if figure:
                    held = strip.held(paths[0])
                    yield from self._evaluated(
                        base_changes, strip.made(dict([figure, held]), paths)
                    )
                    continue
            if self._turns and size == len(targets) == 2 and paths == self._strip_fields:
                continue
            if size == 1 and paths[0].endswith(".angle"):
                angle = angle_for(self._trials, base_changes, targets[0])
                if angle is not None:
                    yield from self._evaluated(base_changes, {paths[0]: angle})
                    continue
            if near and size == 1:
                here = self._trials.evaluate(base_changes)
                hardest = max(targets, key=here.miss)
                yield from roots(self._trials, base_changes, knobs[0], hardest)
            elif near:
                least = least_squares_trial(self._trials, base_changes, knobs, targets)
                yield from [least] if least else []

    def _strips(
        self,
        strip: CoupledRun,
        base_changes: dict[str, Any],
        targets: Sequence[Wish],
        *,
        near: bool,
    ) -> Iterator[Trial]:
        """Change a strip's angle and its other field together.

        For one wish, two strips are tried: one keeps its width, the other its covered share.
        """
        fields = self._strip_fields
        figures = _figures(strip, targets)
        others = [wish for wish in targets if strip.figure(wish.measure.name, wish.value) is None]
        held = figures
        if len(targets) == 1:
            kept = [
                (figure, strip.now(figure)) for figure in _HELD_FIGURES if figure != strip.given
            ]
            held = [(figure, value) for figure, value in kept if value is not None]
        elif len(figures) == 2:
            yield from self._evaluated(base_changes, strip.made(dict(figures), fields))
            return
        for figure in held:
            if len(targets) == 1 and figures:
                yield from self._evaluated(
                    base_changes, strip.made(dict([*figures, figure]), fields)
                )
            elif near and others and figure[0] is not StripFigure.ANGLE:
                yield from roots(
                    self._trials,
                    base_changes,
                    next(knob for knob in self._knobs if knob.path == fields[0]),
                    others[0],
                    other_changes=self._other_changes(strip, figure),
                )

    def _other_changes(
        self, strip: CoupledRun, held: tuple[StripFigure, float]
    ) -> Callable[[float], Any]:
        """Make the function that gives a strip's other field for an angle, with one figure held."""
        other = self._strip_fields[1:]
        return lambda angle: strip.made(
            dict([(StripFigure.ANGLE, math.radians(angle)), held]), other
        )

    def _evaluated(
        self, base_changes: dict[str, Any], changes: dict[str, float] | None
    ) -> Iterator[Trial]:
        if changes is not None:
            yield self._trials.evaluate({**base_changes, **changes})

    def _after_building(
        self, base_changes: dict[str, Any], targets: Sequence[Wish], size: int, *, near: bool
    ) -> Iterator[Trial]:
        """Meet the wishes for slow measures after all others.

        Some fields meet the other wishes first; another field then meets the wish for weight or
        thread.
        """
        built = [wish for wish in targets if wish.measure.slow]
        quick = [wish for wish in targets if not wish.measure.slow]
        # Discrete changes are tried alone elsewhere; with fields beside them too many wraps are
        # built.
        if base_changes or len(built) > size:
            return
        starts = [self._trials.evaluate(base_changes)] if size == len(built) else []
        if quick and size > len(built):
            starts = list(self.trials(base_changes, quick, size - len(built), near=near))
            starts = [trial for trial in starts if trial.met(quick)][:_MOST_STARTS]
        for wish in built:
            further = []
            for trial in starts:
                taken = {k: v for k, v in trial.changes.items() if k not in self._trials.settings}
                for knob in self._knobs:
                    if knob.path not in taken:
                        found = list(secant_trials(self._trials, taken, knob, wish))
                        # The last may not meet the wish: a strip cut in whole cells makes jumps.
                        good = [trial for trial in found if trial.met(self._wishes)]
                        yield from good[:1]
                        further += found[:1]
            starts = further[:_MOST_STARTS]

    def targets(self, base_changes: dict[str, Any]) -> Iterator[tuple[tuple[Wish, ...], bool]]:
        """List the sets of values to aim at: a bound may be reached or not, a whole number be any.

        Parameters
        ----------
        base_changes : dict
            Changes of discrete fields, by path.

        Yields
        ------
        (tuple of Wish, bool)
            Wishes for values, and whether all whole numbers among them are adjacent to present
            values.
        """
        here = self._trials.evaluate(base_changes)
        choices: list[list[tuple[Wish, bool]]] = []
        for wish in self._wishes:
            if wish.relation is Relation.IS:
                choices.append([(wish, True)])
            elif wish.relation is Relation.WHOLE:
                value = here.value(wish.measure) or self._base.value(wish.measure) or 1.0
                choices.append(
                    [
                        (replace(wish, relation=Relation.IS, value=float(number)), near)
                        for number, near in _whole_numbers(value)
                    ]
                )
        bounds = [
            replace(wish, relation=Relation.IS, value=_value_within(wish))
            for wish in self._wishes
            if wish.relation in (Relation.AT_MOST, Relation.AT_LEAST)
        ]
        for reached in range(len(bounds) + 1):
            for chosen in itertools.combinations(bounds, reached):
                for settled in itertools.product(*choices):
                    chosen_targets = (*(wish for wish, _ in settled), *chosen)
                    yield chosen_targets, all(near for _, near in settled)

    def at_all_angles(self, base_changes: dict[str, Any]) -> list[Trial]:
        """Try a strip at all angles, once with its width held and once with its covered share.

        Parameters
        ----------
        base_changes : dict
            Changes of discrete fields, by path.
        """
        if not self._turns:
            return []
        strip = turning_of(self._trials, base_changes)
        assert strip is not None
        knob = next(knob for knob in self._knobs if knob.path == self._strip_fields[0])
        tried = []
        for figure in _HELD_FIGURES:
            value = strip.now(figure)
            if value is None:
                continue
            other_changes = self._other_changes(strip, (figure, value))
            tried += [
                self._trials.evaluate({**base_changes, knob.path: place, **other_changes(place)})
                for place in feasible_values(self._trials, base_changes, knob, other_changes)
            ]
        return tried


def _figures(strip: CoupledRun, targets: Sequence[Wish]) -> list[tuple[StripFigure, float]]:
    """The figures of a strip that some wishes are for, with their values."""
    found = (strip.figure(wish.measure.name, wish.value) for wish in targets)
    return [figure for figure in found if figure is not None]


def _whole_numbers(value: float) -> list[tuple[int, bool]]:
    """Whole numbers near a value, nearest first, and whether each is adjacent to it."""
    about = range(max(1, math.floor(value) - _WHOLE_REACH), math.ceil(value) + _WHOLE_REACH + 1)
    return [
        (number, abs(number - value) <= 1 + 1e-3)
        for number in sorted(about, key=lambda x: abs(x - value))
    ]


def _value_within(wish: Wish) -> float:
    """A value just inside a bound, so that rounding does not cross it."""
    half = wish.margin / 2
    return wish.value - half if wish.relation is Relation.AT_MOST else wish.value + half
