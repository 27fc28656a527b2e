"""The photo worker: a process that path-traces what clients see, pass by pass.

One photograph is made at a time, in the order of the requests. A photograph that is not wanted any
more, or not the first any more, is given up between two passes. Wrap, meshes and search tree are
kept for the next photograph of the same design, until the process is ended after a minute without
work.
"""

import io
import logging
import signal
import time
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from PIL import Image

from geometry.grid import Detail
from render.common.heap import give_back_freed_memory
from render.common.problems import REFUSALS
from render.common.tags import Tag, save_png
from render.page.photo.photo_messages import (
    PhotoPicture,
    PhotoProblem,
    PhotoRequest,
    PhotoStep,
)
from render.page.workers.windows import shape_of
from render.page.workers.worker_pipe import Pipe
from render.request.capture_settings import CaptureSettings
from render.request.subject import Pixels, Subject
from scenes.building.build import build
from scenes.stage.camera import adjusted, camera_for
from scenes.stage.stage import Stage, lighting, stage_for

if TYPE_CHECKING:
    from render.pathtraced.photo import Growth, PhotoScene

# The path tracer is imported where it is needed: the page imports the messages of this process.

__all__ = ["PhotoWork", "run_photo_worker"]

_QUALITY = 88
"""JPEG quality of unfinished pictures, which are full of grain."""

_EVERY = 0.4
"""Least seconds between two unfinished pictures."""

_FAULT = (
    "No photograph can be taken of this design, by a fault of Turnlight itself ({}). Your work is "
    "kept; the terminal tells more."
)

_LOG = logging.getLogger(__name__)

Requests = tuple[PhotoRequest, ...]


class _GivenUp(Exception):
    """The photograph in hand is not wanted any more."""


def run_photo_worker(pipe: Pipe) -> None:
    """Take the photographs that are requested through a pipe, until it is closed.

    Parameters
    ----------
    pipe : Pipe
        Receives tuples of `PhotoRequest`, and sends `PhotoStep`, `PhotoPicture` and `PhotoProblem`.
    """
    # Ctrl-C is handled by the page's process, which closes the pipe.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with suppress(EOFError, BrokenPipeError, ConnectionResetError):
        work = PhotoWork(pipe)
        while True:
            work.run_next()


