"""The drawing process: makes the page's pictures, and nothing else.

It is told what is wanted now and works its way there: a quick picture first, then a good one, then
a whole ring of them, one for each small turn of the rod. Whenever something else is wanted it
drops what it was at. It is a process because VTK must be used on the thread that made its window,
and because whatever a graphics driver does there must not reach the design.

The newest message counts. A turn is drawn swift (half size, every other point of a draft while a
slider moves), plain, then fine, and after it a ring of 120 turns, plain first and nearest first. A
picture that is being drawn cannot be broken off: while a pointer is at a slider neither fine
pictures nor those of the ring are begun (`Wanted.held`). At most three pictures are under way
unacknowledged, so that a slow tablet slows the drawing down instead of filling the network. After a
minute without work the process is ended, and the system has its 1.0 to 1.4 GB back (half-scale
sample, 900 x 600 pixels, VTK 9.7.2, software GL).

PyVista's view for trame (`PyVistaRCAView`) draws on the event loop, so every click waits for a
frame, and streams whatever is in a window, so that the browser cannot keep a ring. Measured with
trame-pyvista 0.2.3 and trame-rca 2.11.8 in Chromium at 896 x 646 pixels on two overloaded cores:
while the rod was dragged, a trigger was answered after 2.9 to 5.1 s (median), and on this page
after 16 to 26 ms. Python's lock is not the reason for a process: during frames of 3.4 to 4.2 s a
thread beside VTK waited 17 ms at the longest.
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

# What draws is imported by what draws: the page's own process, which only sends and takes
# messages, comes up a second earlier.

__all__ = [
    "FINE",
    "PLAIN",
    "RING",
    "SWIFT",
    "Frame",
    "Trouble",
    "Wanted",
    "draw",
    "slot_of",
    "turn_of",
]

RING = 120
"""Pictures of one turn: 3 degrees, about as far as the eye takes for one movement."""

SWIFT, PLAIN, FINE = "swift", "plain", "fine"
"""Grades of a picture: half as large; whole, one sample a pixel; whole, four samples a pixel."""

_GRADES = (SWIFT, PLAIN, FINE)
_QUALITY = {SWIFT: 82, PLAIN: 88, FINE: 93}
"""Of JPEG; colours are kept at full resolution, because threads are a pixel or two wide."""

_PATIENCE = {PLAIN: 0.25, FINE: 0.8}
"""Seconds in which nothing else is wanted before a picture of that grade is begun: it cannot be
broken off, and whoever moves a slider again would wait for it."""

_AHEAD = 3
"""Pictures that may be on their way to the browser, not yet seen."""

_FAULT = (
    "This design cannot be drawn, by a fault of Turnlight itself ({}). Your work is kept; change "
    "the design to try once more. The terminal tells more."
)

_LONGEST = 160
"""Characters of a fault's own words."""

_LOG = logging.getLogger(__name__)

_WRAPS_KEPT = 3
"""Wraps kept at full detail: dry, finished and the pinned one."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is to be seen now.

    Parameters
    ----------
    epoch : int
        Another one whenever `sides` or `size` is another: pictures of different epochs do not
        belong together.
    sides : dict of str to Subject
        What is drawn: "B" the design, and "A" beside it the pinned one.
    size : (int, int)
        Of each side's picture, pixels.
    turn : float
        How far the rod is turned, rad.
    moving : bool
        Whether a hand is turning it now, and waits for each picture.
    ahead : bool
        Whether it spins: pictures ahead are wanted next, not those nearest.
    seen : int
        Pictures that have arrived in the browser since the process began.
    fill : bool
        Whether to fill the ring; not while something else needs the machine.
    held : bool
        Whether a hand is at a slider: its next picture must not wait for one that is only better,
        or of another turn.
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
        Counted from 1.
    epoch : int
    side : str
    turn : float
        rad.
    grade : str
        "swift", "plain" or "fine".
    jpeg : bytes
    """

    number: int
    epoch: int
    side: str
    turn: float
    grade: str
    jpeg: bytes


