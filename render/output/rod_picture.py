"""The picture of a whole rod: drawn through the middle, each wrap enlarged above or below it.

A leader joins each wrap to its place, and under it stand its name and how many times larger than
the rod it is shown. All is one scene in one light: insets are enlargements, not other photographs.
"""

from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

from render.common.files import check_suffix, replacing
from render.common.progress import Progress
from render.common.tags import Tag, save_png
from render.output.captions import caption, fits, missing_letters
from render.output.capture import SETTING, scene_of
from render.output.reading import Reports, read_trims
from render.output.rod_layout import Inset, RodLayout
from render.output.signature import Signature
from render.output.still import SUFFIXES
from render.request.capture_settings import LIVE, CaptureSettings
from render.request.shapes import resolution_of
from render.request.subject import Pixels, Size
from scenes.artwork.typesetting import missing_sentence
from scenes.building.build import Wrap
from scenes.design.document import Design
from scenes.quantities import Units, about

__all__ = ["inset_sentence", "save_rod_picture", "steps"]

_LIGHT, _DARK = (226, 223, 216), (24, 25, 28)
"""Colours of lines on a dark and on a light ground, sRGB."""

_STROKE = 1 / 1600
"""Width of a line, as a share of the picture's width."""

_TICK = 0.012
"""Height of the marks at the ends of a wrap on the rod, as a share of the picture's height."""


def steps(design: Design) -> int:
    """Number of steps of progress of `save_rod_picture`.

    Parameters
    ----------
    design : Design
    """
    return SETTING + 2 + len(design.wraps)


def save_rod_picture(
    wrap: Wrap,
    path: Path,
    *,
    size: Size,
    capture: CaptureSettings = LIVE,
    read: bool = False,
    signature: Signature | None = None,
    resolution: int | None = None,
    progress: Progress | None = None,
) -> tuple[RodLayout, Reports]:
    """Take the picture of a rod in the light of its design, and write it.

    Parameters
    ----------
    wrap : Wrap
        Any wrap of the rod. Of its design's camera the turn counts alone.
    path : Path
        A PNG file.
    size : (int, int)
        Width and height, pixels.
    capture : CaptureSettings
    read : bool
        Measure the trims of that wrap too, which takes `render.output.reading.READING` more steps.
    signature : Signature, optional
        Put on the picture.
    resolution : int, optional
        Pixels to an inch on paper; by default that of a size of paper, and else none.
    progress : Progress, optional
        Advanced by `steps`.

    Returns
    -------
    layout : RodLayout
    reports : tuple of BandReport
        One for each line of each trim; empty if they were not measured.

    Raises
    ------
    RequestProblem
        If the file cannot be written, or the size or capture settings are wrong.
    DrawingProblem
    """
    progress = progress or Progress.none()
    check_suffix(path, SUFFIXES)
    layout = RodLayout.of(wrap.plan, size)
    missing = missing_letters(inset.name for inset in layout.insets)
    if missing:
        progress.note(missing_sentence(str(path), missing))
    if signature is not None:
        signature.note_missing(path, progress)
    count = 1 + len(layout.insets)
    reports: Reports = ()
    with replacing(path) as file:
        with scene_of(
            wrap, size, progress, camera=layout.camera, capture=capture, pictures=count
        ) as scene:
            progress.describe("picture")
            rod = scene.picture()
            closer = [scene.picture_from(one.camera, one.size) for one in layout.insets]
            if read and scene.can_measure:
                reports = read_trims(wrap, capture=capture, progress=progress, scene=scene)
        pixels = _sheet(layout, rod, closer, wrap.design.units)
        if signature is not None:
            pixels = signature.placed(pixels).on(pixels)
        tag = Tag.of(wrap.design, capture=capture.description)
        save_png(pixels, file, tag, resolution=resolution or resolution_of(size))
    if read and capture.photo:
        reports = read_trims(wrap, capture=capture, progress=progress)
    return layout, reports


def inset_sentence(inset: Inset, units: Units) -> str:
    """Say at which scale an inset shows its wrap.

    Parameters
    ----------
    inset : Inset
    units : Units
    """
    return f"{_times(inset)}, {about(inset.across, units)} across"


def _times(inset: Inset) -> str:
    return f"{inset.times:.3g} × the rod"


def _sheet(layout: RodLayout, rod: Pixels, closer: list[Pixels], units: Units) -> Pixels:
    """Put the insets over the picture of the rod, with leaders, frames and captions."""
    width = layout.size[0]
    sheet = Image.fromarray(rod)
    ink = _LIGHT if rod.mean() < 128 else _DARK
    stroke = max(1, round(_STROKE * width))
    draw = ImageDraw.Draw(sheet)
    names = [inset.name for inset in layout.insets]
    scales = [_scale(inset, layout.line, units) for inset in layout.insets]
    beside = [*names, *scales]
    for inset, scale, pixels in zip(layout.insets, scales, closer, strict=True):
        (wide, high), line = inset.size, layout.line
        _leader(draw, layout, inset, ink, stroke)
        frame = (inset.left, inset.top, inset.left + wide, inset.top + high + 2 * line)
        sheet.paste(Image.fromarray(pixels), frame[:2])
        lines = np.concatenate(
            [
                caption(inset.name, wide, beside=beside, height=line),
                caption(scale, wide, beside=beside, height=line),
            ]
        )
        sheet.paste(Image.fromarray(lines), (inset.left, inset.top + high))
        draw.rectangle(
            (frame[0] - stroke, frame[1] - stroke, frame[2] + stroke - 1, frame[3] + stroke - 1),
            outline=ink,
            width=stroke,
        )
    return np.array(sheet)


def _scale(inset: Inset, line: int, units: Units) -> str:
    """As much of what is said of an inset's scale as there is room for."""
    both = inset_sentence(inset, units)
    return both if fits(both, inset.size[0], line) else _times(inset)


def _leader(
    draw: ImageDraw.ImageDraw,
    layout: RodLayout,
    inset: Inset,
    ink: tuple[int, int, int],
    stroke: int,
) -> None:
    """Mark the ends of a wrap on the rod, and join their middle to the inset."""
    height = layout.size[1]
    above = inset.top < height / 2
    away = -1 if above else 1
    first, last = inset.place
    first, last = min(first, last - 2 * stroke), max(last, first + 2 * stroke)
    tick = round(_TICK * height)
    near = height / 2 + away * layout.clear
    bar = near + away * tick
    middle = (first + last) / 2
    bottom = inset.top + inset.size[1] + 2 * layout.line
    edge = bottom if above else inset.top
    to = min(max(middle, inset.left + tick), inset.left + inset.size[0] - tick)
    draw.line([(first, near), (first, bar), (last, bar), (last, near)], fill=ink, width=stroke)
    draw.line([(middle, bar), (to, edge)], fill=ink, width=stroke)
