"""Random wishes over the samples, read again if met, looked for by brute force if impossible.

A few run with the suite. All 500, in as many processes as there are cores:

    .venv/bin/python -m tests.scenes.fit.random_wishes
"""

import argparse
import itertools
import math
import os
import random
import sys
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize

from materials.shelf import Shelf
from scenes.files import samples, storage
from scenes.fit.knobs import check_free, knobs_for, switches_for
from scenes.fit.measures import MEASURES, Measured
from scenes.fit.search import fit
from scenes.fit.trials import Trial, Trials
from scenes.fit.wishes import Relation, Request, Wish, read_request
from scenes.problems import DesignProblem

SHELF = Shelf.shipped()

QUICK = [name for name, measure in MEASURES.items() if not measure.slow]
SLOW_SHARE = 0.06
"""Share of the requests for which wraps must be built."""

FIELDS = ("relief.angle", "relief.strip_width", "relief.gap", "relief.count", "relief.starts")


@dataclass(frozen=True)
class Asked:
    """Random arguments of a fit."""

    sample: str
    wish: tuple[str, ...]
    at_most: tuple[str, ...]
    at_least: tuple[str, ...]
    free: tuple[str, ...]

    def request(self) -> Request:
        return read_request(self.measured(), self.wish, self.at_most, self.at_least)

    def measured(self) -> Measured:
        return Measured(samples.load(self.sample).without_variants(), SHELF)


def asked(seed: int) -> Asked:
    """Draw one request that is read without a refusal."""
    draw = random.Random(seed)
    while True:
        name = draw.choice(samples.names())
        measured = Measured(samples.load(name).without_variants(), SHELF)
        present = {one: MEASURES[one].of(measured) for one in QUICK}
        present = {one: value for one, value in present.items() if value is not None}
        if len(present) == 1 and draw.random() < 0.9:  # only the length of the wrap
            continue
        if draw.random() < SLOW_SHARE:
            slow = draw.choice(("weight", "cover_thread"))
            present = {slow: MEASURES[slow].of(measured) or 1.0}
        chosen = draw.sample(sorted(present), min(len(present), draw.choice((1, 1, 1, 2))))
        texts: dict[str, list[str]] = {"wish": [], "at_most": [], "at_least": []}
        for one in chosen:
            texts[draw.choice(("wish", "wish", "wish", "at_most", "at_least"))].append(
                f"{one}={_value(draw, one, present[one])}"
            )
        if "angle" in present and draw.random() < 0.15:
            field = draw.choice(FIELDS)
            texts["wish"].append(f"{field}={_setting(draw, field)}")
        free = (draw.choice(FIELDS),) if draw.random() < 0.15 else ()
        found = Asked(name, *(tuple(texts[key]) for key in texts), free)
        try:
            request = found.request()
            check_free(measured, free, "free")
            if request.wishes and not set(free).intersection(request.settings):
                return found
        except DesignProblem:
            continue


def _value(draw: random.Random, name: str, now: float) -> str:
    measure = MEASURES[name]
    if measure.kind.value == "number" and draw.random() < 0.25:
        return "whole"
    reach = draw.choice((0.3, 1.0, 2.5))
    value = now * math.exp(draw.uniform(-reach, reach))
    if measure.kind.value == "number" and draw.random() < 0.6:
        value = max(round(value), 1)
    unit = {"length": "mm", "angle": "deg", "mass": "g"}.get(measure.kind.value, "")
    return f"{math.degrees(value) if unit == 'deg' else value:.6g}{unit}"


def _setting(draw: random.Random, field: str) -> str:
    low, high = {"relief.angle": (8, 82), "relief.strip_width": (3, 60), "relief.gap": (0, 80)}.get(
        field, (1, 12)
    )
    whole = field.endswith(("count", "starts"))
    return str(draw.randint(low, high)) if whole else f"{draw.uniform(low, high):.4g}"


def read_again(one: Asked, trial: Trial) -> Measured:
    """Measures of a design as its file would be read."""
    text = storage.text_of(trial.design, samples.text(one.sample))
    return Measured(storage.parse(text, shelf=SHELF).without_variants(), SHELF)


def meets(wish: Wish, value: float) -> bool:
    """Whether a value is as wished, told without the code that the search asks."""
    if wish.relation is Relation.WHOLE:
        return round(value) >= 1 and abs(value - round(value)) < 5e-4
    off = value - wish.value
    if wish.relation is Relation.IS:
        return abs(off) <= max(2e-3 * abs(wish.value), 5e-4)
    return (off if wish.relation is Relation.AT_MOST else -off) <= 1e-6 * max(wish.value, 1)


# ---- Brute force


