"""Strategies of a fit: which fields change together, and how their values are found.

Closed forms where there are any; a strip's angle and width together, as a builder would turn a
strip of given width; roots along one field; least squares for the rest.
"""

import bisect
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

_NEAR = 2
"""Distance from the present value at which a whole number of a field is tried first."""

_WHOLE_REACH = 6
"""Distance from the present value at which a whole number of a measure is tried first."""

_MOST_NUMBERS = 400
"""Most whole numbers that are tried for one measure, the nearest first."""

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
        Other values of discrete fields, the nearest first.
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
        self._spans: dict[object, tuple[float, float]] = {}
        self.built: list[Trial] = []
        """Every design that was tried on the way to a wish for which the wrap must be built."""
        relief = trials.design.relief
        above = "" if relief is None else trials.design.path_of(relief)
        self._alternatives = [f"{above}.{name}" for name in relief.alternatives] if relief else []
        self._rivals = [
            {f"{trials.design.path_of(layer)}.{name}" for name in layer.alternatives}
            for layer in trials.design.layers
        ]
        turns = relief is not None and kind_of(relief).numbers.coupled is not None
        strip = (f"{above}.angle", *self._alternatives) if turns else ()
        # The angle, and the first alternative that may change.
        self._strip_fields = [knob.path for knob in knobs if knob.path in strip][:2]
        self.closed_forms = bool(self._strip_fields)
        """Whether some figures of a changed design are found without a numerical search."""
        # Both may change, so a strip can be turned.
        self._turns = len(self._strip_fields) == 2 and self._strip_fields[0] == strip[0]

    def step_changes(self, *, far: bool) -> Iterator[tuple[dict[str, Any], bool]]:
        """List the changes of discrete fields to try, no change first.

        Parameters
        ----------
        far : bool
            Whether whole numbers far from the present ones are tried too, and two discrete fields
            at once. Then every value is tried that the fields may have.

        Yields
        ------
        (dict, bool)
            Changes by path, and whether numerical searches are worth their time with them.
        """
        yield {}, True
        if any(wish.measure.slow for wish in self._wishes):
            yield from ((changes, False) for changes in self._steps_built(ends=far))
            return
        for switch in self._switches:
            if far or abs(switch.away) <= _NEAR or self._is_wished(switch):
                yield {switch.path: switch.value}, True
        if far:
            for one, other in itertools.combinations(self._switches, 2):
                if self.together([one.path, other.path]):
                    yield {one.path: one.value, other.path: other.value}, False

    def _is_wished(self, switch: Switch) -> bool:
        return any(
            wish.measure.name == switch.measure and wish.met(float(switch.value))
            for wish in self._wishes
            if wish.relation is Relation.IS
        )

    def _steps_built(self, *, ends: bool) -> Iterator[dict[str, Any]]:
        """Changes of one discrete field for wishes that need a wrap.

        Such measures grow or shrink with a whole number, so the nearest number that keeps a bound
        is found by bisection, and the nearest design is at an end: every wrap takes a second.
        """
        counted: dict[tuple[str, bool], list[Switch]] = {}
        for switch in self._switches:
            if not switch.counts:
                yield {switch.path: switch.value}
            elif self._trials.evaluate({switch.path: switch.value}).valid:
                counted.setdefault((switch.path, switch.away > 0), []).append(switch)
        built = [wish for wish in self._wishes if wish.measure.slow]
        for side in counted.values():
            changes = [{switch.path: switch.value} for switch in side]
            if ends:
                yield changes[-1]
            if any(wish.relation is Relation.IS for wish in built):
                continue
            first = bisect.bisect_left(
                changes, 1, key=lambda one: int(self._trials.evaluate(one).met(built))
            )
            yield from changes[first : first + 1]

    def together(self, paths: Sequence[str]) -> bool:
        """Tell whether some fields can be changed together: each once, and no alternatives.

        Parameters
        ----------
        paths : sequence of str
        """
        different = len(set(paths)) == len(paths)
        return different and all(len(group.intersection(paths)) <= 1 for group in self._rivals)

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
        if not targets:
            return
        if any(wish.measure.slow for wish in targets):
            yield from self._after_building(base_changes, targets, size, near=near)
            return
        strip = turning_of(self._trials, base_changes) if self._strip_fields else None
        if strip and self._turns and size == len(targets) <= 2:
            yield from self._strips(strip, base_changes, targets, near=near)
        for knobs in itertools.combinations(self._knobs, size):
            paths = [knob.path for knob in knobs]
            # Alternatives describe the same quantity.
            if not self.together([*paths, *base_changes]):
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
                angle = angle_for(self._trials, base_changes, paths[0], targets[0])
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

        def changes(angle: float) -> dict[str, float] | None:
            made = strip.made(dict([(StripFigure.ANGLE, math.radians(angle)), held]), other)
            return made if made is not None and self._within_bounds(made) else None

        return changes

    def _within_bounds(self, changes: dict[str, float]) -> bool:
        knobs = {knob.path: knob for knob in self._knobs}
        return all(knobs[path].holds(value) for path, value in changes.items())

    def _evaluated(
        self, base_changes: dict[str, Any], changes: dict[str, float] | None
    ) -> Iterator[Trial]:
        if changes is not None and self._within_bounds(changes):
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
                        self.built += found
                        # The nearest may not meet it: a strip cut in whole cells makes jumps.
                        good = [trial for trial in found if trial.met(self._wishes)]
                        yield from good[:1]
                        further += found[:1]
            starts = further[:_MOST_STARTS]

    def targets(
        self, base_changes: dict[str, Any], *, far: bool
    ) -> Iterator[tuple[tuple[Wish, ...], bool]]:
        """List the sets of values to aim at: a bound may be reached or not, a whole number be any.

        Parameters
        ----------
        base_changes : dict
            Changes of discrete fields, by path.
        far : bool
            Whether all whole numbers are tried that the fields can give, not only near ones.

        Yields
        ------
        (tuple of Wish, bool)
            Wishes for values, and whether numerical searches are worth their time.
        """
        here = self._trials.evaluate(base_changes)
        choices: list[list[tuple[Wish, bool]]] = []
        for wish in self._wishes:
            if wish.relation is Relation.IS:
                choices.append([(wish, True)])
            elif wish.relation is Relation.WHOLE:
                value = here.value(wish.measure) or self._base.value(wish.measure) or 1.0
                span = self._span(wish, base_changes) if far else (value, value)
                choices.append(
                    [
                        (replace(wish, relation=Relation.IS, value=float(number)), far or near)
                        for number, near in _whole_numbers(value, span)
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

    def within_reach(self, base_changes: dict[str, Any], size: int) -> bool:
        """Tell whether some continuous fields may meet each wish for a value.

        The most that several fields do together is taken as the product of what each does alone.

        Parameters
        ----------
        base_changes : dict
            Changes of discrete fields, by path.
        size : int
            Number of fields that change.
        """
        for wish in self._wishes:
            if wish.relation is not Relation.IS or wish.measure.slow:
                continue
            least, most = self._span(wish, base_changes)
            if least <= 0:
                continue
            reach = (most / least) ** size * (1 + wish.within / abs(wish.value or 1.0))
            if not least / reach <= wish.value <= most * reach:
                return False
        return True

    def _span(self, wish: Wish, base_changes: dict[str, Any]) -> tuple[float, float]:
        """Least and greatest value of a measure that any one field can give, or a turned strip."""
        key = (wish.measure.name, tuple(sorted(base_changes.items())))
        if key not in self._spans:
            self._spans[key] = self._measured_span(wish, base_changes)
        return self._spans[key]

    def _measured_span(self, wish: Wish, base_changes: dict[str, Any]) -> tuple[float, float]:
        tried = [self._trials.evaluate(base_changes), *self.at_all_angles(base_changes)]
        for knob in self._knobs:
            if self.together([knob.path, *base_changes]):
                tried += [
                    self._trials.evaluate({**base_changes, knob.path: value})
                    for value in feasible_values(
                        self._trials, base_changes, knob, coarse=bool(base_changes)
                    )
                ]
        values = [trial.value(wish.measure) for trial in tried]
        found = [value for value in values if value is not None]
        return (min(found), max(found)) if found else (1.0, 1.0)

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


def _whole_numbers(value: float, span: tuple[float, float]) -> list[tuple[int, bool]]:
    """Whole numbers near a value and in a span, nearest first, and whether each is adjacent."""
    least = min(math.floor(value) - _WHOLE_REACH, math.floor(span[0]))
    most = max(math.ceil(value) + _WHOLE_REACH, math.ceil(span[1]))
    numbers = range(max(1, least), most + 1)
    return [
        (number, abs(number - value) <= 1 + 1e-3)
        for number in sorted(numbers, key=lambda x: abs(x - value))[:_MOST_NUMBERS]
    ]


def _value_within(wish: Wish) -> float:
    """A value just inside a bound, so that rounding does not cross it."""
    half = wish.margin / 2
    return wish.value - half if wish.relation is Relation.AT_MOST else wish.value + half
