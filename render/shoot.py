"""How pictures are taken of a design, whatever becomes of them: the way from design to pixels."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.grid import Detail
from materials.shelf import Shelf
from render.live import LiveScene
from render.problems import RequestProblem
from render.progress import Progress
from render.quiet import Errors, errors_caught, settle
from scenes.build import Plan, build
from scenes.camera import Camera
from scenes.document import Design
from scenes.stage import stage_for

__all__ = ["SETTING_UP", "Scene", "Shoot", "Subject", "check_size", "scene_of"]

Pixels = NDArray[np.uint8]
Size = tuple[int, int]

SETTING_UP = 2
"""Steps of progress that `scene_of` takes."""

LEAST_SIDE, MOST_SIDE = 16, 8192
MOST_PIXELS = 40_000_000

_MOST_SAMPLES = 50_000_000
"""Samples of one picture: a window with more of them would take over 1 GB."""


@dataclass(frozen=True, slots=True)
class Subject:
    """A design and the shelf that its threads are on."""

    design: Design
    shelf: Shelf

    def plan(self) -> Plan:
        """Work the design out."""
        return Plan(self.design, self.shelf)


@dataclass(frozen=True, slots=True)
class Shoot:
    """How pictures are to be taken.

    Parameters
    ----------
    size : (int, int)
        Width and height, pixels.
    detail : Detail

    Raises
    ------
    RequestProblem
        If the size is more or less than can be drawn.
    """

    size: Size
    detail: Detail = Detail.NORMAL

    def __post_init__(self) -> None:
        check_size(self.size)

    @property
    def aspect(self) -> float:
        """Width over height."""
        return self.size[0] / self.size[1]

    @property
    def supersample(self) -> int:
        """Samples of a pixel each way."""
        return 2 if 4 * self.size[0] * self.size[1] <= _MOST_SAMPLES else 1


def check_size(size: Size) -> None:
    """Check that a picture of `size` pixels can be drawn.

    Raises
    ------
    RequestProblem
    """
    width, height = size
    if not (LEAST_SIDE <= width <= MOST_SIDE and LEAST_SIDE <= height <= MOST_SIDE):
        raise RequestProblem(
            f"size: {width}x{height} has a side that is not between {LEAST_SIDE} and {MOST_SIDE} "
            "pixels; give width and height such as 1280x720."
        )
    if width * height > MOST_PIXELS:
        raise RequestProblem(
            f"size: {width}x{height} is {width * height / 1e6:.0f} megapixels; give "
            f"{MOST_PIXELS / 1e6:.0f} at most."
        )


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
            The rod's turn about its axis, rad; the design's own if not given.

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


@contextmanager
def scene_of(
    subject: Subject, shoot: Shoot, progress: Progress, *, camera: Camera | None = None
) -> Iterator[Scene]:
    """Build a design and set it on the stage.

    Parameters
    ----------
    subject : Subject
    shoot : Shoot
    progress : Progress
        Advanced by `SETTING_UP`.
    camera : Camera, optional
        In place of the one that the design asks for.
    """
    settle()
    progress.say("blank")
    wrap = build(subject.plan(), shoot.detail, step=progress.say)
    progress.advance()
    progress.say("light")
    stage = stage_for(wrap, shoot.aspect)
    if camera is not None:
        stage = stage.seen_from(camera)
    with (
        errors_caught() as errors,
        LiveScene(stage, shoot.size, supersample=shoot.supersample) as live,
    ):
        progress.advance()
        yield Scene(live, errors)
