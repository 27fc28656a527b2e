"""The process that makes what is sent, with the command line's own functions.

One errand after the other; the page stays usable meanwhile. An errand is cancelled between any two
of its steps, and leaves no file then.
"""

import io
import signal
from collections import deque
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path
from typing import Any

from PIL import Image

from geometry.grid import Detail
from render.common.problems import REFUSALS, DrawingProblem
from render.common.progress import Progress
from render.page.workers.worker_pipe import Pipe
from render.request.subject import BUILDING, Size, Subject

__all__ = ["Cancel", "Ended", "Errand", "Kind", "Step", "Thumbnail", "run_errands"]


class Kind(StrEnum):
    """What is made."""

    STILL = "still"
    TURNTABLE = "turntable"
    COMPARISON = "comparison"
    SPIN_PAGE = "spin page"
    SHEET = "bench sheet"
    TEMPLATE = "template"
    MESH = "mesh"
    ROW = "row"
    """Small pictures of a sweep, for the page itself."""


@dataclass(frozen=True, slots=True)
class Errand:
    """Something to make.

    Parameters
    ----------
    number : int
    kind : Kind
    subjects : tuple of Subject
        As they are looked at.
    path : Path
        What to write.
    size : (int, int), optional
        pixels.
    frames : int
    max_mb : float, optional
    detail : Detail
    paper : str
        Of what is printed.
    """

    number: int
    kind: Kind
    subjects: tuple[Subject, ...]
    path: Path
    size: Size | None = None
    frames: int = 60
    max_mb: float | None = None
    detail: str = "normal"
    paper: str = "A4"


@dataclass(frozen=True, slots=True)
class Cancel:
    """Stop an errand, or do not begin it."""

    number: int


@dataclass(frozen=True, slots=True)
class Step:
    """How far an errand has come.

    Parameters
    ----------
    number : int
    share : float
        0 to 1.
    words : str
        What is being done.
    """

    number: int
    share: float
    words: str


@dataclass(frozen=True, slots=True)
class Thumbnail:
    """One small picture of a row."""

    number: int
    place: int
    jpeg: bytes


@dataclass(frozen=True, slots=True)
class Ended:
    """An errand is over.

    Parameters
    ----------
    number : int
    problem : str
        Why nothing was made; empty if all went well.
    cancelled : bool
    notes : tuple of str
        What else there is to say.
    """

    number: int
    problem: str = ""
    cancelled: bool = False
    notes: tuple[str, ...] = field(default=())


class _Cancelled(KeyboardInterrupt):
    """As if Ctrl-C had been pressed: everything tidies up after itself."""