class PhotoWork:
    """The work of the process.

    Parameters
    ----------
    pipe : Pipe
    """

    def __init__(self, pipe: Pipe) -> None:
        self._pipe = pipe
        self._requests: Requests = ()
        self._ended: set[int] = set()
        self._shape: Subject | None = None
        self._stage: Stage | None = None
        self._photo: PhotoScene | None = None

    def run_next(self) -> None:
        """Take the next photograph, or wait for a message."""
        waiting = [one for one in self._requests if one.number not in self._ended]
        if not waiting:
            self._receive(wait=True)
            return
        request = waiting[0]
        try:
            self._take(request)
        except _GivenUp:
            return
        except REFUSALS as problem:
            self._pipe.send(PhotoProblem(request.number, str(problem)))
        except (EOFError, BrokenPipeError, ConnectionResetError):
            raise
        except Exception as fault:
            # A new process would have the same fault with the same design.
            _LOG.error("The photograph could not be taken.", exc_info=fault)
            self._let_go()
            self._pipe.send(PhotoProblem(request.number, _FAULT.format(type(fault).__name__)))
        self._ended.add(request.number)

    def _receive(self, *, wait: bool = False) -> None:
        if wait:
            self._requests = self._pipe.recv()
        while self._pipe.poll():
            self._requests = self._pipe.recv()
        self._ended &= {one.number for one in self._requests}

    def _check(self, number: int) -> bool:
        """Whether a photograph is to end as it is; raise if another is wanted first, or none."""
        self._receive()
        first = next((one for one in self._requests if one.number not in self._ended), None)
        if first is None or first.number != number:
            raise _GivenUp
        return first.stopped

    def _take(self, request: PhotoRequest) -> None:
        capture = CaptureSettings(photo=True, samples=request.paths)
        capture.prepare(lambda words: self._pipe.send(PhotoStep(request.number, words)))
        if self._check(request.number):
            raise _GivenUp  # nothing can be shown yet
        photo = self._prepared(request)
        tag = Tag.of(request.subject.design, capture=capture.description)
        shown = began = time.perf_counter()
        pace = _Pace(photo)
        for growth in photo.growing():
            stopped = not growth.finished and self._check(request.number)
            now = time.perf_counter()
            left = pace.left(growth, now - began)
            last = growth.done == growth.total
            if growth.finished or stopped or last or growth.done == 1 or now - shown >= _EVERY:
                self._send(request, growth, left, tag, finished=growth.finished or stopped)
                shown = time.perf_counter()
            if stopped:
                break
        give_back_freed_memory()

    def _prepared(self, request: PhotoRequest) -> "PhotoScene":
        """The scene of a request, made from what is there of the one before."""
        from render.pathtraced.photo import PhotoScene

        stage = self._stage_of(request)
        self._pipe.send(PhotoStep(request.number, "setting the scene"))
        if self._photo is None:
            self._photo = PhotoScene(stage, request.size, samples=request.paths)
        self._photo.show_stage(stage)
        self._photo.look_from(stage.camera)
        self._photo.turn_to(stage.turn)
        self._photo.resize(request.size, request.paths)
        return self._photo

    def _stage_of(self, request: PhotoRequest) -> Stage:
        subject, (width, height) = request.subject, request.size
        shape, aspect = shape_of(subject), width / height
        plan, spec = subject.plan(), subject.design.camera
        # As the page frames its live picture, in which the rod never leans.
        camera = adjusted(camera_for(plan, spec.view, aspect), spec)
        if self._stage is None or shape != self._shape:
            self._let_go()
            self._pipe.send(PhotoStep(request.number, "building the wrap"))
            wrap = build(plan, Detail.NORMAL, lambda _: self._keep_on(request.number))
            self._shape, self._stage = shape, stage_for(wrap, aspect, camera=camera)
            return self._stage
        lit = lighting(plan, subject.design.light, camera, aspect)
        stage = self._stage.with_light(lit).with_camera(camera)
        self._stage = replace(stage, turn=spec.turn)
        return self._stage

    def _keep_on(self, number: int) -> None:
        if self._check(number):
            raise _GivenUp

    def _let_go(self) -> None:
        """Release the scene, before the next one takes its memory."""
        if self._photo is not None:
            self._photo.close()
        self._photo = self._stage = self._shape = None

    def _send(
        self, request: PhotoRequest, growth: "Growth", left: float, tag: Tag, *, finished: bool
    ) -> None:
        from render.pathtraced.engine import selected_engine
        from render.pathtraced.photo import developed

        pixels = developed(growth.light)
        picture = PhotoPicture(
            request.number,
            _png(pixels, tag) if finished else _jpeg(pixels),
            1.0 if finished else growth.done / (growth.total + 1),
            growth.paths,
            0.0 if finished else left,
            finished,
            growth.denoised,
            selected_engine().words,
            _memory_mb() if finished else None,
        )
        self._pipe.send(picture)


class _Pace:
    """How long the passes take that are left.

    Parameters
    ----------
    photo : PhotoScene
    """

    def __init__(self, photo: "PhotoScene") -> None:
        self._after = photo.denoising
        self._first = 0.0

    def left(self, growth: "Growth", spent: float) -> float:
        """Seconds that are left.

        Parameters
        ----------
        growth : Growth
        spent : float
            Seconds since the beginning.
        """
        if growth.done == 1:
            # It has waited for the search tree and the guides too; the next ones have not.
            self._first = spent
            each = spent
        else:
            each = (spent - self._first) / (growth.done - 1)
        return (growth.total - growth.done) * each + self._after


def _jpeg(pixels: Pixels) -> bytes:
    file = io.BytesIO()
    Image.fromarray(pixels).save(file, format="JPEG", quality=_QUALITY, subsampling=0)
    return file.getvalue()


def _png(pixels: Pixels, tag: Tag) -> bytes:
    file = io.BytesIO()
    save_png(pixels, file, tag)
    return file.getvalue()


def _memory_mb() -> float | None:
    """Memory of this process, megabytes; None where the system does not tell."""
    with suppress(OSError, ValueError, StopIteration):
        status = Path("/proc/self/status").read_text(encoding="ascii")
        line = next(line for line in status.splitlines() if line.startswith("VmRSS:"))
        return int(line.split()[1]) / 1000
    return None
