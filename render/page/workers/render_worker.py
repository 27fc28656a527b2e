"""The render worker: a process that draws the page's pictures.

It draws the requested view in increasing quality: a preview, then a plain picture, then a fine one,
then a ring of pictures, one for each small turn of the rod. A new request replaces the work in
hand. It is a process because VTK must be used on the thread that made its window, and because a
crash of a graphics driver must not affect the document.

Only the newest message counts. A turn is drawn as a preview (half size; every other point of a
draft while a slider moves), plain, then fine. After it comes a ring of 120 turns, plain first and
nearest first. Drawing one picture cannot be interrupted: while a pointer is at a slider neither
fine pictures nor those of the ring are started (`RenderRequest.held`). At most three pictures are
sent but not acknowledged, so that a slow tablet slows the drawing instead of filling the network.
After a minute without work the process is ended, which frees its 1.0 to 1.4 GB (half-scale sample,
900 x 600 pixels, VTK 9.7.2, software GL).

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
import time
import traceback
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image

from geometry.grid import Detail
from render.common.problems import REFUSALS, DrawingProblem
from render.page.workers.heap import give_back_freed_memory
from render.page.workers.worker_pipe import Pipe
from render.request.subject import Pixels, Size, Subject
from scenes.building.build import Wrap, build
from scenes.design.document import Design
from scenes.parts.view import CameraSpec, LightSpec
from scenes.problems import printable
from scenes.stage.camera import Camera, adjusted, camera_for
from scenes.stage.stage import stage_for

if TYPE_CHECKING:
    from render.live.live import LiveScene
    from render.live.vtk_log import Errors

# Renderers are imported where they are needed: the page's own process, which only exchanges
# messages with this one, starts a second earlier.

__all__ = [
    "FINE",
    "PLAIN",
    "PREVIEW",
    "RING",
    "Frame",
    "RenderProblem",
    "RenderRequest",
    "run_render_worker",
    "slot_of",
    "turn_of",
]

RING = 120
"""Pictures of one turn: steps of 3 degrees, which the eye about accepts as one movement."""

PREVIEW, PLAIN, FINE = "preview", "plain", "fine"
"""Grades of a picture: half size; full size with one sample a pixel; full size with four."""

_GRADES = (PREVIEW, PLAIN, FINE)
_QUALITY = {PREVIEW: 82, PLAIN: 88, FINE: 93}
"""JPEG quality; chroma has full resolution, because threads are a pixel or two wide."""

_SETTLING = {PLAIN: 0.25, FINE: 0.8}
"""Seconds without another request before a picture of that grade is started: it cannot be
interrupted, and somebody who moves a slider again would wait for it."""

_MOST_UNACKNOWLEDGED = 3
"""Pictures that may be on their way to the browser."""

_FAULT = (
    "This design cannot be drawn, by a fault of Turnlight itself ({}). Your work is kept; change "
    "the design to try once more. The terminal tells more."
)

_LONGEST = 160
"""Characters of a fault's own message that are shown."""

_LOG = logging.getLogger(__name__)

_WRAPS_KEPT = 3
"""Wraps kept at full detail: dry, finished and the pinned one."""


