"""Pictures of a wrap on the stage: what still, turntable and comparison have in common."""

from collections.abc import Iterator
from contextlib import contextmanager

from render.live import LiveScene
from render.progress import Progress
from render.quiet import Errors, errors_caught, quieten
from render.subject import Pixels, Size, check_size
from scenes.build import Wrap
from scenes.camera import Camera
from scenes.stage import stage_for

__all__ = ["SETTING", "Scene", "scene_of"]

SETTING = 1
"""Steps of progress that `scene_of` takes."""

_MOST_SAMPLES = 50_000_000
"""Samples of one picture: a window with more of them would take over 1 GB."""


class Scene:
    """A stage that is set: turn the rod and take its picture.

    Parameters
    ----------
    live : LiveScene
    errors : Errors
        What VTK reports meanwhile.
    """

    def __init__(self, live: LiveScene, errors: Errors) -> None:
        self._live = live
        self._errors = errors

    def picture(self, turn: float | None = None) -> Pixels:
        """Take a picture.

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
        pixels = self._live.picture(turn)
        self._errors.check()
        return pixels

    def show(self, wrap: Wrap, progress: Progress) -> None:
        """Put another wrap before the same camera, advancing `progress` by `SETTING`."""
        progress.say("light")
        width, height = self._live.size
        stage = stage_for(wrap, width / height)
        self._live.show_stage(stage)
        self._live.turn_to(stage.turn)
        progress.advance()


@contextmanager
def scene_of(
    wrap: Wrap, size: Size, progress: Progress, *, camera: Camera | None = None
) -> Iterator[Scene]:
    """Set a wrap on the stage, advancing `progress` by `SETTING`.

    Parameters
    ----------
    wrap : Wrap
    size : (int, int)
        Of the pictures to come, pixels.
    progress : Progress
    camera : Camera, optional
        In place of the one that the design asks for.

    Raises
    ------
    RequestProblem
        If the size is more or less than can be drawn.
    DrawingProblem
    """
    check_size(size)
    quieten()
    progress.say("light")
    width, height = size
    stage = stage_for(wrap, width / height)
    if camera is not None:
        stage = stage.seen_from(camera)
    supersample = 2 if 4 * width * height <= _MOST_SAMPLES else 1
    with errors_caught() as errors, LiveScene(stage, size, supersample=supersample) as live:
        progress.advance()
        yield Scene(live, errors)
