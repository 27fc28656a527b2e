"""The search over pairs of fields, where no field alone and no closed form meets the wishes.

One field often bounds another: a strip must hold a whole cell, crosses must come round within the
wrap. The designs that meet a wish may then lie where neither field can go alone. So one field of
each pair is set to values all over its range, and for each of them the other is solved for.
"""

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import replace

from scenes.fit.knobs import Knob
from scenes.fit.solving import fan_of, feasible_values, least_squares_trial, roots
from scenes.fit.strategies import Strategies
from scenes.fit.trials import Trial, Trials
from scenes.fit.wishes import Wish

__all__ = ["PairSearch"]

_ENOUGH = 3
"""Pairs that meet the wishes after which no further one is tried."""

_MOST_OFFERED = 4
"""Most designs of one pair that are offered, the nearest to the present one."""

_MOST_POLISHED = 3
"""Most designs of one pair from which several wishes are met together by least squares."""


class PairSearch:
    """Search over pairs of continuous fields, for wishes that need no wrap to be built.

    Parameters
    ----------
    trials : Trials
    knobs : sequence of Knob
        Continuous fields that may change.
    strategies : Strategies
        Tells which fields may change together, and the values to aim at.
    """

    def __init__(self, trials: Trials, knobs: Sequence[Knob], strategies: Strategies) -> None:
        self._trials = trials
        self._knobs = knobs
        self._strategies = strategies
        self.tried: list[Trial] = []
        """Every design that was tried."""

    def trials(self, wishes: Sequence[Wish]) -> Iterator[Trial]:
        """Find designs that meet the wishes.

        Parameters
        ----------
        wishes : sequence of Wish

        Yields
        ------
        Trial
        """
        targets = [wanted for wanted, _ in self._strategies.targets({}, far=False)]
        met = 0
        pairs = list(itertools.combinations(self._knobs, 2))
        for index, pair in enumerate(pairs):
            self._trials.progress.reach(index / len(pairs))
            if met >= _ENOUGH or not self._strategies.together([knob.path for knob in pair]):
                continue
            tried = self._of_pair(pair, targets, (index / len(pairs), (index + 1) / len(pairs)))
            self.tried += tried
            found = [trial for trial in tried if trial.met(wishes)]
            met += bool(found)
            yield from sorted(found, key=lambda trial: _change(trial, pair))[:_MOST_OFFERED]

    def _of_pair(
        self,
        pair: tuple[Knob, Knob],
        targets: Sequence[tuple[Wish, ...]],
        shares: tuple[float, float],
    ) -> list[Trial]:
        """Try designs in which only two fields change; `shares` are of the stage, from and to."""
        singly = list(dict.fromkeys(itertools.chain.from_iterable(targets)))
        tried: list[Trial] = []
        begun, ended = shares
        for turn, (fixed, solved) in enumerate((pair, pair[::-1])):
            # The ends of what the field can be by itself are where designs are hidden most often.
            alone = feasible_values(self._trials, {}, fixed)
            values = sorted({*fan_of(fixed, coarse=True), *alone[:1], *alone[-1:]})
            for index, value in enumerate(values):
                done = (turn + index / len(values)) / 2
                self._trials.progress.reach(begun + (ended - begun) * done)
                base = {fixed.path: value}
                places = feasible_values(self._trials, base, solved, coarse=True)
                tried += [self._trials.evaluate({**base, solved.path: place}) for place in places]
                for wish in singly:
                    tried += roots(self._trials, base, solved, wish, places=places)
        for wanted in targets:
            if len(wanted) > 1:
                nearest = sorted(tried, key=lambda trial: _miss(trial, wanted))[:_MOST_POLISHED]
                for trial in nearest:
                    moved = [replace(knob, start=trial.changes[knob.path]) for knob in pair]
                    found = least_squares_trial(self._trials, {}, moved, wanted)
                    tried += [] if found is None else [found]
        return tried


def _change(trial: Trial, knobs: Sequence[Knob]) -> float:
    """Amount of change of a trial, in visible steps."""
    return sum(abs(trial.changes[knob.path] - knob.start) / knob.step for knob in knobs)


def _miss(trial: Trial, wishes: Sequence[Wish]) -> float:
    return sum(trial.miss(wish) for wish in wishes)
