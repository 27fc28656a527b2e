"""The search from wishes to designs.

A `Request` holds fields that are set, and measures (`scenes.fit.measures`) that must have a value,
be whole or keep a bound. `knobs` lists the fields that may change and for which wishes.
`strategies` tries them, fewest first, so that a design changes in as few places as possible: closed
forms, roots along one field, least squares. Whole numbers, such as starts or diamonds, are fixed
beforehand: near ones first, and all others only if these give no solution. At last every two
continuous fields are searched together (`pairs`).

Every trial design is made by `with_changes`, so it passes all checks; one with a new warning is
rejected; of those that meet the wishes, designs are offered last of which the bench warns anew.
Solutions are rounded as far as they still meet the wishes. Measures marked `slow` need a
wrap that is built, so their wishes are met last.
"""

import heapq
import itertools
import math
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from materials.shelf import Shelf
from scenes.design.document import Design
from scenes.files.companion_files import SHIPPED, CompanionFiles
from scenes.fit.fields import field_at
from scenes.fit.knobs import Knob, check_free, knobs_for, switches_for
from scenes.fit.measures import Measured
from scenes.fit.offer_warnings import early_warnings
from scenes.fit.pairs import PairSearch
from scenes.fit.progress import FitProgress, ProgressCounter
from scenes.fit.reasons import reason_for, unusual_clause
from scenes.fit.solving import feasible_values, least_squares_trial, pattern_search
from scenes.fit.strategies import Strategies
from scenes.fit.trials import Trial, Trials
from scenes.fit.wishes import Relation, Request
from scenes.problems import DesignProblem, one_of

__all__ = ["Fit", "Solution", "fit"]

_MOST_OF_SAME_FIELDS = 2
"""Most solutions that change the same fields, so that others are offered too."""

_ENOUGH = 24
"""Solutions after which no whole numbers further away are tried."""

_MOST_SWEPT = 4
"""Most designs with other discrete fields beside which continuous ones are changed, to find the
nearest design."""

_MOST_OF_SEARCH = 8
"""Most designs from the search for solutions that may be the nearest one."""

_TRIED_PER_FIELD = 60
"""About how many designs a numerical search tries for each field that changes."""

_BUILT_PER_FIELD = 4
"""About how many wraps it builds for each of them, if the wishes need that."""

_COUNTED, _BUILT_TO_COUNT = 0.2, 8
"""Share of such a stage in which whole numbers are tried, and about how many wraps that takes."""

_SELDOM = 0.05
"""Share of searches, about, in which more fields than wishes are tried."""

_NOTICED = 2e-3
"""Relative gain in distance that justifies a design with more changes."""

_COATS = "finish.coats"

_OPEN = 0.5
"""Cost of changing a field that the design leaves at its default; of any other, 1."""

_UNSEEN = 0.02
"""Difference, in visible steps, below which two values of a field are the same."""

_DECIMALS = (0, 1, 2, 3, 4, 5, 6, 8, 10)
"""Numbers of decimals tried for values in a file, fewest first."""


@dataclass(frozen=True, slots=True)
class Solution:
    """A design that a fit offers.

    Parameters
    ----------
    trial : Trial
        The changed design and its measures.
    changes : dict
        Changes besides the settings, by path, in the design's units.
    cost : float
        Amount of change: 1 for each field that the design gives, less for one at its default; 1
        for each visible step of a value; and the rank of a field, for what is seen most or is most
        work to change, such as starts and threads.
    """

    trial: Trial
    changes: dict[str, Any]
    cost: float

    @property
    def design(self) -> Design:
        """The design, without variants."""
        assert self.trial.design is not None
        return self.trial.design

    def order(self) -> tuple[bool, float]:
        """Key by which solutions are offered: what changes least comes first.

        Least of what is seen, and of what the builder decided (`cost`). The number of coats comes
        after everything else: each coat is a day of work, and fewer may not cover the thread.
        """
        return _COATS in self.changes, self.cost


@dataclass(frozen=True, slots=True)
class Fit:
    """Result of a fit.

    Parameters
    ----------
    before : Trial
        The present design.
    request : Request
        Settings and wishes.
    solutions : tuple of Solution
        At least one: those without a new warning first, and of them what changes least.
    reason : str
        Why no design meets the wishes, in one sentence; empty if one does.
    unusual : bool
        Whether a design with values that builders do not use would meet them.
    """

    before: Trial
    request: Request
    solutions: tuple[Solution, ...]
    reason: str
    unusual: bool = False

    @property
    def met(self) -> bool:
        """Whether the wishes are met."""
        return not self.reason