def run_errands(pipe: Pipe) -> None:
    """Make what is asked for through a pipe, until it is closed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    office = _Office(pipe)
    try:
        while True:
            office.serve()
    except (EOFError, BrokenPipeError, ConnectionResetError):
        pass


class _Office:
    """Errands that wait, and the one in hand."""

    def __init__(self, pipe: Pipe) -> None:
        self._pipe = pipe
        self._waiting: deque[Errand] = deque()
        self._cancelled: set[int] = set()

    def serve(self) -> None:
        """Do the next errand."""
        if not self._waiting:
            self._take(self._pipe.recv())
            return
        errand = self._waiting.popleft()
        progress = _Reported(self, errand.number, _steps(errand))
        try:
            progress.say("")
            _DO[errand.kind](errand, progress, self._pipe)
        except _Cancelled:
            self._pipe.send(Ended(errand.number, cancelled=True))
        except (*REFUSALS, DrawingProblem) as problem:
            self._pipe.send(Ended(errand.number, str(problem).removeprefix("output: ")))
        except (BrokenPipeError, ConnectionResetError):
            raise
        except OSError as error:
            told = error.strerror or type(error).__name__
            self._pipe.send(Ended(errand.number, f"{errand.path.name} could not be made ({told})."))
        except MemoryError:
            self._pipe.send(Ended(errand.number, "There is not enough memory; choose smaller."))
        else:
            self._pipe.send(Ended(errand.number, notes=tuple(progress.notes)))

    def tell(self, step: Step) -> None:
        """Report a step, and stop if that is wanted."""
        while self._pipe.poll():
            self._take(self._pipe.recv())
        if step.number in self._cancelled:
            self._cancelled.discard(step.number)
            raise _Cancelled
        self._pipe.send(step)

    def _take(self, message: Errand | Cancel) -> None:
        if isinstance(message, Cancel):
            self._cancelled.add(message.number)
        else:
            self._waiting.append(message)


class _Reported(Progress):
    """Progress told to the page.

    Parameters
    ----------
    office : _Office
    number : int
        Of the errand.
    total : int
        Steps to come.
    """

    def __init__(self, office: _Office, number: int, total: int) -> None:
        super().__init__(total, quiet=True)
        self.notes: list[str] = []
        self._office, self._number, self._total = office, number, max(total, 1)
        self._done = 0.0
        self._words = ""

    def say(self, words: str) -> None:
        """Tell what is being done now."""
        self._words = words
        self._office.tell(Step(self._number, min(self._done / self._total, 1.0), words))

    def advance(self, share: float = 1) -> None:
        """Count one step, or a share of it, as done."""
        self._done += share
        self.say(self._words)

    def note(self, sentence: str) -> None:
        """Keep a sentence that must be read."""
        self.notes.append(sentence)


# What draws is imported by what needs it: a template is made without loading VTK.


def _steps(errand: Errand) -> int:
    from render.output import compare, export, still, turntable
    from render.paper import sheet, template
    from render.spin import spin_page

    count = len(errand.subjects)
    turns = errand.path.suffix != ".png"
    return {
        Kind.STILL: BUILDING + still.STEPS,
        Kind.TURNTABLE: BUILDING + turntable.steps(errand.frames),
        Kind.COMPARISON: compare.steps(count, errand.frames if turns else 1),
        Kind.SPIN_PAGE: spin_page.steps(count, errand.frames),
        Kind.SHEET: BUILDING + sheet.STEPS,
        Kind.TEMPLATE: template.STEPS,
        Kind.MESH: BUILDING + export.STEPS,
        Kind.ROW: count * (BUILDING + still.STEPS),
    }[errand.kind]


def _still(errand: Errand, progress: Progress, _: Pipe) -> None:
    from render.output.still import save_still

    assert errand.size is not None
    wrap = errand.subjects[0].build(Detail(errand.detail), progress)
    save_still(wrap, errand.path, size=errand.size, progress=progress)


def _turntable(errand: Errand, progress: Progress, _: Pipe) -> None:
    from render.output.film import Film
    from render.output.turntable import save_turntable

    assert errand.size is not None
    wrap = errand.subjects[0].build(Detail(errand.detail), progress)
    save_turntable(
        wrap,
        errand.path,
        Film(errand.size, errand.frames),
        max_mb=errand.max_mb,
        progress=progress,
    )


def _comparison(errand: Errand, progress: Progress, _: Pipe) -> None:
    from render.output.compare import Comparison, save_comparison

    comparison = Comparison.of(errand.subjects)
    for note in comparison.notes:
        progress.note(note)
    save_comparison(
        comparison,
        errand.path,
        size=errand.size,
        detail=Detail(errand.detail),
        frames=errand.frames,
        max_mb=errand.max_mb,
        progress=progress,
    )


def _spin_page(errand: Errand, progress: Progress, _: Pipe) -> None:
    from render.output.compare import Comparison
    from render.output.film import Film
    from render.spin.spin_page import MAX_MB, save_spin_page

    assert errand.size is not None
    subjects = errand.subjects
    labels: tuple[str, ...] = ()
    if len(subjects) > 1:
        comparison = Comparison.of(subjects)
        subjects, labels = comparison.subjects, comparison.labels
    save_spin_page(
        subjects,
        errand.path,
        Film(errand.size, errand.frames),
        labels=labels,
        max_mb=errand.max_mb or MAX_MB,
        detail=Detail(errand.detail),
        progress=progress,
    )


def _sheet(errand: Errand, progress: Progress, _: Pipe) -> None:
    from render.paper.page import paper_of
    from render.paper.sheet import write_sheet
    from scenes.bench.whole import bench_of

    subject = errand.subjects[0]
    wrap = subject.build(Detail.DRAFT, progress)
    bench = bench_of(wrap, step=progress.say)
    paper = paper_of(errand.paper)
    write_sheet(subject, bench, wrap, errand.path, paper=paper, progress=progress)


def _template(errand: Errand, progress: Progress, _: Pipe) -> None:
    from render.paper.page import paper_of
    from render.paper.template import save_template

    save_template(errand.subjects[0].plan(), errand.path, paper_of(errand.paper), progress)


def _mesh(errand: Errand, progress: Progress, _: Pipe) -> None:
    from render.output.export import save_mesh

    save_mesh(errand.subjects[0].build(Detail(errand.detail), progress), errand.path, progress)


def _row(errand: Errand, progress: Progress, pipe: Pipe) -> None:
    from render.output.capture import scene_of
    from render.output.compare import shared_camera

    assert errand.size is not None
    subjects = errand.subjects
    width, height = errand.size
    camera = shared_camera([subject.plan() for subject in subjects], width / height)
    wrap = subjects[0].build(Detail.DRAFT, progress)
    with scene_of(wrap, errand.size, progress, camera=camera) as scene:
        for place, subject in enumerate(subjects):
            if place:
                wrap = subject.build(Detail.DRAFT, progress)
                scene.show(wrap, progress)
            file = io.BytesIO()
            Image.fromarray(scene.picture()).save(file, format="JPEG", quality=88, subsampling=0)
            pipe.send(Thumbnail(errand.number, place, file.getvalue()))


_DO: dict[Kind, Any] = {
    Kind.STILL: _still,
    Kind.TURNTABLE: _turntable,
    Kind.COMPARISON: _comparison,
    Kind.SPIN_PAGE: _spin_page,
    Kind.SHEET: _sheet,
    Kind.TEMPLATE: _template,
    Kind.MESH: _mesh,
    Kind.ROW: _row,
}
