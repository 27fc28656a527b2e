"""The render worker: a process that draws the page's pictures.

It draws each requested view in increasing quality: a preview, then a plain picture, then a fine
one, then a ring of pictures, one for each small turn of the rod. New requests replace the work in
hand (`drawing_order` has the order of several views). It is a process because VTK must be used on
the thread that made its window, and because a crash of a graphics driver must not affect the
document.

Only the newest message counts. A turn is drawn as a preview (half size; every other point of a
draft while a slider moves), plain, then fine. After it comes a ring of 120 turns, plain first and
nearest first. Drawing one picture cannot be interrupted: while a pointer is at a slider neither
fine pictures nor those of the ring are started (`RenderRequest.held`). At most three pictures of a
view are sent but not acknowledged, so that a slow tablet slows its own pictures instead of filling
the network. After a minute without work the process is ended, which frees its 1.0 to 1.4 GB
(half-scale sample, 900 x 600 pixels, VTK 9.7.2, software GL).

PyVista's view for trame (`PyVistaRCAView`) draws on the event loop, so that every click waits for a
frame, and streams the content of a window, so that the browser cannot keep a ring. Measured with
trame-pyvista 0.2.3 and trame-rca 2.11.8 in Chromium at 896 x 646 pixels on two overloaded cores:
while the rod was dragged, a trigger was answered after 2.9 to 5.1 s (median), and on this page
after 16 to 26 ms. Python's global lock is not the reason for a process: during frames of 3.4 to
4.2 s a thread beside VTK waited at most 17 ms.
"""

import io
import logging
import signal
import traceback
from contextlib import suppress
from typing import TYPE_CHECKING

from PIL import Image

from geometry.grid import Detail
from render.common.heap import give_back_freed_memory
from render.common.problems import REFUSALS, DrawingProblem
from render.page.workers.drawing_order import DrawingOrder, Step, ViewProgress
from render.page.workers.render_messages import (
    FINE,
    PLAIN,
    PREVIEW,
    Frame,
    RenderProblem,
    RenderRequest,
)
from render.page.workers.windows import Windows, shape_of
from render.page.workers.worker_pipe import Pipe
from render.request.subject import Pixels, Subject
from render.timing.kept_times import BuildWatch
from scenes.building.build import Wrap, build
from scenes.problems import printable
from scenes.stage.camera import Camera, adjusted, camera_for

if TYPE_CHECKING:
    from render.live.vtk_log import Errors

# Renderers are imported where they are needed: the page's own process, which only exchanges
# messages with this one, starts a second earlier.

__all__ = ["run_render_worker"]

_QUALITY = {PREVIEW: 82, PLAIN: 88, FINE: 93}
"""JPEG quality; chroma has full resolution, because threads are a pixel or two wide."""

_FAULT = (
    "This design cannot be drawn, by a fault of Turnlight itself ({}). Your work is kept; change "
    "the design to try once more. The terminal tells more."
)

_LONGEST = 160
"""Characters of a fault's own message that are shown."""

_LOG = logging.getLogger(__name__)

_WRAPS_KEPT = 4
"""Wraps kept at full detail: dry, finished, the pinned one, and one of another view."""

Requests = tuple[RenderRequest, ...]


def run_render_worker(pipe: Pipe) -> None:
    """Draw what is requested through a pipe, until it is closed.

    Parameters
    ----------
    pipe : Pipe
        Receives tuples of `RenderRequest`, and sends `Frame` and `RenderProblem`.
    """
    # Ctrl-C is handled by the page's process, which closes the pipe.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    import render.live.live  # noqa: F401  # loaded before there is a request
    from render.live.vtk_log import errors_caught, quieten

    try:
        quieten()
        with errors_caught() as errors:
            _Renderer(pipe, errors).run()
    except (EOFError, BrokenPipeError, ConnectionResetError):
        pass
    except DrawingProblem as problem:
        # This machine cannot draw: that is the answer to every request.
        with suppress(EOFError, OSError):
            while True:
                for request in pipe.recv():
                    pipe.send(RenderProblem(request.view, request.epoch, str(problem)))


class _Stale(Exception):
    """Newer requests make the work in hand useless, or less urgent than something else."""


