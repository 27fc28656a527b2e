"""Make a catalogue: read the designs, have their pictures made, and write the pages.

What cannot be made stops nothing else. A design that fails keeps the page that it had, and what was
made of it is kept for the next run. Pages are written when all results are there, so that a run
that is stopped leaves the site as it was.
"""

import time
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Self

from render.catalogue.cluster import Work, Workers
from render.catalogue.designs import (
    CatalogueDesign,
    CatalogueSettings,
    read_design,
    slugs_of,
)
from render.catalogue.pages import design_html, index_html
from render.catalogue.site_folder import Card, SiteFolder
from render.catalogue.tasks import Task, estimated_seconds
from render.common.durations import duration_text, seconds_left
from render.common.problems import REFUSALS, DrawingProblem
from render.common.progress import Progress
from render.timing.kept_times import Basis, KeptTimes
from render.timing.work import Work as TimedWork
from scenes.quantities import counted

__all__ = ["Outcome", "make_catalogue"]


@dataclass(slots=True)
class Outcome:
    """What became of a catalogue.

    Parameters
    ----------
    designs : int
        Designs that it shows.
    made, present : int
        Results that were made, and that were there already.
    pages : int
        Pages that have changed.
    removed : int
        Pages of designs that are no longer in it.
    problems : dict
        One sentence for each file that failed.
    notes : list of str
        What was left out, one sentence each.
    """

    designs: int = 0
    made: int = 0
    present: int = 0
    pages: int = 0
    removed: int = 0
    problems: dict[str, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)


def make_catalogue(
    files: Sequence[str],
    folder: Path,
    workers: Callable[[], AbstractContextManager[Workers]],
    *,
    settings: CatalogueSettings | None = None,
    title: str = "Catalogue",
    shelf: Path | None = None,
    progress: Progress | None = None,
) -> Outcome:
    """Make a catalogue of designs, or bring one up to date.

    Parameters
    ----------
    files : sequence of str
        Design files, or ``sample:`` and a sample's name, in the order of the index. Pages of
        others are removed.
    folder : Path
        A new folder, or that of a catalogue.
    workers : callable
        Opens the workers; called only if there is work.
    settings : CatalogueSettings, optional
    title : str
        Of the index.
    shelf : Path, optional
        The builder's own shelf, instead of those that the designs name.
    progress : Progress, optional

    Returns
    -------
    Outcome

    Raises
    ------
    RequestProblem, DesignProblem
        If the folder is of something else, or a file is not there.
    DrawingProblem
        If no page could be written.
    """
    settings, progress = settings or CatalogueSettings(), progress or Progress.none()
    site, named_files = SiteFolder(folder), slugs_of(files)
    outcome = Outcome()
    designs: dict[str, CatalogueDesign] = {}
    for name, file in named_files.items():
        progress.describe(f"reading {file}")
        try:
            designs[name] = read_design(name, file, shelf, settings)
        except REFUSALS as problem:
            outcome.problems[file] = str(problem)
        else:
            outcome.notes += [f"{file}: {note}" for note in designs[name].notes]
    run = _Run(site, designs.values(), progress)
    if run.tasks:
        # Before the folder is made: without workers there is nothing to put into it.
        with workers() as opened:
            site.prepare()
            run.work(opened)
    else:
        site.prepare()
    outcome.made, outcome.present = run.made, run.present
    _write_pages(site, named_files, designs, run, title, outcome)
    return outcome


