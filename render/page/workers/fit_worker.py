"""The fit worker: a process that looks for designs that meet wishes, as ``turnlight fit`` does."""

import math
import signal
import time
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any

from render.common.durations import seconds_left
from render.page.workers.worker_pipe import Pipe
from render.request.subject import Subject
from render.timing.searches import points_to_weigh
from scenes.design.field_words import in_words
from scenes.figures.figures import Kind
from scenes.figures.formatter import FigureFormatter
from scenes.fit.knobs import changeable_fields
from scenes.fit.measures import MEASURES, Measured
from scenes.fit.progress import CHECKED_FROM, FitProgress
from scenes.fit.search import Fit, fit
from scenes.fit.wishes import read_request
from scenes.fit.wording import (
    changed_lines,
    measure_in_table,
    measures_in_table,
    notes,
    offered_warnings,
    solution_label,
    units_of,
    verdict,
)
from scenes.problems import DESIGN_REFUSALS, DesignProblem
from scenes.quantities import Units

__all__ = [
    "FitChoices",
    "FitRequest",
    "FitResult",
    "FitStep",
    "WishRequest",
    "choices_for",
    "run_fit_worker",
]

Json = dict[str, Any]

_STEP_PERIOD = 0.5
"""Seconds between two messages about the progress of a search."""


@dataclass(frozen=True, slots=True)
class WishRequest:
    """A design of which it is asked what may be wished for.

    Parameters
    ----------
    number : int
        Identifies the request.
    subject : Subject
    units : Units
        Units of lengths in the answer.
    """

    number: int
    subject: Subject
    units: Units


@dataclass(frozen=True, slots=True)
class FitRequest:
    """Wishes for a design.

    Parameters
    ----------
    number : int
        Identifies the request.
    subject : Subject
    units : Units
        Units of lengths in the wishes and in the answer.
    wish, at_most, at_least, free : tuple of str
        As on the command line (`scenes.fit.wishes.read_request`, `scenes.fit.search.fit`).
    expected : float, optional
        Seconds that it will take, if such a search was made here before.
    """

    number: int
    subject: Subject
    units: Units
    wish: tuple[str, ...] = ()
    at_most: tuple[str, ...] = ()
    at_least: tuple[str, ...] = ()
    free: tuple[str, ...] = ()
    expected: float | None = None


@dataclass(frozen=True, slots=True)
class FitChoices:
    """What may be wished of a design, and which fields may change for it.

    Parameters
    ----------
    number : int
        Of the request.
    measures : list of dict
        ``name``, ``label``, ``now`` (text, empty if it is not measured yet), ``unit``, ``what``,
        ``counted``: whether a whole number may be wished for;
        ``built``: whether the wrap must be built for it.
    fields : list of dict
        ``path``, ``label``.
    problem : str
        Why the design cannot be measured; empty if it can.
    points : float
        Points of the grid of the wrap that is weighed, millions.
    """

    number: int
    measures: list[Json] = field(default_factory=list)
    fields: list[Json] = field(default_factory=list)
    problem: str = ""
    points: float = 0.0


@dataclass(frozen=True, slots=True)
class FitStep:
    """Progress of a search.

    Parameters
    ----------
    number : int
        Of the request.
    tried : int
        Designs tried so far.
    stage : str
        What is tried now, in words.
    share : float
        Part of the whole search that is done, from 0 to 1; it only grows.
    left : float or None
        Estimated seconds that it still takes; None if that cannot be told yet.
    """

    number: int
    tried: int
    stage: str
    share: float
    left: float | None


@dataclass(frozen=True, slots=True)
class FitResult:
    """Designs that meet the wishes, or the nearest one.

    Parameters
    ----------
    number : int
        Of the request.
    problem : str
        Why the wishes cannot be read; empty if they can.
    heading : str
    reason : str
        Why no design meets the wishes; empty if one does.
    columns : list of str
        Names of the measures in the table.
    rows : list of dict
        The present design, then the solutions: ``label``, ``cells``, ``lines`` (what changes),
        ``notes``, ``warnings`` (new ones), ``changes`` (value by path, in the units of the
        request).
    seconds : float
        How long the search has taken; 0 if it was refused.
    """

    number: int
    problem: str = ""
    heading: str = ""
    reason: str = ""
    columns: list[str] = field(default_factory=list)
    rows: list[Json] = field(default_factory=list)
    seconds: float = 0.0


