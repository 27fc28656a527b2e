"""Pictures of a wrap on the stage: what still, turntable and comparison have in common.

They ask a `Scene` for pictures and do not know whether it draws them live or traces paths.
"""

import math
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Protocol

from materials.vision import simulate
from render.common.progress import Progress
from render.live.live import LiveScene
from render.live.vtk_log import errors_caught, quieten
from render.pathtraced.photo import PhotoScene
from render.request.capture_settings import LIVE, CaptureSettings
from render.request.subject import Pixels, Size, check_size
from scenes.building.build import Wrap
from scenes.stage.camera import Camera
from scenes.stage.stage import Stage, stage_for

__all__ = ["SETTING", "Scene", "scene_of"]

SETTING = 1
"""Steps of progress that `scene_of` takes."""

_MOST_SAMPLES = 50_000_000
"""Samples of one picture: a window with more of them would take over 1 GB."""


class Renderer(Protocol):
    """What takes pictures of a stage."""

    size: Size

    def show_stage(self, stage: Stage) -> None:
        """Put another stage in the place of the one before."""

    def look_from(self, camera: Camera) -> None:
        """Put the camera there."""

    def turn_to(self, turn: float) -> None:
        """Turn the rod there, rad."""

    def picture(self, turn: float | None = None) -> Pixels:
        """Take a picture, with the rod turned to `turn` rad."""


class Scene:
    """A stage that is set: turn the rod and take its picture.

    Parameters
    ----------
    renderer : Renderer
    stage : Stage
    capture : CaptureSettings
    work : Work
    check : callable
        Raises if something went wrong with a picture.
    """

    def __init__(
        self,
        renderer: Renderer,
        stage: Stage,
        capture: CaptureSettings,
        work: "_Work",
        check: Callable[[], None],
    ) -> None:
        self.stage = stage
        self._renderer = renderer
        self._capture = capture
        self._work = work
        self._check = check

    def picture(self, turn: float | None = None) -> Pixels:
        """Take a picture, advancing the progress by one.

        Parameters
        ----------
        turn : float, optional
            Turn the rod there first about its axis, rad.

        Returns
        -------
        (height, width, 3) uint8
            sRGB.

        Raises
        ------
        DrawingProblem
        """
        pixels = self._renderer.picture(turn)
        self._check()
        self._work.finish()
        vision = self._capture.vision
        return pixels if vision is None else simulate(pixels, vision)

    def show(self, wrap: Wrap, progress: Progress, *, camera: Camera | None = None) -> None:
        """Put another wrap there, advancing `progress` by `SETTING`.

        The camera stays where it is unless another is given.
        """
        progress.say("light")
        width, height = self._renderer.size
        self.stage = stage_for(wrap, width / height).with_camera(camera or self.stage.camera)
        self._renderer.show_stage(self.stage)
        self._renderer.look_from(self.stage.camera)
        self._renderer.turn_to(self.stage.turn)
        progress.advance()


@contextmanager
def scene_of(
    wrap: Wrap,
    size: Size,
    progress: Progress,
    *,
    camera: Camera | None = None,
    capture: CaptureSettings = LIVE,
    pictures: int = 1,
    sharp: bool = True,
) -> Iterator[Scene]:
    """Set a wrap on the stage, advancing `progress` by `SETTING`.

    Parameters
    ----------
    wrap : Wrap
    size : (int, int)
        Of the pictures to come, pixels.
    progress : Progress
        Told how long it will take, before a photo.
    camera : Camera, optional
        In place of the one that the design asks for.
    capture : CaptureSettings
    pictures : int
        How many will be taken.
    sharp : bool
        Draw live pictures finely, for the eye; measuring needs it not.

    Raises
    ------
    RequestProblem
        If the size is more or less than can be drawn, or the photo extra is not installed.
    DrawingProblem
    """
    check_size(size)
    progress.say("light")
    width, height = size
    stage = stage_for(wrap, width / height)
    if camera is not None:
        stage = stage.with_camera(camera)
    work = _Work(progress)
    if capture.photo:
        with PhotoScene(stage, size, samples=capture.paths, step=work.step) as photo:
            progress.say("how long it takes")
            progress.note(_forecast(pictures * photo.estimate(), pictures, size, capture.paths))
            progress.advance()
            yield Scene(photo, stage, capture, work, lambda: None)
        return
    quieten()
    supersample = 2 if sharp and 4 * width * height <= _MOST_SAMPLES else 1
    with errors_caught() as errors, LiveScene(stage, size, supersample=supersample) as live:
        progress.advance()
        yield Scene(live, stage, capture, work, errors.check)


class _Work:
    """Progress of one picture after the other: a step each, however many passes it takes."""

    def __init__(self, progress: Progress) -> None:
        self._progress = progress
        self._done = 0.0

    def step(self, done: int, total: int) -> None:
        """Count passes of a picture."""
        self._progress.advance(done / total - self._done)
        self._done = done / total

    def finish(self) -> None:
        """Count what is left of it."""
        self._progress.advance(1 - self._done)
        self._done = 0.0


def _forecast(seconds: float, pictures: int, size: Size, samples: int) -> str:
    what = "a photo" if pictures == 1 else f"{pictures} photos"
    return (
        f"About {_lasting(seconds)} for {what} of {size[0]}x{size[1]} at {samples} samples a pixel"
    )


def _lasting(seconds: float) -> str:
    """Write a time as people say it, rounded up."""
    for unit, length, most in (("second", 1, 100), ("minute", 60, 5400)):
        if seconds <= most:
            count = max(1, math.ceil(seconds / length))
            return f"{count} {unit}" if count == 1 else f"{count} {unit}s"
    return f"{seconds / 3600:.1f} hours"
