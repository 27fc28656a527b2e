"""The export worker: a process that makes files with the functions of the command line.

It runs one job at a time; the page stays usable meanwhile. A job can be cancelled between any two
of its steps, and then leaves no file.
"""

import io
import signal
from collections import deque
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PIL import Image

from geometry.grid import Detail
from render.common.problems import REFUSALS, DrawingProblem
from render.common.progress import Progress
from render.page.workers.worker_pipe import Pipe
from render.request.subject import BUILDING, Size, Subject
from scenes.design.field_words import in_words

if TYPE_CHECKING:
    from render.output.signature import Signature

__all__ = [
    "CancelJob",
    "ExportJob",
    "ExportKind",
    "JobEnded",
    "JobProgress",
    "Thumbnail",
    "run_export_worker",
]


_PREPARING = 2
"""Steps of a job before its first picture: the wrap is built and put on the stage."""

_PHOTO_STEP = 20.0
"""Duration of a path-traced picture relative to such a step."""


class ExportKind(StrEnum):
    """Kind of file that a job makes."""

    STILL = "still"
    PHOTOGRAPH = "photograph"
    TURNTABLE = "turntable"
    COMPARISON = "comparison"
    SPIN_PAGE = "spin page"
    SHEET = "bench sheet"
    ROD_SHEET = "rod sheet"
    """Of the rod, and of each of its wraps."""
    ROD_PICTURE = "rod picture"
    TEMPLATE = "template"
    MESH = "mesh"
    ROW = "row"
    """Small pictures of a sweep, for the page itself."""


@dataclass(frozen=True, slots=True)
class ExportJob:
    """A file to make.

    Parameters
    ----------
    number : int
        Identifies the job.
    kind : ExportKind
    subjects : tuple of Subject
        The designs, as they are viewed on the page.
    path : Path
        File to write.
    size : (int, int), optional
        Width and height of pictures, pixels.
    frames : int
        Pictures in one turn.
    max_mb : float, optional
        Size limit of the file, megabytes.
    detail : str
        Value of a `Detail`.
    paper : str
        Paper size of printed pages, such as ``A4``.
    signed : bool
        Whether pictures carry title, builder and mark.
    resolution : int, optional
        Pixels to an inch of a picture on paper.
    """

    number: int
    kind: ExportKind
    subjects: tuple[Subject, ...]
    path: Path
    size: Size | None = None
    frames: int = 60
    max_mb: float | None = None
    detail: str = "normal"
    paper: str = "A4"
    signed: bool = False
    resolution: int | None = None


@dataclass(frozen=True, slots=True)
class CancelJob:
    """Request to stop a job, or not to start it.

    Parameters
    ----------
    number : int
        Of the job.
    """

    number: int


@dataclass(frozen=True, slots=True)
class JobProgress:
    """Progress of a job.

    Parameters
    ----------
    number : int
        Of the job.
    share : float
        Share that is done, 0 to 1.
    words : str
        The present activity in words.
    left : float, optional
        Seconds that are left, where the maker has just estimated them.
    """

    number: int
    share: float
    words: str
    left: float | None = None


@dataclass(frozen=True, slots=True)
class Thumbnail:
    """One small picture of a sweep.

    Parameters
    ----------
    number : int
        Of the job.
    place : int
        Index of the picture in the row.
    jpeg : bytes
    """

    number: int
    place: int
    jpeg: bytes


@dataclass(frozen=True, slots=True)
class JobEnded:
    """The end of a job.

    Parameters
    ----------
    number : int
        Of the job.
    problem : str
        Reason for a failure; empty if the job succeeded.
    cancelled : bool
    notes : tuple of str
        Further remarks for the builder.
    """

    number: int
    problem: str = ""
    cancelled: bool = False
    notes: tuple[str, ...] = field(default=())


_PHOTO = ExportKind.PHOTOGRAPH


class _Cancelled(KeyboardInterrupt):
    """A job was cancelled. Handled like Ctrl-C, so that unfinished files are removed."""