def run_fit_worker(pipe: Pipe) -> None:
    """Answer each `WishRequest` and `FitRequest`, until the pipe is closed.

    Parameters
    ----------
    pipe : Pipe
        Sends `FitChoices`, or `FitStep` and at the end `FitResult`.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with suppress(EOFError, OSError):
        while True:
            request = pipe.recv()
            if isinstance(request, WishRequest):
                # A search that waits goes first: the page asks once more after it.
                if pipe.poll():
                    continue
                pipe.send(choices_for(request))
            else:
                pipe.send(_result(request, pipe))


def _measured(request: WishRequest | FitRequest) -> Measured:
    """The design in the units of the request: values are rounded as its units suit."""
    subject = request.subject
    design = subject.design.without_variants().model_copy(update={"units": request.units})
    return Measured(design, subject.shelf, subject.beside)


def choices_for(request: WishRequest, *, built: bool = True) -> FitChoices:
    """Tell what may be wished of a design, and which fields may change for it.

    Parameters
    ----------
    request : WishRequest
    built : bool
        Whether the wrap is built, which takes seconds, for the measures that are read off it; else
        they are named without their present value.
    """
    try:
        measured = _measured(request)
        measures = list(_wishable(measured, request.units, built=built))
        fields = [{"path": path, "label": in_words(path)} for path in changeable_fields(measured)]
    except DESIGN_REFUSALS as problem:
        return FitChoices(request.number, problem=in_words(str(problem)))
    return FitChoices(request.number, measures, fields, points=points_to_weigh(measured))


def _wishable(measured: Measured, units: Units, *, built: bool) -> Iterator[Json]:
    for measure in MEASURES.values():
        waits = measure.slow and not built
        value = None if waits else measure.of(measured)
        if waits or value is not None:
            yield {
                "name": measure.name,
                "label": measure.name.replace("_", " "),
                "now": "" if value is None else measure.text(value, units),
                "unit": FigureFormatter(units).unit(measure.kind).replace("degrees", "°"),
                "what": measure.what,
                "counted": measure.kind is Kind.NUMBER,
                "built": measure.slow,
            }


def _result(request: FitRequest, pipe: Pipe) -> FitResult:
    begun = time.monotonic()
    steps = _Steps(request, pipe)
    try:
        measured = _measured(request)
        if any(sign in text for text in request.wish for sign in "<>≤≥"):
            raise DesignProblem("Give the value alone, and choose at most or at least before it.")
        wishes = read_request(measured, request.wish, request.at_most, request.at_least)
        if not (wishes.wishes or wishes.settings):
            raise DesignProblem("There is no wish yet; say what it should come to.")
        found = fit(
            measured.design,
            request.subject.shelf,
            wishes,
            free=request.free,
            step=steps.show,
            beside=request.subject.beside,
        )
    except DESIGN_REFUSALS as problem:
        sentence = in_words(str(problem)).removeprefix("wish: ").removeprefix("free: ")
        return FitResult(request.number, sentence[:1].upper() + sentence[1:])
    warned = []
    for place, warnings in enumerate(offered_warnings(found), 1):
        warned.append([in_words(warning) for warning in warnings])
        steps.check(place / len(found.solutions))
    measures = measures_in_table(found)
    units = units_of(found)
    columns = []
    for measure in measures:
        unit = FigureFormatter(units).unit(measure.kind).replace("degrees", "°")
        columns.append(measure.name.replace("_", " ") + (f", {unit}" if unit else ""))
    return FitResult(
        request.number,
        heading=verdict(found),
        reason=in_words(found.reason),
        columns=columns,
        rows=list(_rows(found, warned)),
        seconds=time.monotonic() - begun,
    )


def _rows(found: Fit, warned: Sequence[list[str]]) -> Iterator[Json]:
    measures, units = measures_in_table(found), units_of(found)
    trials = [found.before, *(solution.trial for solution in found.solutions)]
    for number, trial in enumerate(trials):
        solution = found.solutions[number - 1] if number else None
        yield {
            "label": solution_label(found, number),
            "cells": [measure_in_table(measure, trial, units) for measure in measures],
            "lines": [
                in_words(line) for line in (changed_lines(found, solution) if solution else ())
            ],
            "notes": [in_words(note) for note in (notes(found, solution) if solution else ())],
            "warnings": warned[number - 1] if solution else [],
            "changes": dict(trial.changes) if solution else {},
        }


_CHECKING = "what check warns of in the designs found"


class _Steps:
    """Sends the progress of one search, at most once in `_STEP_PERIOD`."""

    def __init__(self, request: FitRequest, pipe: Pipe) -> None:
        self._request, self._pipe = request, pipe
        self._begun = time.monotonic()
        self._sent = -math.inf
        self._tried = 0

    def show(self, progress: FitProgress) -> None:
        """Send where the search stands."""
        self._tried = progress.tried
        self._send(progress.text(), progress.whole)

    def check(self, share: float) -> None:
        """Send how much of what is offered was checked for new warnings."""
        self._send(_CHECKING, CHECKED_FROM + (1 - CHECKED_FROM) * share)

    def _send(self, stage: str, share: float) -> None:
        now = time.monotonic()
        if now - self._sent < _STEP_PERIOD:
            return
        self._sent = now
        left = seconds_left(now - self._begun, share, self._request.expected)
        self._pipe.send(FitStep(self._request.number, self._tried, stage, share, left))