def fit(
    design: Design,
    shelf: Shelf,
    request: Request,
    *,
    free: Collection[str] = (),
    keep: Collection[str] = (),
    most: int = 5,
    step: Callable[[FitProgress], None] = lambda _: None,
    beside: CompanionFiles = SHIPPED,
    unusual: bool = False,
) -> Fit:
    """Find the designs that meet the wishes with the smallest changes.

    Parameters
    ----------
    design : Design
    shelf : Shelf
    request : Request
        Settings and wishes.
    free : collection of str
        Paths of the only fields that may be changed; if empty, all that affect the wishes.
    keep : collection of str
        Paths of fields that may not be changed.
    most : int
        Most solutions to return.
    step : callable
        Called with the progress before each trial; may raise to cancel.
    beside : CompanionFiles
        Where the design's files are looked up.
    unusual : bool
        Whether values are offered that builders do not use, such as very thin coats.

    Raises
    ------
    DesignProblem
        If a fit cannot change one of the fields, a setting is not valid, or no design is valid.
    """
    base = design.without_variants()
    measured = Measured(base, shelf, beside)
    freed = check_free(measured, free, "free")
    kept = check_free(measured, keep, "keep")
    _check_choice(freed, kept, request)
    progress = ProgressCounter(step)
    trials = Trials(base, shelf, request.settings, progress, beside)
    kept |= _fixed_paths(base, request)
    search = _Search(trials, request, freed, kept, unusual=unusual)
    before = Trials(base, shelf, {}, progress, beside).evaluate({})
    progress.expect(search.stages + (1 if unusual else 1 + search.stages))
    found = search.solutions()
    if found:
        distinct = itertools.islice(_distinct(found, search.knobs, freed), 2 * most)
        # In this order: the sort keeps that of what changes least.
        offered = sorted(distinct, key=search.brings_warning)[:most]
        return Fit(before, request, tuple(offered), "")
    progress.begin("the nearest design")
    nearest, exact = search.nearest()
    if nearest.trial.met(request.wishes) and nearest.trial.can_be_wound():
        # The search for solutions ends before it has tried every value.
        return Fit(before, request, (nearest,), "")
    reason = reason_for(nearest.trial, exact, request.wishes, trials, search.knobs, search.switches)
    wider = None if unusual else _Search(trials, request, freed, kept, unusual=True)
    widened = wider is not None and wider.fields != search.fields
    beyond = wider.solutions() if wider is not None and widened else []
    reason += unusual_clause(beyond[0].trial, search.knobs, base) if beyond else ""
    return Fit(before, request, (nearest,), f"{reason}.", bool(beyond))


def _check_choice(freed: frozenset[str], kept: frozenset[str], request: Request) -> None:
    for words, both in (
        ("both free and kept", freed & kept),
        ("both given a value and free", freed & set(request.settings)),
    ):
        if both:
            raise DesignProblem(f"free: {one_of(sorted(both), 'and')} is {words}; keep one.")


def _fixed_paths(design: Design, request: Request) -> frozenset[str]:
    """List the fields that must not change because they, or their alternatives, are set."""
    settled = set(request.settings)
    relief = design.relief
    if relief is not None:
        names = [f"{design.path_of(relief)}.{name}" for name in relief.alternatives]
        if settled.intersection(names):
            settled.update(names)
    return frozenset(settled)


def _distinct(
    found: Sequence[Solution], knobs: Sequence[Knob], freed: frozenset[str]
) -> Iterator[Solution]:
    """Pick the cheapest solutions: few with the same fields, none that contains another."""
    kinds: dict[tuple[str, ...], int] = {}
    seen: list[dict[str, Any]] = []
    steps = {knob.path: knob.step for knob in knobs}
    for solution in found:
        kind = tuple(sorted(solution.changes))
        more = any(
            not freed & (solution.changes.keys() ^ other.keys())
            and _contains(solution.changes, other, steps)
            for other in seen
        )
        if more or kinds.get(kind, 0) >= _MOST_OF_SAME_FIELDS:
            continue
        kinds[kind] = kinds.get(kind, 0) + 1
        seen.append(solution.changes)
        yield solution


def _contains(changes: dict[str, Any], other: dict[str, Any], steps: dict[str, float]) -> bool:
    """Tell whether changes include all of another set, to within what is visible."""
    return all(
        path in changes
        and (
            abs(changes[path] - value) < _UNSEEN * steps[path]
            if path in steps
            else changes[path] == value
        )
        for path, value in other.items()
    )