class _Renderer:
    """Draws the requested pictures, one at a time.

    Parameters
    ----------
    pipe : Pipe
    errors : Errors
        Collects errors of VTK.
    """

    def __init__(self, pipe: Pipe, errors: "Errors") -> None:
        self._pipe = pipe
        self._errors = errors
        self._order = DrawingOrder()
        self._windows = Windows()
        self._wraps: list[tuple[Subject, Wrap]] = []
        self._sent = 0
        self._newest: Requests | None = None
        self._faults: set[tuple[str, str, int]] = set()

    def run(self) -> None:
        """Work until the pipe is closed."""
        requests: Requests = self._pipe.recv()
        while True:
            self._newest = None
            self._order.take(requests)
            self._windows.close_spare(self._wanted())
            step = self._order.next(self._is_settled)
            if isinstance(step, Step):
                self._draw(step)
            elif step is not None:
                self._pipe.poll(step)
            requests = self._latest(wait=step is None) or requests

    def _draw(self, step: Step) -> None:
        """Draw the pictures of a step, unless they have become useless."""
        progress = step.progress
        self._order.served(progress)
        try:
            for side, turn, grade in step.pictures:
                # All of them, even if newer requests wait; otherwise only the first would be drawn.
                self._take(step, side, turn, grade)
        except _Stale:
            pass
        except (*REFUSALS, DrawingProblem) as problem:
            self._fail(progress, str(problem))
        except (EOFError, BrokenPipeError, ConnectionResetError):
            raise
        except Exception as fault:
            # A new process would have the same fault with the same design.
            self._log(fault)
            self._windows.close()
            self._fail(progress, _FAULT.format(_named(fault)))

    def _fail(self, progress: ViewProgress, sentence: str) -> None:
        """Stop drawing this epoch of a view, and send the reason."""
        self._errors.texts.clear()
        progress.failed = True
        self._pipe.send(RenderProblem(progress.request.view, progress.request.epoch, sentence))

    def _log(self, fault: Exception) -> None:
        """Log a fault, once for each line of code: a dragged slider would repeat it often."""
        place = traceback.extract_tb(fault.__traceback__)[-1]
        key = type(fault).__name__, place.filename, place.lineno or 0
        if key not in self._faults:
            self._faults.add(key)
            _LOG.error("The picture could not be drawn.", exc_info=fault)

    def _latest(self, *, wait: bool) -> Requests | None:
        """Return the newest requests since the present ones; None if there are none."""
        if wait and self._newest is None:
            self._newest = self._pipe.recv()
        while self._pipe.poll():
            self._newest = self._pipe.recv()
        return self._newest

    def _check(self, step: Step) -> None:
        """Raise `_Stale` if the work in hand has become useless or less urgent."""
        newest = self._latest(wait=False)
        if newest is not None and self._order.is_stale(step, newest):
            raise _Stale

    def _wanted(self) -> list[Subject]:
        """Shapes of the wraps that are looked at, each once."""
        shapes: list[Subject] = []
        for request in self._order.requests:
            for subject in request.sides.values():
                shape = shape_of(subject)
                if shape not in shapes:
                    shapes.append(shape)
        return shapes

    def _is_settled(self, request: RenderRequest) -> bool:
        """Whether windows show all sides of a request at full detail."""
        for subject in request.sides.values():
            window = self._windows.showing(shape_of(subject))
            if window is None or not window.shows(subject, request.size, draft=False):
                return False
        return True

    def _take(self, step: Step, side: str, turn: float, grade: str) -> None:
        """Draw a picture and send it."""
        progress = step.progress
        request = progress.request
        subject = request.sides[side]
        shape = shape_of(subject)
        window = self._windows.window_for(shape, self._wanted())
        drafting = grade == PREVIEW and not any(
            built_shape == shape for built_shape, _ in self._wraps
        )
        new = not window.shows(subject, request.size, draft=drafting)
        if new:
            wrap = window.wrap_of(shape, draft=drafting) or self._built(step, shape, drafting)
            window.show(wrap, shape, subject, self._camera(request), request.size, grade)
        if grade != PREVIEW:
            # The last moment at which the picture can be dropped.
            self._check(step)
        pixels = window.picture(turn, request.size, grade)
        self._errors.check()
        self._sent += 1
        progress.note(side, turn, grade, self._sent)
        jpeg = _jpeg(pixels, _QUALITY[grade])
        self._pipe.send(Frame(self._sent, request.view, request.epoch, side, turn, grade, jpeg))
        if new and grade != PREVIEW:
            # Building a wrap, its maps and its textures leaves more freed memory than it keeps.
            give_back_freed_memory()

    def _built(self, step: Step, shape: Subject, drafting: bool) -> Wrap:
        """Build a wrap, or return one that was kept."""
        for built_shape, wrap in self._wraps:
            if built_shape == shape:
                return wrap
        if drafting:
            # Not interrupted, or a dragged slider would show nothing. Every other point of a draft
            # is enough for a picture of half the size.
            return build(shape.plan(), Detail.DRAFT, stride=2)
        watch = BuildWatch(shape.points(Detail.NORMAL))
        wrap = build(shape.plan(), Detail.NORMAL, lambda _: self._check(step))
        watch.built()
        self._wraps = [*self._wraps[1 - _WRAPS_KEPT :], (shape, wrap)]
        return wrap

    @staticmethod
    def _camera(request: RenderRequest) -> Camera:
        """The camera of all sides, which takes in the longest wrap."""
        plans = [subject.plan() for subject in request.sides.values()]
        longest = max(plans, key=lambda plan: plan.grid_span[1] - plan.grid_span[0])
        spec = list(request.sides.values())[-1].design.camera
        return adjusted(camera_for(longest, spec.view, request.size[0] / request.size[1]), spec)


def _named(fault: Exception) -> str:
    text = printable(str(fault), _LONGEST)
    return f"{type(fault).__name__}: {text}" if text else type(fault).__name__


def _jpeg(pixels: Pixels, quality: int) -> bytes:
    file = io.BytesIO()
    Image.fromarray(pixels).save(file, format="JPEG", quality=quality, subsampling=0)
    return file.getvalue()