@dataclass(frozen=True, slots=True)
class Trouble:
    """Why there is no picture, in one sentence."""

    epoch: int
    sentence: str


def turn_of(slot: int) -> float:
    """Turn of a place in the ring, rad."""
    return 2 * np.pi * slot / RING


def slot_of(turn: float) -> int | None:
    """Place in the ring whose turn this is; None between two."""
    place = turn / (2 * np.pi) * RING
    nearest = round(place)
    return nearest % RING if abs(place - nearest) < 1e-6 * RING else None


def draw(pipe: Pipe) -> None:
    """Draw what is asked for through a pipe, until it is closed."""
    # Ctrl-C is for the page's process, which closes the pipe.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    from render.live.vtk_log import errors_caught, quieten

    try:
        quieten()
        with errors_caught() as errors:
            _Studio(pipe, errors).run()
    except (EOFError, BrokenPipeError, ConnectionResetError):
        pass
    except DrawingProblem as problem:
        # Nothing here can draw: that is the answer to whatever is wanted.
        with suppress(EOFError, OSError):
            while True:
                pipe.send(Trouble(pipe.recv().epoch, str(problem)))


class _Stale(Exception):
    """Something else is wanted now."""


class _Studio:
    """Works towards what is wanted, one picture at a time.

    Parameters
    ----------
    pipe : Pipe
    errors : Errors
        What VTK complains of.
    """

    def __init__(self, pipe: Pipe, errors: "Errors") -> None:
        self._pipe = pipe
        self._errors = errors
        self._sides: dict[str, _Side] = {}
        self._wraps: list[tuple[Subject, Wrap]] = []
        self._sent = 0
        self._epoch = -1
        self._done: dict[tuple[str, float], int] = {}
        self._newest: Wanted | None = None
        self._failed = False
        self._faults: set[tuple[str, str, int]] = set()
        self._asked: tuple[int, float, bool] | None = None
        self._since = 0.0

    def run(self) -> None:
        """Work until the pipe is closed."""
        wanted: Wanted = self._pipe.recv()
        while True:
            self._newest = None
            try:
                at_work = self._advance(wanted)
            except _Stale:
                at_work = True
            except (*REFUSALS, DrawingProblem) as problem:
                self._fail(wanted, str(problem))
                at_work = False
            except (EOFError, BrokenPipeError, ConnectionResetError):
                raise
            except Exception as fault:
                # A process started anew would come to the same fault with the same design.
                self._log(fault)
                for side in self._sides.values():
                    side.close()
                self._sides.clear()
                self._fail(wanted, _FAULT.format(_named(fault)))
                at_work = False
            wanted = self._latest(wait=not at_work) or wanted

    def _fail(self, wanted: Wanted, sentence: str) -> None:
        """Draw nothing of this epoch, and say why."""
        self._errors.texts.clear()
        self._failed = True
        self._pipe.send(Trouble(wanted.epoch, sentence))

    def _log(self, fault: Exception) -> None:
        """Write where a fault was met, once for each place: a dragged slider meets it often."""
        place = traceback.extract_tb(fault.__traceback__)[-1]
        met = type(fault).__name__, place.filename, place.lineno or 0
        if met not in self._faults:
            self._faults.add(met)
            _LOG.error("The picture could not be drawn.", exc_info=fault)

    def _latest(self, *, wait: bool) -> Wanted | None:
        """Give what was asked last, if anything was."""
        if wait and self._newest is None:
            self._newest = self._pipe.recv()
        while self._pipe.poll():
            self._newest = self._pipe.recv()
        return self._newest

    def _check(self, wanted: Wanted) -> None:
        """Drop the work in hand if it has become useless."""
        latest = self._latest(wait=False)
        if latest is not None and (latest.epoch != wanted.epoch or latest.moving):
            raise _Stale

    def _advance(self, wanted: Wanted) -> bool:
        """Do one piece of work; False if there is none."""
        if wanted.epoch != self._epoch:
            self._epoch, self._failed = wanted.epoch, False
            self._done = {
                (name, _key(turn)): _GRADES.index(grade)
                for (name, turn), grade in wanted.drawn.items()
            }
            for name in [name for name in self._sides if name not in wanted.sides]:
                self._sides.pop(name).close()
        asked = wanted.epoch, wanted.turn, wanted.moving
        if asked != self._asked:
            self._asked, self._since = asked, time.monotonic()
        if self._failed or self._sent - wanted.seen >= _AHEAD:
            return False
        lacking = [name for name in wanted.sides if self._grade(name, wanted.turn) is None]
        for name in lacking:
            # All of them, though something newer is wanted: or the first alone would ever be drawn.
            self._take(wanted, name, wanted.turn, self._first_grade(wanted, name))
        if lacking:
            return True
        if wanted.moving:
            return False
        settled = all(
            self._side(name).shows(one, wanted.size, draft=False)
            for name, one in wanted.sides.items()
        )
        if not settled and self._stirs(PLAIN):
            return True
        for grade in (PLAIN,) if wanted.held else (PLAIN, FINE):
            for name in wanted.sides:
                if self._below(name, wanted.turn, grade):
                    if grade == FINE and self._stirs(FINE):
                        return True
                    self._take(wanted, name, wanted.turn, grade)
                    return True
        return wanted.fill and not wanted.held and self._fill(wanted)

    def _stirs(self, grade: str) -> bool:
        """Wait until nothing else has been wanted for long enough; False once that is so."""
        left = self._since + _PATIENCE[grade] - time.monotonic()
        return left > 0 and (self._pipe.poll(left) or self._stirs(grade))

    def _fill(self, wanted: Wanted) -> bool:
        """Draw the next picture of the ring."""
        here = wanted.turn / (2 * np.pi) * RING
        for grade in (PLAIN, FINE):
            for slot in _order(here, ahead=wanted.ahead):
                for name in wanted.sides:
                    if self._below(name, turn_of(slot), grade):
                        self._take(wanted, name, turn_of(slot), grade)
                        return True
        return False

    def _side(self, name: str) -> "_Side":
        return self._sides.setdefault(name, _Side())

    def _grade(self, name: str, turn: float) -> int | None:
        return self._done.get((name, _key(turn)))

    def _below(self, name: str, turn: float, grade: str) -> bool:
        done = self._grade(name, turn)
        return done is None or done < _GRADES.index(grade)

    def _first_grade(self, wanted: Wanted, name: str) -> str:
        """Grade of the first picture of a turn: quick, unless nobody waits for it."""
        waits = wanted.moving or not any(side == name for side, _ in self._done)
        return SWIFT if waits else PLAIN

    def _take(self, wanted: Wanted, name: str, turn: float, grade: str) -> None:
        """Take a picture and send it."""
        subject = wanted.sides[name]
        side = self._side(name)
        shape = _shape(subject)
        drafting = grade == SWIFT and not any(one == shape for one, _ in self._wraps)
        if not side.shows(subject, wanted.size, draft=drafting):
            wrap = side.wrap_of(shape, draft=drafting) or self._built(wanted, shape, drafting)
            side.show(wrap, shape, subject, self._camera(wanted), wanted.size, grade)
        if grade != SWIFT:
            # The last moment to drop it.
            self._check(wanted)
        pixels = side.picture(turn, wanted.size, grade)
        self._errors.check()
        self._sent += 1
        self._note(name, turn, grade)
        self._pipe.send(
            Frame(self._sent, wanted.epoch, name, turn, grade, _jpeg(pixels, _QUALITY[grade]))
        )

    def _note(self, name: str, turn: float, grade: str) -> None:
        """Note what is drawn: between two places of the ring nobody keeps more than the last."""
        if slot_of(turn) is None:
            for place in list(self._done):
                if place[0] == name and slot_of(place[1]) is None:
                    del self._done[place]
        self._done[name, _key(turn)] = _GRADES.index(grade)

    def _built(self, wanted: Wanted, shape: Subject, drafting: bool) -> Wrap:
        """Lay the wrap, or take up one that is still there."""
        for one, wrap in self._wraps:
            if one == shape:
                return wrap
        if drafting:
            # Finished even when late, or a dragged slider would show nothing.
            # Every other point of a draft: a pixel of a picture of half the size sees no more.
            return build(shape.plan(), Detail.DRAFT, stride=2)
        wrap = build(shape.plan(), Detail.NORMAL, lambda _: self._check(wanted))
        self._wraps = [*self._wraps[1 - _WRAPS_KEPT :], (shape, wrap)]
        give_back_freed_memory()
        return wrap

    @staticmethod
    def _camera(wanted: Wanted) -> Camera:
        """The camera of all sides: the one that takes in the longest wrap."""
        plans = [one.plan() for one in wanted.sides.values()]
        longest = max(plans, key=lambda plan: plan.grid_span[1] - plan.grid_span[0])
        spec = list(wanted.sides.values())[-1].design.camera
        return adjusted(camera_for(longest, spec.view, wanted.size[0] / wanted.size[1]), spec)


