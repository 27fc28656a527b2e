"""Ways from a design towards wishes: which fields change, and by which road their values are found.

Closed forms where there are any; a strip's angle and width together, as a builder would turn one
that is in the drawer; roots along one field; least squares for what is left.
"""

import itertools
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import Any

from geometry.strip import StripFigure
from scenes.design.layers import kind_of
from scenes.fit.closed import angle_for, turning_of
from scenes.fit.knobs import Knob, Switch
from scenes.fit.solving import feasible_values, least_squares_trial, roots, secant_trials
from scenes.fit.trials import Trial, Trials
from scenes.fit.wishes import Relation, Wish
from scenes.kinds.numbers import CoupledRun

__all__ = ["Strategies"]

_MOST_STARTS = 3
"""Designs on which one more wish is built."""

_WHOLE_REACH = 6
"""How far from what is there whole numbers are tried, where a closed form makes it cheap."""

_HELD_FIGURES = (StripFigure.WIDTH, StripFigure.SHARE)
"""What a builder would keep of a strip while its angle changes: what is in the drawer, or how much
shows."""


class Strategies:
    """All ways that are tried for some wishes.

    Parameters
    ----------
    trials : Trials
    wishes : sequence of Wish
    knobs : sequence of Knob
        Fields that go smoothly.
    switches : sequence of Switch
        Fields that go by steps, of which one at a time is changed.
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
        # The angle, and the first of the alternatives that may be changed.
        self._strip_fields = [knob.path for knob in knobs if knob.path in strip][:2]
        # Whether both may change, so that a strip can be turned.
        self._turns = len(self._strip_fields) == 2 and self._strip_fields[0] == strip[0]

    def step_changes(self) -> Iterator[dict[str, Any]]:
        """List the steps that are tried, none first, as changes by path."""
        yield {}
        for switch in self._switches:
            yield {switch.path: switch.value}

    def smooth_fields(self) -> list[Knob]:
        """List the smooth fields, but of a strip's alternatives the first."""
        alternatives = [knob for knob in self._knobs if knob.path in self._alternatives]
        return [knob for knob in self._knobs if knob not in alternatives[1:]]

    def trials(
        self, stepped: dict[str, Any], wanted: Sequence[Wish], size: int, *, near: bool
    ) -> Iterator[Trial]:
        """Try all choices of so many fields; only what has a closed form unless `near`."""
        if size == 0:
            yield self._trials.evaluate(stepped)
        if size == 0 or not wanted:
            return
        if any(wish.measure.slow for wish in wanted):
            yield from self._after_building(stepped, wanted, size, near=near)
            return
        strip = turning_of(self._trials, stepped) if self._strip_fields else None
        if strip and self._turns and size == len(wanted) <= 2:
            yield from self._strips(strip, stepped, wanted, near=near)
        for knobs in itertools.combinations(self._knobs, size):
            paths = [knob.path for knob in knobs]
            # Two of a strip's alternatives are one field.
            if sum(path in self._alternatives for path in paths) > 1:
                continue
            if strip and size == 1 and paths[0] in self._strip_fields:
                # One figure settles one field; whether other wishes are met too is read there.
                figure = next(iter(_figures(strip, wanted)), None)
                if figure:
                    held = strip.held(paths[0])
                    yield from self._evaluated(stepped, strip.made(dict([figure, held]), paths))
                    continue
            if self._turns and size == len(wanted) == 2 and paths == self._strip_fields:
                continue
            if size == 1 and paths[0].endswith(".angle"):
                angle = angle_for(self._trials, stepped, wanted[0])
                if angle is not None:
                    yield from self._evaluated(stepped, {paths[0]: angle})
                    continue
            if near and size == 1:
                here = self._trials.evaluate(stepped)
                hardest = max(wanted, key=here.miss)
                yield from roots(self._trials, stepped, knobs[0], hardest)
            elif near:
                least = least_squares_trial(self._trials, stepped, knobs, wanted)
                yield from [least] if least else []

    def _strips(
        self, strip: CoupledRun, stepped: dict[str, Any], wanted: Sequence[Wish], *, near: bool
    ) -> Iterator[Trial]:
        """Change a strip's angle and its other field together.

        With one wish, that strip is tried which keeps its width, and that which keeps its share.
        """
        fields = self._strip_fields
        figures = _figures(strip, wanted)
        others = [wish for wish in wanted if strip.figure(wish.measure.name, wish.value) is None]
        held = figures
        if len(wanted) == 1:
            kept = [
                (figure, strip.now(figure)) for figure in _HELD_FIGURES if figure != strip.given
            ]
            held = [(figure, value) for figure, value in kept if value is not None]
        elif len(figures) == 2:
            yield from self._evaluated(stepped, strip.made(dict(figures), fields))
            return
        for figure in held:
            if len(wanted) == 1 and figures:
                yield from self._evaluated(stepped, strip.made(dict([*figures, figure]), fields))
            elif near and others and figure[0] is not StripFigure.ANGLE:
                yield from roots(
                    self._trials,
                    stepped,
                    next(knob for knob in self._knobs if knob.path == fields[0]),
                    others[0],
                    beside=self._other_changes(strip, figure),
                )

    def _other_changes(
        self, strip: CoupledRun, held: tuple[StripFigure, float]
    ) -> Callable[[float], Any]:
        """Say what a strip's other field is at an angle, while a figure is held."""
        other = self._strip_fields[1:]
        return lambda angle: strip.made(
            dict([(StripFigure.ANGLE, math.radians(angle)), held]), other
        )

    def _evaluated(
        self, stepped: dict[str, Any], changes: dict[str, float] | None
    ) -> Iterator[Trial]:
        if changes is not None:
            yield self._trials.evaluate({**stepped, **changes})

    def _after_building(
        self, stepped: dict[str, Any], wanted: Sequence[Wish], size: int, *, near: bool
    ) -> Iterator[Trial]:
        """Meet one wish that the wrap must be built for on top of the others.

        A field that serves the others is settled first; another then brings weight or thread.
        """
        built = [wish for wish in wanted if wish.measure.slow]
        quick = [wish for wish in wanted if not wish.measure.slow]
        # A step alone is tried elsewhere; with fields beside it there would be too much to build.
        if stepped or len(built) > size:
            return
        begun = [self._trials.evaluate(stepped)] if size == len(built) else []
        if quick and size > len(built):
            begun = list(self.trials(stepped, quick, size - len(built), near=near))
            begun = [trial for trial in begun if trial.met(quick)][:_MOST_STARTS]
        for wish in built:
            further = []
            for trial in begun:
                taken = {k: v for k, v in trial.changes.items() if k not in self._trials.settings}
                for knob in self._knobs:
                    if knob.path not in taken:
                        found = list(secant_trials(self._trials, taken, knob, wish))
                        # The nearest that is as wished; a strip cut in whole cells jumps past.
                        good = [trial for trial in found if trial.met(self._wishes)]
                        yield from good[:1]
                        further += found[:1]
            begun = further[:_MOST_STARTS]

    def targets(self, stepped: dict[str, Any]) -> Iterator[tuple[tuple[Wish, ...], bool]]:
        """List what has to be equal: a bound may be reached or not, a whole number be any.

        Yields
        ------
        (tuple of Wish, bool)
            Wishes for a value, and whether all whole numbers in them are next to what is there.
        """
        here = self._trials.evaluate(stepped)
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
                    wanted = (*(wish for wish, _ in settled), *chosen)
                    yield wanted, all(near for _, near in settled)

    def at_all_angles(self, stepped: dict[str, Any]) -> list[Trial]:
        """Try a strip at all angles, once with its width kept and once with its share."""
        if not self._turns:
            return []
        strip = turning_of(self._trials, stepped)
        assert strip is not None
        knob = next(knob for knob in self._knobs if knob.path == self._strip_fields[0])
        tried = []
        for figure in _HELD_FIGURES:
            value = strip.now(figure)
            if value is None:
                continue
            beside = self._other_changes(strip, (figure, value))
            tried += [
                self._trials.evaluate({**stepped, knob.path: place, **beside(place)})
                for place in feasible_values(self._trials, stepped, knob, beside)
            ]
        return tried


def _figures(strip: CoupledRun, wanted: Sequence[Wish]) -> list[tuple[StripFigure, float]]:
    """Those of some wishes that are for one of the run's figures."""
    found = (strip.figure(wish.measure.name, wish.value) for wish in wanted)
    return [figure for figure in found if figure is not None]


def _whole_numbers(value: float) -> list[tuple[int, bool]]:
    """Whole numbers about a value, the nearest first, and whether each is next to it."""
    about = range(max(1, math.floor(value) - _WHOLE_REACH), math.ceil(value) + _WHOLE_REACH + 1)
    return [
        (number, abs(number - value) <= 1 + 1e-3)
        for number in sorted(about, key=lambda x: abs(x - value))
    ]


def _value_within(wish: Wish) -> float:
    """A value just on the right side of a bound, so that round numbers stay there."""
    half = wish.margin / 2
    return wish.value - half if wish.relation is Relation.AT_MOST else wish.value + half