class Grid:
    """All designs that the fields of a fit can give, on a grid, and polished from its best."""

    def __init__(self, one: Asked) -> None:
        request, measured = one.request(), one.measured()
        self.wishes = request.wishes
        self.trials = Trials(measured.design, SHELF, request.settings)
        free = check_free(measured, one.free, "free")
        kept = set(request.settings)
        relief = measured.design.relief
        names = [f"relief.{name}" for name in relief.alternatives] if relief else []
        kept |= set(names) if kept.intersection(names) else set()
        wished = [wish.measure for wish in self.wishes]
        self.knobs = knobs_for(measured, wished, free, kept, settings=request.settings)
        self.switches = switches_for(measured, SHELF, wished, free, kept)
        self.slow = any(wish.measure.slow for wish in self.wishes)

    def found(self) -> dict[str, object] | None:
        """Changes with which all wishes are met; None if there are none on the grid."""
        near: list[tuple[float, dict[str, object], tuple[str, ...]]] = []
        for changes, paths in self._points():
            off = self._off(changes)
            if off == 0:
                return changes
            near.append((off, changes, paths))
        if self.slow:
            return None
        # One start from each set of discrete values and fields, so that none hides another.
        best: dict[object, tuple[float, dict[str, object], tuple[str, ...]]] = {}
        for entry in near:
            fixed = tuple(sorted((k, v) for k, v in entry[1].items() if k not in entry[2]))
            key = (fixed, entry[2])
            if entry[2] and (key not in best or entry[0] < best[key][0]):
                best[key] = entry
        for _, changes, paths in sorted(best.values(), key=lambda entry: entry[0])[:12]:
            polished = self._polished(changes, paths)
            if self._off(polished) == 0:
                return polished
        return None

    def _points(self) -> Iterator[tuple[dict[str, object], tuple[str, ...]]]:
        steps: list[dict[str, object]] = [{}]
        steps += [{switch.path: switch.value} for switch in self.switches]
        for index, base in enumerate(steps):
            yield base, ()
            for size, count in ((1, 61 if not index else 13), (2, 17 if not index else 0)):
                count = min(count, 7) if self.slow else count
                if self.slow and (index or size > 1):
                    continue
                for knobs in itertools.combinations(self.knobs, size):
                    spread = [self._spread(knob, count) for knob in knobs]
                    paths = tuple(knob.path for knob in knobs)
                    for values in itertools.product(*spread):
                        yield {**base, **dict(zip(paths, values, strict=True))}, paths

    def _spread(self, knob, count: int) -> list[float]:
        reach = 12 * abs(knob.start)
        ends = max(knob.low, knob.start - reach), min(knob.high, knob.start + reach)
        return np.linspace(*ends, count).tolist() if count else []

    def _off(self, changes: dict[str, object]) -> float:
        trial = self.trials.evaluate(changes)
        total = 0.0
        for wish in sorted(self.wishes, key=lambda wish: wish.measure.slow):
            value = trial.value(wish.measure)
            if value is None:
                return math.inf
            if not wish.met(value):
                total += wish.miss(value) / max(abs(value), 1e-2)
        if total == 0 and not trial.can_be_wound():
            return math.inf
        return total

    def _polished(self, changes: dict[str, object], paths: tuple[str, ...]) -> dict[str, object]:
        knobs = [knob for knob in self.knobs if knob.path in paths]
        scale = np.array([knob.step for knob in knobs])

        def named(values: np.ndarray) -> dict[str, object]:
            inside = [
                min(max(value, knob.low), knob.high)
                for value, knob in zip((values * scale).tolist(), knobs, strict=True)
            ]
            return {**changes, **dict(zip((knob.path for knob in knobs), inside, strict=True))}

        start = np.array([changes[knob.path] for knob in knobs]) / scale
        result = minimize(
            lambda values: min(self._off(named(values)), 1e6),
            start,
            method="Nelder-Mead",
            options={"maxfev": 150, "xatol": 1e-9, "fatol": 1e-12},
        )
        return named(result.x)


def faults(one: Asked) -> tuple[str, str]:
    """What a fit answers, in one word, and what is wrong with it; empty if nothing."""
    design = samples.load(one.sample)
    try:
        found = fit(design, SHELF, one.request(), free=one.free)
    except DesignProblem as problem:
        grid = Grid(one).found()
        return "refused", f"{problem} but {grid}" if grid is not None else ""
    for solution in found.solutions if found.met else ():
        read = read_again(one, solution.trial)
        for wish in one.request().wishes:
            value = wish.measure.of(read)
            if value is None or not meets(wish, value):
                return "met", f"{wish} reads {value} with {solution.changes}"
    if found.met:
        return "met", ""
    grid = Grid(one).found()
    return "impossible", f"{found.reason} but {grid}" if grid is not None else ""


@dataclass(frozen=True)
class Checked:
    """Answer to the request of one seed."""

    seed: int
    asked: Asked
    answer: str
    fault: str
    seconds: float


def checked(seed: int) -> Checked:
    """Draw a request, fit, and check the answer; whatever goes wrong is its fault."""
    begun = time.perf_counter()
    one = asked(seed)
    try:
        answer, fault = faults(one)
    except Exception as error:  # a traceback of one must not end the others
        answer, fault = "failed", f"{type(error).__name__}: {error}"
    return Checked(seed, one, answer, fault, time.perf_counter() - begun)


def _print(line: str) -> None:
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def main(arguments: list[str] | None = None) -> int:
    """Check many random requests, in several processes; 1 if an answer is wrong."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=500)
    parser.add_argument("--first", type=int, default=2, help="first seed")
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    given = parser.parse_args(arguments)
    answers: Counter[str] = Counter()
    wrong = []
    with ProcessPoolExecutor(given.processes) as pool:
        waited = [
            pool.submit(checked, seed) for seed in range(given.first, given.first + given.count)
        ]
        for number, done in enumerate(as_completed(waited), 1):
            one = done.result()
            answers[one.answer] += 1
            if one.fault:
                wrong.append(one)
            state = f"WRONG {one.asked}: {one.fault}" if one.fault else one.answer
            _print(f"{number} seed {one.seed} {one.seconds:.1f} s {state}")
    for one in sorted(wrong, key=lambda one: one.seed):
        _print(f"seed {one.seed}: {one.asked}: {one.fault}")
    _print(f"{given.count} requests, {len(wrong)} wrong: {dict(answers)}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