class _Side:
    """One of the pictures that stand together: its window, and what is in it."""

    def __init__(self) -> None:
        self._scene: LiveScene | None = None
        self._shape: Subject | None = None
        self._wrap: Wrap | None = None
        self._design: Design | None = None
        self._size: Size | None = None
        self._settled = False

    def close(self) -> None:
        """Let the window go."""
        if self._scene is not None:
            self._scene.close()

    def wrap_of(self, shape: Subject, *, draft: bool) -> Wrap | None:
        """Give the wrap that is in the window, if it is this one and fine enough."""
        if self._wrap is None or self._shape != shape:
            return None
        return self._wrap if draft or self._wrap.detail is not Detail.DRAFT else None

    def shows(self, subject: Subject, size: Size, *, draft: bool) -> bool:
        """Tell whether this is what the window shows, at this detail or better."""
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
        """Put a wrap in the window, lit and looked at as the subject's design asks."""
        from render.live.live import LiveScene

        design = subject.design
        self._settled = grade != SWIFT
        scene, around = self._scene, None
        if scene and not self._settled and self._design and self._design.light == design.light:
            # Blurring a light takes a second: where the card stands in it is put right later.
            around = scene.stage.surroundings
        stage = stage_for(wrap, size[0] / size[1], light=design.light, camera=camera, around=around)
        if scene is None:
            self._scene = scene = LiveScene(stage, size, supersample=1)
        else:
            scene.show_stage(stage)
            scene.look_from(camera)
        self._shape, self._wrap, self._design, self._size = shape, wrap, design, size

    def picture(self, turn: float, size: Size, grade: str) -> Pixels:
        """Take a picture with the rod turned to `turn` rad."""
        scene = self._scene
        assert scene is not None
        if grade == SWIFT:
            scene.resize((max(16, size[0] // 2), max(16, size[1] // 2)), 1)
        else:
            scene.resize(size, 2 if grade == FINE else 1)
        scene.set_preview(grade == SWIFT)
        return scene.picture(turn)


def _shape(subject: Subject) -> Subject:
    """Reduce a subject to what a wrap is built from."""
    update = {"title": "-", "notes": "", "light": LightSpec(), "camera": CameraSpec()}
    return Subject(subject.design.model_copy(update=update), subject.shelf, subject.beside)


def _named(fault: Exception) -> str:
    text = printable(str(fault), _LONGEST)
    return f"{type(fault).__name__}: {text}" if text else type(fault).__name__


def _order(here: float, *, ahead: bool) -> list[int]:
    """Places of the ring in the order in which they will be looked at."""
    if ahead:
        return sorted(range(RING), key=lambda slot: (slot - here + 1e-6) % RING)
    return sorted(range(RING), key=lambda slot: abs((slot - here + RING / 2) % RING - RING / 2))


def _key(turn: float) -> float:
    return round(turn % (2 * np.pi), 6)


def _jpeg(pixels: Pixels, quality: int) -> bytes:
    file = io.BytesIO()
    Image.fromarray(pixels).save(file, format="JPEG", quality=quality, subsampling=0)
    return file.getvalue()
