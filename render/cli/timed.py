"""How long a command takes: said before it begins, and kept for the next time."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from geometry.grid import Detail
from render.common.progress import Progress
from render.request.subject import Subject
from render.timing.kept_times import KeptTimes
from render.timing.work import Work

__all__ = ["timed", "timed_work"]

_WORTH_SAYING = 4.0
"""Seconds: of what surely takes less, nothing is said."""


@contextmanager
def timed(
    steps: int, kind: str, ending: str, subjects: Sequence[Subject], detail: Detail, **more: Any
) -> Iterator[Progress]:
    """Show the progress of making a file: how long it will take first, and keep how long it took.

    Parameters
    ----------
    steps : int
        Of the progress.
    kind : str
        Kind of file, such as ``still``.
    ending : str
        File name extension.
    subjects : sequence of Subject
        The designs in it.
    detail : Detail
    **more
        Further fields of `Work`.

    Yields
    ------
    Progress

    Raises
    ------
    DesignProblem
        If a design cannot be laid out.
    """
    points = max(subject.points_of_rod(detail) for subject in subjects)
    work = Work(kind, ending, detail=detail.value, designs=len(subjects), points=points, **more)
    with timed_work(steps, work) as progress:
        yield progress


@contextmanager
def timed_work(steps: int, work: Work) -> Iterator[Progress]:
    """Show the progress of some work: how long it will take first, and keep how long it took.

    Parameters
    ----------
    steps : int
        Of the progress.
    work : Work

    Yields
    ------
    Progress
    """
    times = KeptTimes()
    forecast = times.forecast(work)
    with Progress(steps) as progress, times.measuring(work):
        # The path tracer says it by itself, from a small picture that it traces first.
        if not work.paths and forecast.high >= _WORTH_SAYING:
            progress.announce(forecast.sentence)
        yield progress
