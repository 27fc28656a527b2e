"""From a design to pixels: what every kind of picture has in common."""

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
from render.quiet import Errors, errors_caught, quieten
from scenes.build import Plan, Wrap, build
from scenes.camera import Camera
from scenes.document import Design
from scenes.stage import stage_for

__all__ = ["BUILDING", "SETTING", "Pixels", "Scene", "Size", "Subject", "check_size", "scene_of"]

Pixels = NDArray[np.uint8]
"""A picture, (height, width, 3), sRGB."""

Size = tuple[int, int]
"""Width and height, pixels."""

BUILDING = 1
"""Steps of progress that `Subject.build` takes."""

SETTING = 1
"""Steps of progress that `scene_of` takes."""

_LEAST_SIDE, _MOST_SIDE = 16, 8192
_MOST_PIXELS = 40_000_000

_MOST_SAMPLES = 50_000_000
"""Samples of one picture: a window with more of them would take over 1 GB."""


def check_size(size: Size) -> None:
    """Check that a picture of `size` pixels can be drawn.

    Raises
    ------
    RequestProblem
    """
    width, height = size
    if not (_LEAST_SIDE <= width <= _MOST_SIDE and _LEAST_SIDE <= height <= _MOST_SIDE):
        raise RequestProblem(
            f"size: {width}x{height} has a side that is not between {_LEAST_SIDE} and {_MOST_SIDE} "
            "pixels; give width and height such as 1280x720."
        )
    if width * height > _MOST_PIXELS:
        raise RequestProblem(
            f"size: {width}x{height} is {width * height / 1e6:.0f} megapixels; give "
            f"{_MOST_PIXELS / 1e6:.0f} at most."
        )


@dataclass(frozen=True, slots=True)
class Subject:
    """A design, and the shelf that its threads are on."""

    design: Design
    shelf: Shelf

    def plan(self) -> Plan:
        """Work the design out."""
        return Plan(self.design, self.shelf)

    def build(self, detail: Detail, progress: Progress) -> Wrap:
        """Lay the wrap, advancing `progress` by `BUILDING`."""
        progress.say("blank")
        wrap = build(self.plan(), detail, step=progress.say)
        progress.advance()
        return wrap


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