class _Run:
    """The tasks of one run, each of which is done once however many designs need it."""

    def __init__(
        self, site: SiteFolder, designs: Iterable[CatalogueDesign], progress: Progress
    ) -> None:
        self._site, self._progress = site, progress
        self.made = self.present = 0
        self.problems: dict[str, str] = {}
        self.notes: list[str] = []
        self.tasks: dict[str, Task] = {}
        self.wanted: set[str] = set()
        seen: set[str] = set()
        for task in (task for design in designs for task in design.tasks()):
            key = task.key
            if key not in seen:
                seen.add(key)
                self._add(key, task)

    def _add(self, key: str, task: Task) -> None:
        self.wanted.update(task.names)
        if self._site.has(task.names):
            self.present += 1
            return
        self.tasks[key] = task
        for part in task.parts:
            self._add(part.key, part)

    def work(self, workers: Workers) -> None:
        """Have every task done, and keep the results."""
        keys = sorted(self.tasks, key=lambda key: -estimated_seconds(self.tasks[key]))
        estimates = {key: estimated_seconds(self.tasks[key]) for key in keys}
        total, done, began = sum(estimates.values()), 0.0, time.monotonic()
        longest = max(estimates.values())
        # However many workers there are, it takes as long as its longest task.
        estimate = max(total / workers.count, longest)
        work = TimedWork(f"catalogue: {total:.0f} s on {workers.count}", "", estimate=estimate)
        times = KeptTimes()
        forecast = times.forecast(work)
        expected = forecast.seconds if forecast.basis is Basis.MEASURED else None
        self._progress.restart(round(total))
        self._progress.note(f"{counted(len(keys), 'result')} to make. {forecast.sentence}")
        self._progress.describe(f"0 of {len(keys)} made")
        ended = 0
        queue = _Queue(self, keys)
        for number, result in workers.results(queue):
            key = keys[number]
            if self._keep(key, result):
                queue.note_made(key)
            ended, done = ended + 1, done + estimates[key]
            self._progress.advance(estimates[key])
            left = seconds_left(time.monotonic() - began, done / total, expected)
            words = f", about {duration_text(left)} left" if left else ""
            self._progress.describe(f"{ended} of {len(keys)} made{words}")
        if not self.problems:
            times.record(work, time.monotonic() - began)

    def _keep(self, key: str, result: dict[str, Any]) -> bool:
        task, problem = self.tasks[key], result["problem"]
        self.notes += result["notes"]
        if not problem:
            try:
                for suffix, data in result["results"].items():
                    self._site.put(key + suffix, data)
            except DrawingProblem as error:
                problem = str(error)
        if problem:
            self.problems[key] = f"{task.kind}: {problem}"
        else:
            self.made += 1
        return not problem

    def load(self, key: str) -> dict[str, Any]:
        """Make a task's plain data, with the results that it needs."""
        task = self.tasks[key]
        return task.plain(tuple(self._site.read(part.names[0]) for part in task.parts))

    def unjoined(self) -> set[str]:
        """Names of results that no page shows yet and a later run can use."""
        joined = [task for task in self.tasks.values() if self._site.has(task.names)]
        parts = {name for task in joined for part in task.parts for name in part.names}
        return self.wanted - parts

    def problem_of(self, design: CatalogueDesign) -> str:
        """Say why what a page shows could not all be made; empty if it could."""
        for task in design.tasks():
            for needed in (*task.parts, task):
                if problem := self.problems.get(needed.key):
                    return problem
            if not self._site.has(task.names):
                return f"{task.kind}: it was not made."
        return ""


class _Queue:
    """Tasks in order, each when the results that it needs are there.

    It ends when none is ready, and may go on after that.
    """

    def __init__(self, run: _Run, keys: Sequence[str]) -> None:
        self._run, self._keys = run, keys
        self._ready: deque[int] = deque()
        self._missing: dict[int, int] = {}
        self._needed_by: dict[str, list[int]] = {}
        for number, key in enumerate(keys):
            missing = [part.key for part in run.tasks[key].parts if part.key in run.tasks]
            for part in missing:
                self._needed_by.setdefault(part, []).append(number)
            if missing:
                self._missing[number] = len(missing)
            else:
                self._ready.append(number)

    def note_made(self, key: str) -> None:
        """Note that a result is there; what needs it comes next, if it has all now."""
        for number in self._needed_by.get(key, ()):
            self._missing[number] -= 1
            if not self._missing[number]:
                self._ready.appendleft(number)

    def __iter__(self) -> Self:
        return self

    def __next__(self) -> Work:
        if not self._ready:
            raise StopIteration
        number = self._ready.popleft()
        return Work(number, lambda: self._run.load(self._keys[number]))


def _write_pages(
    site: SiteFolder,
    named_files: dict[str, str],
    designs: dict[str, CatalogueDesign],
    run: _Run,
    title: str,
    outcome: Outcome,
) -> None:
    """Write the pages of designs that are whole; the others keep what they had."""
    cards: list[Card] = []
    for name, file in named_files.items():
        design = designs.get(name)
        problem = outcome.problems.get(file, "")
        if design is not None and not problem:
            problem = run.problem_of(design)
        if design is not None and not problem:
            outcome.pages += site.write_page(name, design_html(design.page()))
            cards.append(design.card())
            continue
        outcome.problems[file] = problem
        if name in site.cards:
            outcome.notes.append(f"{file}: its page stays as it was.")
            cards.append(site.cards[name])
    outcome.notes += dict.fromkeys(run.notes)
    outcome.designs = len(cards)
    if not cards:
        return
    outcome.pages += site.write_page("", index_html(title, cards))
    site.write_list(cards)
    outcome.removed = site.sweep(cards, run.unjoined())