def run_export_worker(pipe: Pipe) -> None:
    """Run the jobs that arrive through a pipe, until it is closed.

    Parameters
    ----------
    pipe : Pipe
        Receives `ExportJob` and `CancelJob`, and sends `JobProgress`, `Thumbnail` and `JobEnded`.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    queue = _JobQueue(pipe)
    try:
        while True:
            queue.run_next()
    except (EOFError, BrokenPipeError, ConnectionResetError):
        pass


class _JobQueue:
    """Jobs that wait, and the one that is running."""

    def __init__(self, pipe: Pipe) -> None:
        self._pipe = pipe
        self._waiting: deque[ExportJob] = deque()
        self._cancelled: set[int] = set()

    def run_next(self) -> None:
        """Run the next job, or wait for a message."""
        if not self._waiting:
            self._take(self._pipe.recv())
            return
        job = self._waiting.popleft()
        progress = _ReportedProgress(
            self, job.number, _steps(job), slow=_PHOTO_STEP if job.kind is _PHOTO else 1.0
        )
        try:
            progress.describe("")
            _MAKERS[job.kind](job, progress, self._pipe)
        except _Cancelled:
            self._pipe.send(JobEnded(job.number, cancelled=True))
        except (*REFUSALS, DrawingProblem) as problem:
            self._pipe.send(JobEnded(job.number, in_words(str(problem).removeprefix("output: "))))
        except (BrokenPipeError, ConnectionResetError):
            raise
        except OSError as error:
            reason = error.strerror or type(error).__name__
            self._pipe.send(JobEnded(job.number, f"{job.path.name} could not be made ({reason})."))
        except MemoryError:
            self._pipe.send(JobEnded(job.number, "There is not enough memory; choose smaller."))
        else:
            self._pipe.send(JobEnded(job.number, notes=tuple(progress.notes)))

    def report(self, progress: JobProgress) -> None:
        """Send the progress of the running job; raise if the job was cancelled."""
        while self._pipe.poll():
            self._take(self._pipe.recv())
        if progress.number in self._cancelled:
            self._cancelled.discard(progress.number)
            raise _Cancelled
        self._pipe.send(progress)

    def _take(self, message: ExportJob | CancelJob) -> None:
        if isinstance(message, CancelJob):
            self._cancelled.add(message.number)
        else:
            self._waiting.append(message)


class _ReportedProgress(Progress):
    """Progress of a job that is sent to the page.

    Parameters
    ----------
    queue : _JobQueue
    number : int
        Of the job.
    total : int
        Number of steps of the job.
    slow : float
        Duration of a step after the first two, in which the wrap is built and put on the stage,
        relative to those.
    """

    def __init__(self, queue: _JobQueue, number: int, total: int, *, slow: float = 1.0) -> None:
        super().__init__(total, quiet=True)
        self.notes: list[str] = []
        self._queue, self._number, self._slow = queue, number, slow
        self._total = self._weighted(max(total, 1))
        self._done = 0.0
        self._words = ""

    def _weighted(self, steps: float) -> float:
        return min(steps, _PREPARING) + self._slow * max(steps - _PREPARING, 0.0)

    @property
    def _share(self) -> float:
        return min(self._weighted(self._done) / self._total, 1.0)

    def describe(self, words: str) -> None:
        """Report the present activity."""
        self._words = words
        self._queue.report(JobProgress(self._number, self._share, words))

    def expect(self, seconds: float, sentence: str) -> None:
        """Report how long the rest of the work will take."""
        self._queue.report(JobProgress(self._number, self._share, self._words, seconds))

    def advance(self, share: float = 1) -> None:
        """Count one step, or a share of a step, as done."""
        self._done += share
        self.describe(self._words)

    def note(self, sentence: str) -> None:
        """Keep a sentence that must be read."""
        self.notes.append(sentence)


# Renderers are imported where they are needed: a template is made without loading VTK.


def _steps(job: ExportJob) -> int:
    from render.output import compare, export, rod_picture, still, turntable
    from render.paper import bench_sheet, sheet, template
    from render.spin import spin_page

    count = len(job.subjects)
    turns = job.path.suffix != ".png"
    limited = job.max_mb is not None
    return {
        ExportKind.STILL: BUILDING + still.STEPS,
        ExportKind.PHOTOGRAPH: BUILDING + still.STEPS,
        ExportKind.TURNTABLE: BUILDING + turntable.steps(job.frames, limited=limited),
        ExportKind.COMPARISON: compare.steps(count, job.frames if turns else 1, limited=limited),
        ExportKind.SPIN_PAGE: spin_page.steps(count, job.frames),
        ExportKind.SHEET: BUILDING + sheet.STEPS,
        ExportKind.ROD_SHEET: bench_sheet.steps(job.path, job.subjects[0]),
        ExportKind.ROD_PICTURE: BUILDING + rod_picture.steps(job.subjects[0].design),
        ExportKind.TEMPLATE: template.STEPS,
        ExportKind.MESH: BUILDING + export.STEPS,
        ExportKind.ROW: count * (BUILDING + still.STEPS),
    }[job.kind]


def _still(job: ExportJob, progress: Progress, _: Pipe) -> None:
    from render.output.still import save_still

    assert job.size is not None
    signature = _signature_of(job)
    wrap = job.subjects[0].build(Detail(job.detail), progress)
    save_still(
        wrap,
        job.path,
        size=job.size,
        signature=signature,
        resolution=job.resolution,
        progress=progress,
    )


def _signature_of(job: ExportJob) -> "Signature | None":
    from render.output.signature import Signature

    return Signature.of(job.subjects[0]) if job.signed else None


def _photograph(job: ExportJob, progress: Progress, _: Pipe) -> None:
    from render.output.still import save_still
    from render.request.capture_settings import CaptureSettings

    assert job.size is not None
    capture = CaptureSettings(photo=True)
    capture.prepare(progress.describe)
    signature = _signature_of(job)
    wrap = job.subjects[0].build(Detail(job.detail), progress)
    save_still(
        wrap,
        job.path,
        size=job.size,
        capture=capture,
        signature=signature,
        resolution=job.resolution,
        progress=progress,
    )


def _turntable(job: ExportJob, progress: Progress, _: Pipe) -> None:
    from render.output.film import Film
    from render.output.turntable import save_turntable

    assert job.size is not None
    signature = _signature_of(job)
    wrap = job.subjects[0].build(Detail(job.detail), progress)
    save_turntable(
        wrap,
        job.path,
        Film(job.size, job.frames),
        max_mb=job.max_mb,
        signature=signature,
        progress=progress,
    )


def _comparison(job: ExportJob, progress: Progress, _: Pipe) -> None:
    from render.output.compare import Comparison, save_comparison

    comparison = Comparison.of(job.subjects)
    for note in comparison.notes:
        progress.note(note)
    save_comparison(
        comparison,
        job.path,
        size=job.size,
        detail=Detail(job.detail),
        frames=job.frames,
        max_mb=job.max_mb,
        progress=progress,
    )


def _spin_page(job: ExportJob, progress: Progress, _: Pipe) -> None:
    from render.output.compare import Comparison
    from render.output.film import Film
    from render.spin.spin_page import save_spin_page

    assert job.size is not None
    subjects = job.subjects
    labels: tuple[str, ...] = ()
    if len(subjects) > 1:
        comparison = Comparison.of(subjects)
        subjects, labels = comparison.subjects, comparison.labels
    save_spin_page(
        subjects,
        job.path,
        Film(job.size, job.frames),
        labels=labels,
        max_mb=job.max_mb,
        detail=Detail(job.detail),
        progress=progress,
    )


def _sheet(job: ExportJob, progress: Progress, _: Pipe) -> None:
    from render.paper.page import paper_of
    from render.paper.sheet import write_sheet
    from scenes.bench.report import bench_report

    subject = job.subjects[0]
    wrap = subject.build_for_bench(progress)
    bench = bench_report(wrap, step=progress.describe)
    paper = paper_of(job.paper)
    write_sheet(subject, bench, wrap, job.path, paper=paper, progress=progress)


def _rod_sheet(job: ExportJob, progress: Progress, _: Pipe) -> None:
    from render.paper.bench_sheet import save_bench
    from render.paper.page import paper_of

    save_bench(job.subjects[0], job.path, paper_of(job.paper), progress)


def _rod_picture(job: ExportJob, progress: Progress, _: Pipe) -> None:
    from render.output.rod_picture import save_rod_picture

    assert job.size is not None
    signature = _signature_of(job)
    wrap = job.subjects[0].build(Detail(job.detail), progress)
    save_rod_picture(
        wrap,
        job.path,
        size=job.size,
        signature=signature,
        resolution=job.resolution,
        progress=progress,
    )


def _template(job: ExportJob, progress: Progress, _: Pipe) -> None:
    from render.paper.page import paper_of
    from render.paper.template import save_template

    save_template(job.subjects[0].plan(), job.path, paper_of(job.paper), progress)


def _mesh(job: ExportJob, progress: Progress, _: Pipe) -> None:
    from render.output.export import save_mesh

    save_mesh(job.subjects[0].build(Detail(job.detail), progress), job.path, progress)


def _row(job: ExportJob, progress: Progress, pipe: Pipe) -> None:
    from render.output.capture import scene_of
    from render.output.compare import shared_camera

    assert job.size is not None
    subjects = job.subjects
    width, height = job.size
    camera = shared_camera([subject.plan() for subject in subjects], width / height)
    wrap = subjects[0].build(Detail.DRAFT, progress)
    with scene_of(wrap, job.size, progress, camera=camera) as scene:
        for place, subject in enumerate(subjects):
            if place:
                wrap = subject.build(Detail.DRAFT, progress)
                scene.show(wrap, progress)
            file = io.BytesIO()
            Image.fromarray(scene.picture()).save(file, format="JPEG", quality=88, subsampling=0)
            pipe.send(Thumbnail(job.number, place, file.getvalue()))


_MAKERS: dict[ExportKind, Any] = {
    ExportKind.STILL: _still,
    ExportKind.PHOTOGRAPH: _photograph,
    ExportKind.TURNTABLE: _turntable,
    ExportKind.COMPARISON: _comparison,
    ExportKind.SPIN_PAGE: _spin_page,
    ExportKind.SHEET: _sheet,
    ExportKind.ROD_SHEET: _rod_sheet,
    ExportKind.ROD_PICTURE: _rod_picture,
    ExportKind.TEMPLATE: _template,
    ExportKind.MESH: _mesh,
    ExportKind.ROW: _row,
}