@dataclass(frozen=True, slots=True)
class RenderRequest:
    """The view to draw.

    Parameters
    ----------
    epoch : int
        Number that changes with `sides` and `size`: pictures of different epochs do not belong
        together.
    sides : dict of str to Subject
        Designs to draw: "B" the open design, and "A" the pinned one, if they are compared.
    size : (int, int)
        Width and height of each side's picture, pixels.
    turn : float
        Turn of the rod, rad.
    moving : bool
        Whether somebody is turning the rod and waits for each picture.
    ahead : bool
        Whether the rod spins: the pictures ahead are drawn next, not the nearest.
    seen : int
        Pictures that the browser has acknowledged since the process started.
    fill : bool
        Whether to fill the ring; False while something else needs the processor.
    held : bool
        Whether somebody holds a slider: the next preview must not wait for a finer picture, or for
        one of another turn.
    drawn : dict of (str, float) to str
        Grade of the pictures that the page keeps of this epoch, by side and turn, rad.
    """

    epoch: int
    sides: Mapping[str, Subject]
    size: Size
    turn: float = 0.0
    moving: bool = False
    ahead: bool = False
    seen: int = 0
    fill: bool = True
    held: bool = False
    drawn: Mapping[tuple[str, float], str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Frame:
    """A picture.

    Parameters
    ----------
    number : int
        Serial number of the picture, from 1.
    epoch : int
        Of its request.
    side : str
        "A" or "B".
    turn : float
        Turn of the rod, rad.
    grade : str
        "preview", "plain" or "fine".
    jpeg : bytes
    """

    number: int
    epoch: int
    side: str
    turn: float
    grade: str
    jpeg: bytes


@dataclass(frozen=True, slots=True)
class RenderProblem:
    """Reason why there is no picture.

    Parameters
    ----------
    epoch : int
        Of the request.
    sentence : str
    """

    epoch: int
    sentence: str


def turn_of(slot: int) -> float:
    """Turn of a slot of the ring, rad.

    Parameters
    ----------
    slot : int
        0 to `RING` - 1.
    """
    return 2 * np.pi * slot / RING


def slot_of(turn: float) -> int | None:
    """Slot of the ring that has a turn; None between two slots.

    Parameters
    ----------
    turn : float
        Turn of the rod, rad.
    """
    place = turn / (2 * np.pi) * RING
    nearest = round(place)
    return nearest % RING if abs(place - nearest) < 1e-6 * RING else None


def run_render_worker(pipe: Pipe) -> None:
    """Draw what is requested through a pipe, until it is closed.

    Parameters
    ----------
    pipe : Pipe
        Receives `RenderRequest`, and sends `Frame` and `RenderProblem`.
    """
    # Ctrl-C is handled by the page's process, which closes the pipe.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
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
                pipe.send(RenderProblem(pipe.recv().epoch, str(problem)))


class _Stale(Exception):
    """Another request makes the work in hand useless."""


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
        self._sides: dict[str, _Side] = {}
        self._wraps: list[tuple[Subject, Wrap]] = []
        self._sent = 0
        self._epoch = -1
        self._done: dict[tuple[str, float], int] = {}
        self._newest: RenderRequest | None = None
        self._failed = False
        self._faults: set[tuple[str, str, int]] = set()
        self._view: tuple[int, float, bool] | None = None
        self._view_since = 0.0

    def run(self) -> None:
        """Work until the pipe is closed."""
        request: RenderRequest = self._pipe.recv()
        while True:
            self._newest = None
            try:
                busy = self._advance(request)
            except _Stale:
                busy = True
            except (*REFUSALS, DrawingProblem) as problem:
                self._fail(request, str(problem))
                busy = False
            except (EOFError, BrokenPipeError, ConnectionResetError):
                raise
            except Exception as fault:
                # A new process would have the same fault with the same design.
                self._log(fault)
                for side in self._sides.values():
                    side.close()
                self._sides.clear()
                self._fail(request, _FAULT.format(_named(fault)))
                busy = False
            request = self._latest(wait=not busy) or request

    def _fail(self, request: RenderRequest, sentence: str) -> None:
        """Stop drawing this epoch, and send the reason."""
        self._errors.texts.clear()
        self._failed = True
        self._pipe.send(RenderProblem(request.epoch, sentence))

    def _log(self, fault: Exception) -> None:
        """Log a fault, once for each line of code: a dragged slider would repeat it often."""
        place = traceback.extract_tb(fault.__traceback__)[-1]
        key = type(fault).__name__, place.filename, place.lineno or 0
        if key not in self._faults:
            self._faults.add(key)
            _LOG.error("The picture could not be drawn.", exc_info=fault)

    def _latest(self, *, wait: bool) -> RenderRequest | None:
        """Return the newest request since the present one; None if there is none."""
        if wait and self._newest is None:
            self._newest = self._pipe.recv()
        while self._pipe.poll():
            self._newest = self._pipe.recv()
        return self._newest

    def _check(self, request: RenderRequest) -> None:
        """Raise `_Stale` if the work in hand has become useless."""
        latest = self._latest(wait=False)
        if latest is not None and (latest.epoch != request.epoch or latest.moving):
            raise _Stale

    def _advance(self, request: RenderRequest) -> bool:
        """Draw one picture or wait a little; return False if there is nothing to do."""
        if request.epoch != self._epoch:
            self._epoch, self._failed = request.epoch, False
            self._done = {
                (name, _key(turn)): _GRADES.index(grade)
                for (name, turn), grade in request.drawn.items()
            }
            for name in [name for name in self._sides if name not in request.sides]:
                self._sides.pop(name).close()
        view = request.epoch, request.turn, request.moving
        if view != self._view:
            self._view, self._view_since = view, time.monotonic()
        if self._failed or self._sent - request.seen >= _MOST_UNACKNOWLEDGED:
            return False
        lacking = [name for name in request.sides if self._grade(name, request.turn) is None]
        for name in lacking:
            # All of them, even if a newer request waits; otherwise only the first would be drawn.
            self._take(request, name, request.turn, self._first_grade(request, name))
        if lacking:
            return True
        if request.moving:
            return False
        settled = all(
            self._side(name).shows(subject, request.size, draft=False)
            for name, subject in request.sides.items()
        )
        if not settled and self._is_unsettled(PLAIN):
            return True
        for grade in (PLAIN,) if request.held else (PLAIN, FINE):
            for name in request.sides:
                if self._below(name, request.turn, grade):
                    if grade == FINE and self._is_unsettled(FINE):
                        return True
                    self._take(request, name, request.turn, grade)
                    return True
        return request.fill and not request.held and self._fill(request)

    def _is_unsettled(self, grade: str) -> bool:
        """Wait until the view has been the same for long enough for a grade; False once it has."""
        left = self._view_since + _SETTLING[grade] - time.monotonic()
        return left > 0 and (self._pipe.poll(left) or self._is_unsettled(grade))

    def _fill(self, request: RenderRequest) -> bool:
        """Draw the next picture of the ring."""
        here = request.turn / (2 * np.pi) * RING
        for grade in (PLAIN, FINE):
            for slot in _order(here, ahead=request.ahead):
                for name in request.sides:
                    if self._below(name, turn_of(slot), grade):
                        self._take(request, name, turn_of(slot), grade)
                        return True
        return False

    def _side(self, name: str) -> "_Side":
        return self._sides.setdefault(name, _Side())

    def _grade(self, name: str, turn: float) -> int | None:
        return self._done.get((name, _key(turn)))

    def _below(self, name: str, turn: float, grade: str) -> bool:
        done = self._grade(name, turn)
        return done is None or done < _GRADES.index(grade)

    def _first_grade(self, request: RenderRequest, name: str) -> str:
        """Grade of the first picture of a turn: a preview, if somebody waits for it."""
        waits = request.moving or not any(side == name for side, _ in self._done)
        return PREVIEW if waits else PLAIN

    def _take(self, request: RenderRequest, name: str, turn: float, grade: str) -> None:
        """Draw a picture and send it."""
        subject = request.sides[name]
        side = self._side(name)
        shape = _shape(subject)
        drafting = grade == PREVIEW and not any(
            built_shape == shape for built_shape, _ in self._wraps
        )
        new = not side.shows(subject, request.size, draft=drafting)
        if new:
            wrap = side.wrap_of(shape, draft=drafting) or self._built(request, shape, drafting)
            side.show(wrap, shape, subject, self._camera(request), request.size, grade)
        if grade != PREVIEW:
            # The last moment at which the picture can be dropped.
            self._check(request)
        pixels = side.picture(turn, request.size, grade)
        self._errors.check()
        self._sent += 1
        self._note(name, turn, grade)
        self._pipe.send(
            Frame(self._sent, request.epoch, name, turn, grade, _jpeg(pixels, _QUALITY[grade]))
        )
        if new and grade != PREVIEW:
            # Building a wrap, its maps and its textures leaves more freed memory than it keeps.
            give_back_freed_memory()

    def _note(self, name: str, turn: float, grade: str) -> None:
        """Record what was drawn; between two slots of the ring only the last picture is kept."""
        if slot_of(turn) is None:
            for place in list(self._done):
                if place[0] == name and slot_of(place[1]) is None:
                    del self._done[place]
        self._done[name, _key(turn)] = _GRADES.index(grade)

    def _built(self, request: RenderRequest, shape: Subject, drafting: bool) -> Wrap:
        """Build a wrap, or return one that was kept."""
        for built_shape, wrap in self._wraps:
            if built_shape == shape:
                return wrap
        if drafting:
            # Not interrupted, or a dragged slider would show nothing. Every other point of a draft
            # is enough for a picture of half the size.
            return build(shape.plan(), Detail.DRAFT, stride=2)
        wrap = build(shape.plan(), Detail.NORMAL, lambda _: self._check(request))
        self._wraps = [*self._wraps[1 - _WRAPS_KEPT :], (shape, wrap)]
        return wrap

    @staticmethod
    def _camera(request: RenderRequest) -> Camera:
        """The camera of all sides, which takes in the longest wrap."""
        plans = [subject.plan() for subject in request.sides.values()]
        longest = max(plans, key=lambda plan: plan.grid_span[1] - plan.grid_span[0])
        spec = list(request.sides.values())[-1].design.camera
        return adjusted(camera_for(longest, spec.view, request.size[0] / request.size[1]), spec)


class _Side:
    """One of the compared designs: its off-screen window and the content of that."""

    def __init__(self) -> None:
        self._scene: LiveScene | None = None
        self._shape: Subject | None = None
        self._wrap: Wrap | None = None
        self._design: Design | None = None
        self._size: Size | None = None
        self._settled = False

    def close(self) -> None:
        """Release the window."""
        if self._scene is not None:
            self._scene.close()

    def wrap_of(self, shape: Subject, *, draft: bool) -> Wrap | None:
        """Return the wrap in the window if it has this shape and enough detail, else None."""
        if self._wrap is None or self._shape != shape:
            return None
        return self._wrap if draft or self._wrap.detail is not Detail.DRAFT else None

    def shows(self, subject: Subject, size: Size, *, draft: bool) -> bool:
        """Return whether the window shows this subject, at this detail or a better one."""
        if self.wrap_of(_shape(subject), draft=draft) is None:
            return False
        same = self._design == subject.design and self._size == size
        return same and (draft or self._settled)

    def show(
        self,
        wrap: Wrap,
        shape: Subject,
        subject: Subject,
        camera: Camera,
        size: Size,
        grade: str,
    ) -> None:
        """Put a wrap in the window, with the light of the subject's design."""
        from render.live.live import LiveScene

        design = subject.design
        self._settled = grade != PREVIEW
        scene, around = self._scene, None
        if scene and not self._settled and self._design and self._design.light == design.light:
            # Blurring a light outlasts a preview, so the card's part in it is updated later.
            around = scene.stage.surroundings
        stage = stage_for(wrap, size[0] / size[1], light=design.light, camera=camera, around=around)
        if scene is None:
            self._scene = scene = LiveScene(stage, size, supersample=1)
        else:
            scene.show_stage(stage)
            scene.look_from(camera)
        self._shape, self._wrap, self._design, self._size = shape, wrap, design, size

    def picture(self, turn: float, size: Size, grade: str) -> Pixels:
        """Draw a picture with the rod turned to `turn` rad."""
        scene = self._scene
        assert scene is not None
        if grade == PREVIEW:
            scene.resize((max(16, size[0] // 2), max(16, size[1] // 2)), 1)
        else:
            scene.resize(size, 2 if grade == FINE else 1)
        scene.set_preview(grade == PREVIEW)
        return scene.picture(turn)


def _shape(subject: Subject) -> Subject:
    """Reduce a subject to the parts that a wrap is built from."""
    update = {"title": "-", "notes": "", "light": LightSpec(), "camera": CameraSpec()}
    return Subject(subject.design.model_copy(update=update), subject.shelf, subject.beside)


def _named(fault: Exception) -> str:
    text = printable(str(fault), _LONGEST)
    return f"{type(fault).__name__}: {text}" if text else type(fault).__name__


def _order(here: float, *, ahead: bool) -> list[int]:
    """Slots of the ring in the order in which they are likely to be viewed."""
    if ahead:
        return sorted(range(RING), key=lambda slot: (slot - here + 1e-6) % RING)
    return sorted(range(RING), key=lambda slot: abs((slot - here + RING / 2) % RING - RING / 2))


def _key(turn: float) -> float:
    return round(turn % (2 * np.pi), 6)


def _jpeg(pixels: Pixels, quality: int) -> bytes:
    file = io.BytesIO()
    Image.fromarray(pixels).save(file, format="JPEG", quality=quality, subsampling=0)
    return file.getvalue()
