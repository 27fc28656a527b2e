"""Where the pictures of a rod stand on its sheet: the rod through the middle, its wraps enlarged.

Insets stand in one row above the rod and one below it, in turn, each as near to its wrap as the
others leave room, and in the order of the wraps: so no two leaders cross.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Self

import numpy as np

from render.common.problems import RequestProblem
from render.output.captions import caption_height
from render.request.subject import Size
from scenes.building.build import Plan
from scenes.stage.along_rod import camera_at, pixels_per_mm, thickest, wraps_along
from scenes.stage.camera import Camera, fitted_span

__all__ = ["Inset", "RodLayout", "shown_span"]

_ROD_MARGIN = 0.04
"""Free space beyond either end of the rod, as a share of its length."""

_MARGIN = 0.018
"""Free space at the edges and between insets, as a share of the picture's width."""

_BETWEEN = 0.055
"""Height between the rod and its insets, for leaders, as a share of the picture's height."""

_WRAP_MARGIN = 0.12
"""Free space beyond either end of a wrap in its inset, as a share of the wrap's length."""

_IN_DIAMETERS = 2.4
"""Height of an inset, in diameters of the thickest thing in it, where the wrap is short."""

_FLATTEST, _NARROWEST = 5.0, 1.25
"""Bounds of an inset's width over its height."""

_LINES = 22
"""Lines of captions in the height of a picture, so that a very wide one has no large captions."""

_LEAST_LINE = 16
"""Least height of such a line, pixels."""

_LEAST_HEIGHT = 40
"""Least height of an inset, pixels."""


@dataclass(frozen=True, slots=True)
class Inset:
    """The enlarged picture of one wrap.

    Parameters
    ----------
    name : str
        Of the wrap.
    left, top : int
        Its corner on the sheet, pixels.
    size : (int, int)
        Width and height without its captions, pixels.
    camera : Camera
    place : (float, float)
        Where its wrap begins and ends on the rod in the sheet, pixels from the left edge.
    times : float
        How many times larger than the rod in the same picture it shows its wrap.
    across : float
        What it takes in on the rod's axis, mm.
    """

    name: str
    left: int
    top: int
    size: Size
    camera: Camera
    place: tuple[float, float]
    times: float
    across: float


@dataclass(frozen=True, slots=True)
class RodLayout:
    """The sheet of a rod.

    Parameters
    ----------
    size : (int, int)
        Width and height, pixels.
    camera : Camera
        Of the rod, whose axis lies on the middle row.
    clear : int
        Half the height of what is fitted on the rod where it is thickest, pixels.
    line : int
        Height of a line of a caption, pixels; each inset has two lines below it.
    insets : tuple of Inset
        From butt to tip.
    """

    size: Size
    camera: Camera
    clear: int
    line: int
    insets: tuple[Inset, ...]

    @classmethod
    def of(cls, plan: Plan, size: Size) -> Self:
        """Lay out the sheet of a rod.

        Parameters
        ----------
        plan : Plan
            Of the wrap that the stage is of.
        size : (int, int)
            Width and height, pixels.

        Raises
        ------
        RequestProblem
            If the insets have no room.
        """
        width, height = size
        start, end = shown_span(plan)
        wide = (end - start) * (1 + 2 * _ROD_MARGIN)
        camera = camera_at(plan, (start + end) / 2, wide, width / height)
        scale = pixels_per_mm(camera, height)
        left = (start + end) / 2 - wide / 2
        wraps = list(wraps_along(plan))
        line = min(caption_height(width), max(height // _LINES, _LEAST_LINE))
        margin, between = round(_MARGIN * width), round(_BETWEEN * height)
        thick = scale * thickest(plan, start, end)
        clear = round(height / 2 - between - thick / 2)
        room = clear - margin - 2 * line
        if room < _LEAST_HEIGHT:
            least = height + math.ceil((_LEAST_HEIGHT - room + 1) / (0.5 - _BETWEEN - 2 / _LINES))
            raise RequestProblem(
                f"size: {width}x{height} has no room for enlarged wraps above and below the rod; "
                f"give a height of {least} or more."
            )
        made: list[Inset] = []
        for row, above in ((wraps[::2], True), (wraps[1::2], False)):
            if not row:
                continue
            boxes = _boxes(row, (width, room), margin)
            middles = [scale * (sum(one.wound_span) / 2 - left) for one in row]
            places = _spread(middles, [box[0] for box in boxes], width, margin)
            for one, box, at in zip(row, boxes, places, strict=True):
                first, last = one.wound_span
                aspect = box[0] / box[1]
                tall = _IN_DIAMETERS * thickest(plan, first, last)
                across = max((last - first) * (1 + 2 * _WRAP_MARGIN), aspect * tall)
                closer = camera_at(plan, (first + last) / 2, across, aspect)
                top = clear - 2 * line - box[1] if above else height - clear
                made.append(
                    Inset(
                        one.design.wrap_name,
                        at,
                        top,
                        box,
                        closer,
                        (scale * (first - left), scale * (last - left)),
                        pixels_per_mm(closer, box[1]) / scale,
                        across,
                    )
                )
        made.sort(key=lambda inset: inset.place)
        return cls(size, camera, round(thick / 2) + 2, line, tuple(made))


def shown_span(plan: Plan) -> tuple[float, float]:
    """Range of the rod that pictures of it show, mm from the butt.

    That is the whole blank where its length is known, else all that is wound or fitted.

    Parameters
    ----------
    plan : Plan
    """
    start, end = fitted_span(plan)
    length = plan.design.blank.length
    return (start, end) if length is None else (0.0, max(end, length))


def _boxes(row: Sequence[Plan], room: Size, margin: int) -> list[Size]:
    """Sizes of the insets of a row, all equally high, as large as there is room for, pixels."""
    shapes = []
    for plan in row:
        start, end = plan.wound_span
        long = (end - start) * (1 + 2 * _WRAP_MARGIN)
        shape = long / (_IN_DIAMETERS * thickest(plan, start, end))
        shapes.append(float(np.clip(shape, _NARROWEST, _FLATTEST)))
    free = room[0] - margin * (len(row) + 1)
    high = min(room[1], int(free / sum(shapes)))
    if high < _LEAST_HEIGHT:
        raise RequestProblem(
            f"size: a picture {room[0]} pixels wide has no room for {len(row)} enlarged wraps in a "
            f"row; make it {round(room[0] * _LEAST_HEIGHT / max(high, 1))} wide or more."
        )
    return [(int(high * shape), high) for shape in shapes]


def _spread(middles: Sequence[float], widths: Sequence[int], width: int, margin: int) -> list[int]:
    """Left edges of boxes in a row, each near its middle, none over another, pixels."""
    left: list[int] = []
    least = margin
    for middle, wide in zip(middles, widths, strict=True):
        left.append(max(round(middle - wide / 2), least))
        least = left[-1] + wide + margin
    most = width
    for number in reversed(range(len(left))):
        left[number] = min(left[number], most - margin - widths[number])
        most = left[number]
    return left
