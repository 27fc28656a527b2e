"""The picture of a rod as a strip: at one true scale, in rows one under the other, butt first.

Neighbouring rows overlap; a mark on each shows where the other row ends or begins.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Self

import numpy as np
from PIL import Image, ImageDraw

from render.common.files import check_suffix, replacing
from render.common.problems import RequestProblem
from render.common.progress import Progress
from render.common.tags import Tag, save_png
from render.output.captions import caption, caption_height
from render.output.capture import SETTING, scene_of
from render.output.rod_layout import shown_span
from render.output.signature import Signature
from render.output.still import SUFFIXES
from render.request.capture_settings import LIVE, CaptureSettings
from render.request.shapes import resolution_of
from render.request.subject import Size
from scenes.building.build import Plan, Wrap
from scenes.quantities import Units, plain_number
from scenes.stage.along_rod import camera_at, pixels_per_mm, thickest
from scenes.stage.camera import Camera

__all__ = ["ROWS", "STEPS", "StripLayout", "save_strip", "strip_sentence"]

ROWS = 4
"""Rows that the rod is drawn in."""

STEPS = SETTING + 1 + ROWS
"""Number of steps of progress of `save_strip`."""

_OVERLAP = 0.03
"""What two rows both show, as a share of a row's width."""

_MARGIN = 0.02
"""Free space beyond either end of the rod, as a share of a row's width."""

_BELOW = 0.12
"""How far the rod lies below the middle of its row, for guides, as a share of the row's height."""

_ROOM = 1.1 / (1 - 2 * _BELOW)
"""Least height of a row over what is thickest on the rod, guides left out."""

_LINES, _LEAST_LINE = 24, 14
"""Lines of captions in the height of a picture at least, and least height of one, pixels."""

_MARK = (205, 120, 40)
"""Colour of the marks of an overlap, sRGB: seen on dark and on light grounds."""


@dataclass(frozen=True, slots=True)
class StripLayout:
    """Where the rows of a strip stand.

    Parameters
    ----------
    size : (int, int)
        Width and height of a row, without its caption, pixels.
    line : int
        Height of a row's caption, pixels.
    spans : tuple of (float, float)
        What each row takes in on the rod's axis, mm from the butt.
    cameras : tuple of Camera
    scale : float
        Pixels to a millimetre on the axis, the same in all rows.
    """

    size: Size
    line: int
    spans: tuple[tuple[float, float], ...]
    cameras: tuple[Camera, ...]
    scale: float

    @classmethod
    def of(cls, plan: Plan, size: Size) -> Self:
        """Lay out the strip of a rod.

        Parameters
        ----------
        plan : Plan
            Of the wrap that the stage is of.
        size : (int, int)
            Width and height of the picture, pixels.

        Raises
        ------
        RequestProblem
            If the rod is thicker than a row is high.
        """
        width, height = size
        start, end = shown_span(plan)
        wide = (end - start) / (ROWS - (ROWS - 1) * _OVERLAP - 2 * _MARGIN)
        line = min(caption_height(width), max(height // _LINES, _LEAST_LINE))
        high = height // ROWS - line
        needed = _ROOM * thickest(plan, start, end) * width / wide
        if high < needed:
            # Captions grow with the picture, up to their greatest height.
            least = ROWS * (int(needed) + 1 + max(caption_height(width), _LEAST_LINE))
            raise RequestProblem(
                f"size: {width}x{height} has no room for {ROWS} rows of this rod; give a height of "
                f"{least} or more."
            )
        begins = [start + wide * (row * (1 - _OVERLAP) - _MARGIN) for row in range(ROWS)]
        spans = tuple((at, at + wide) for at in begins)
        cameras = tuple(
            camera_at(plan, at + wide / 2, wide, width / high, below=_BELOW) for at in begins
        )
        return cls((width, high), line, spans, cameras, pixels_per_mm(cameras[0], high))


def strip_sentence(layout: StripLayout, units: Units) -> str:
    """Say at which scale the strip shows the rod.

    Parameters
    ----------
    layout : StripLayout
    units : Units
    """
    first, last = layout.spans[0]
    return (
        f"{ROWS} rows, each {_whole(last - first, units)} wide, {layout.scale:.3g} pixels to a mm"
    )


def _whole(held: float, units: Units) -> str:
    """Write a length as finely as marks of a row can be read: whole mm, or tenths of an inch."""
    finest = 0 if units is Units.MM else 1
    return f"{plain_number(round(held / units.in_mm, finest))} {units.value}"


def save_strip(
    wrap: Wrap,
    path: Path,
    *,
    size: Size,
    capture: CaptureSettings = LIVE,
    signature: Signature | None = None,
    progress: Progress | None = None,
) -> StripLayout:
    """Take the strip of a rod in the light of its design, and write it.

    Parameters
    ----------
    wrap : Wrap
        Any wrap of the rod. Of its design's camera the turn counts alone.
    path : Path
        A PNG file.
    size : (int, int)
        Width and height, pixels.
    capture : CaptureSettings
    signature : Signature, optional
    progress : Progress, optional
        Advanced by `STEPS`.

    Raises
    ------
    RequestProblem
        If the file cannot be written, or the size or capture settings are wrong.
    DrawingProblem
    """
    progress = progress or Progress.none()
    check_suffix(path, SUFFIXES)
    layout = StripLayout.of(wrap.plan, size)
    if signature is not None:
        signature.note_missing(path, progress)
    butt, tip = shown_span(wrap.plan)
    first, *others = layout.cameras
    with replacing(path) as file:
        with scene_of(
            wrap, layout.size, progress, camera=first, capture=capture, pictures=ROWS
        ) as scene:
            progress.describe("picture")
            rows = [scene.picture()]
            rows += [scene.picture_from(camera, layout.size) for camera in others]
        (width, high), line, units = layout.size, layout.line, wrap.design.units
        sheet = Image.new("RGB", size)
        draw = ImageDraw.Draw(sheet)
        said = strip_sentence(layout, units)
        for row, (pixels, (begin, end)) in enumerate(zip(rows, layout.spans, strict=True)):
            top = row * (high + line)
            sheet.paste(Image.fromarray(pixels), (0, top))
            # The margins beyond the rod's ends are not part of what is said.
            words = f"{_whole(max(begin, butt), units)} to {_whole(min(end, tip), units)}"
            words = f"{words}; {said}" if row == 0 else words
            lettered = caption(words, width, beside=[said], height=line)
            sheet.paste(Image.fromarray(lettered), (0, top + high))
            shared = round(_OVERLAP * width)
            marks = [shared] * (row > 0) + [width - shared] * (row < ROWS - 1)
            for at in marks:
                draw.line([(at, top), (at, top + high // 8)], fill=_MARK, width=2)
                draw.line([(at, top + high - high // 8), (at, top + high)], fill=_MARK, width=2)
        sheet_pixels = np.array(sheet)
        if signature is not None:
            sheet_pixels = signature.placed(sheet_pixels).on(sheet_pixels)
        tag = Tag.of(wrap.design, capture=capture.description)
        save_png(sheet_pixels, file, tag, resolution=resolution_of(size))
    return layout