class _Search:
    """The search for one request."""

    def __init__(
        self,
        trials: Trials,
        request: Request,
        free: frozenset[str],
        kept: frozenset[str],
        *,
        unusual: bool,
    ) -> None:
        measured = Measured(trials.design, trials.shelf, trials.beside)
        measures = [wish.measure for wish in request.wishes]
        self.trials = trials
        self.wishes = request.wishes
        self.knobs = knobs_for(
            measured, measures, free, kept, settings=request.settings, unusual=unusual
        )
        self.switches = switches_for(measured, trials.shelf, measures, free, kept, unusual=unusual)
        self.base = trials.evaluate({})
        self.ways = Strategies(trials, request.wishes, self.knobs, self.switches)
        self.pairs = PairSearch(trials, self.knobs, self.ways)
        self._beyond = ", beyond what is usual" if unusual else ""
        self._slow = any(wish.measure.slow for wish in self.wishes)

    @property
    def stages(self) -> int:
        """Most stages of the search for solutions."""
        return 1 if self._slow else 3

    @property
    def fields(self) -> tuple[list[tuple[float, float]], list[tuple[str, Any]]]:
        """Bounds of the continuous fields, and values of the discrete ones."""
        return (
            [(knob.low, knob.high) for knob in self.knobs],
            [(switch.path, switch.value) for switch in self.switches],
        )

    def solutions(self) -> list[Solution]:
        """Find all designs that meet the wishes, in `Solution.order`."""
        already = self._solution(self.base)
        if already is not None:
            return [already]
        for far in (False,) if self._slow else (False, True):
            self.trials.progress.begin(f"{'large' if far else 'small'} changes{self._beyond}")
            found = self._solutions_with_steps(far=far)
            if found:
                return sorted(found, key=Solution.order)
        if self._slow:
            return []
        self.trials.progress.begin(f"two fields together{self._beyond}")
        together = (self._solution(trial) for trial in self.pairs.trials(self.wishes))
        return sorted(
            (solution for solution in together if solution is not None), key=Solution.order
        )

    def _solutions_with_steps(self, *, far: bool) -> list[Solution]:
        found: list[Solution] = []
        begun = _COUNTED if self._slow else 0.0
        self.trials.progress.reach(0.0, until=begun, work=_BUILT_TO_COUNT)
        steps = list(self.ways.step_changes(far=far))
        enough: set[int] = set()
        done = 0.0
        whole = sum(
            self._effort(size, searched=searched, present=not base_changes)
            for size in range(len(self.knobs) + 1)
            for base_changes, searched in steps
        )
        for size in range(len(self.knobs) + 1):
            # More fields than wishes are tried only if fewer give no solution.
            if size > len(self.wishes) and found:
                break
            for index, (base_changes, searched) in enumerate(steps):
                effort = self._effort(size, searched=searched, present=not base_changes)
                reach, done = done / whole, done + effort
                reach, until = (begun + (1 - begun) * share for share in (reach, done / whole))
                self.trials.progress.reach(reach, until=until, work=effort)
                # Discrete fields that meet the wishes alone need no other field beside them.
                if index in enough or (far and len(found) >= _ENOUGH):
                    continue
                if size == 0:
                    solution = self._solution(self.trials.evaluate(base_changes))
                    if solution is not None:
                        found.append(solution)
                        enough.add(index)
                    continue
                if not (searched or self.ways.closed_forms):
                    continue
                if far and searched and not self.ways.within_reach(base_changes, size):
                    continue
                for targets, near in self.ways.targets(base_changes, far=far):
                    if size > len(targets) > 0 and found:
                        continue
                    for trial in self.ways.trials(
                        base_changes, targets, size, near=near and searched
                    ):
                        solution = self._solution(trial)
                        if solution is not None:
                            found.append(solution)
        return found

    def _effort(self, size: int, *, searched: bool, present: bool) -> float:
        """About how many designs are tried, or wraps built, where some fields change together."""
        if size == 0 or not searched or (self._slow and not present):
            return 1.0
        tried = _BUILT_PER_FIELD if self._slow else _TRIED_PER_FIELD
        seldom = _SELDOM if size > len(self.wishes) else 1.0
        return seldom * tried * size * math.comb(len(self.knobs), size)

    def _solution(self, trial: Trial) -> Solution | None:
        """Make a rounded solution of a trial if it meets the wishes and can be wound."""
        if not trial.met(self.wishes):
            return None
        tidy = self._rounded(trial, lambda near: near.met(self.wishes))
        return self._as_solution(tidy) if tidy.can_be_wound() else None

    def _rounded(self, trial: Trial, good: Callable[[Trial], bool]) -> Trial:
        """Round the continuous fields to the fewest decimals that stay good."""
        knobs = {knob.path: knob for knob in self.knobs if knob.path in trial.changes}
        for decimals in _DECIMALS:
            near = self.trials.evaluate(
                {
                    path: round(value, decimals) if path in knobs else value
                    for path, value in self._own_changes(trial).items()
                }
            )
            usual = all(knob.holds(near.changes[path]) for path, knob in knobs.items())
            if near.valid and usual and good(near):
                return near
        return trial

    def _as_solution(self, trial: Trial) -> Solution:
        changes = {
            path: value
            for path, value in self._own_changes(trial).items()
            if field_at(self.trials.design, path).value != value
        }
        return Solution(trial, changes, self._cost(changes))

    @cached_property
    def _known(self) -> set[str]:
        """What is warned of in the present design."""
        trials = self.trials
        present = Measured(trials.design, trials.shelf, trials.beside)
        return {subject for subject, _ in early_warnings(present)}

    def brings_warning(self, solution: Solution) -> bool:
        """Tell whether `check` warns of a solution anew, as far as no wrap must be laid for it.

        Parameters
        ----------
        solution : Solution
        """
        measured = solution.trial.measured
        assert measured is not None
        return any(subject not in self._known for subject, _ in early_warnings(measured))

    def _own_changes(self, trial: Trial) -> dict[str, Any]:
        """Changes of a trial besides the settings."""
        settings = self.trials.settings
        return {path: value for path, value in trial.changes.items() if path not in settings}

    def _cost(self, changes: dict[str, Any]) -> float:
        cost = 0.0
        knobs = {knob.path: knob for knob in self.knobs}
        ranks = {(switch.path, switch.value): switch.rank for switch in self.switches}
        for path, value in changes.items():
            field = field_at(self.trials.design, path)
            # Where it has no value, the builder gave its alternative.
            cost += 1.0 if field.given or field.value is None else _OPEN
            if path in knobs:
                knob = knobs[path]
                cost += knob.rank + abs(value - knob.start) / knob.step
            else:
                cost += ranks[path, value]
        return cost

    def nearest(self) -> tuple[Solution, Trial]:
        """Find the design nearest to the wishes: rounded as a solution, and as an exact trial.

        Raises
        ------
        DesignProblem
            If no design is valid.
        """
        slow, reach = self._slow, self.trials.progress.reach
        steps = [base_changes for base_changes, _ in self.ways.step_changes(far=True)]
        tried = [self.trials.evaluate(base_changes) for base_changes in steps]
        # Continuous fields are changed beside the discrete ones that come nearest by themselves.
        best_first = sorted(tried[1:], key=self._read(tried, 0, 0.3))
        for index, trial in enumerate([tried[0], *best_first[:_MOST_SWEPT]]):
            reach(0.3 + (0 if slow else 0.3 * index / (_MOST_SWEPT + 1)))
            base_changes = self._own_changes(trial)
            for knob in self.knobs:
                # If the wrap must be built, the ends of each range are enough.
                stretch = feasible_values(self.trials, base_changes, knob)
                stretch = stretch[:1] + stretch[-1:] if slow else stretch
                tried += [
                    self.trials.evaluate({**base_changes, knob.path: value}) for value in stretch
                ]
            tried += [] if slow else self.ways.at_all_angles(base_changes)
        reach(0.3 if slow else 0.6)
        fields = self.ways.smooth_fields()
        valued = [wish for wish in self.wishes if wish.relation is not Relation.WHOLE]
        if len(fields) > 1 and valued and not slow:
            squared = least_squares_trial(self.trials, {}, fields, valued)
            tried += [squared] if squared else []
        besides = [*self.pairs.tried, *self.ways.built]
        tried += heapq.nsmallest(_MOST_OF_SEARCH, besides, key=self._distance)
        can = [trial for trial in tried if trial.can_be_wound()]
        if not can:
            raise DesignProblem(self.base.problem)
        # No field is changed for a gain that nobody would notice.
        least = min(map(self._read(can, 0.3 if slow else 0.7, 1 if slow else 0.8), can))
        close = [trial for trial in can if self._distance(trial) <= least + _NOTICED]
        best = min(close, key=lambda trial: self._as_solution(trial).order())
        if not slow and fields:
            nearer = pattern_search(self.trials, best, fields, self._distance)
            gained = self._distance(best) - self._distance(nearer) > _NOTICED
            best = nearer if gained and nearer.can_be_wound() else best
        missed = self._distance(best)
        tidy = self._rounded(best, lambda near: self._distance(near) <= missed + _NOTICED / 10)
        return self._as_solution(tidy), best

    def _read(self, tried: Sequence[Trial], begun: float, ended: float) -> Callable[[Trial], float]:
        """Give `_distance`, read off all of some trials; a measure may take a second for each."""
        for index, trial in enumerate(tried):
            self.trials.progress.reach(begun + (ended - begun) * index / len(tried))
            self._distance(trial)
        return self._distance

    def _distance(self, trial: Trial) -> float:
        """Sum of the relative distances of a trial from all wishes, to six figures."""
        total = 0.0
        for wish in self.wishes:
            value = trial.value(wish.measure)
            if value is None:
                return math.inf
            scale = 1.0 if wish.relation is Relation.WHOLE else max(abs(wish.value), 1e-2)
            total += 0.0 if wish.met(value) else wish.miss(value) / scale
        return float(f"{total:.6g}")
