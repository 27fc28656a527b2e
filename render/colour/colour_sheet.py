"""A picture of a thread's colour before and after its correction by a card."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

from materials.colour import linear_to_srgb, srgb_to_linear
from materials.photographed import Reading, balanced, corrected
from render.colour.photograph import Box
from render.common.files import check_suffix, replacing
from render.common.tags import SOFTWARE, Tag, save_png
from render.output.captions import GROUND, INK, caption
from render.request.subject import Pixels

__all__ = ["SUFFIXES", "MeasuredPhotograph", "save_colour_sheet"]

SUFFIXES = (".png",)

_WIDTH = 1200
_GAP = 8
_SWATCHES = 170
_KNOTS = 8
"""Colours along each axis of the grid on which the correction is computed."""

_MARGIN = 0.6
"""Margin around thread and card, as a share of their common extent."""


@dataclass(frozen=True, slots=True)
class MeasuredPhotograph:
    """A photograph with the measured colour of a thread.

    Parameters
    ----------
    pixels : (height, width, 3) uint8
        sRGB.
    thread, card : Box
        Their areas.
    reading : Reading
        The measured colour.
    """

    pixels: Pixels
    thread: Box
    card: Box
    reading: Reading


def save_colour_sheet(photograph: MeasuredPhotograph, path: Path, name: str) -> None:
    """Write the area of thread and card before and after correction, with swatches.

    Parameters
    ----------
    photograph : MeasuredPhotograph
    path : Path
        A PNG file.
    name : str
        Of the thread.

    Raises
    ------
    RequestProblem
        If it cannot be written.
    """
    check_suffix(path, SUFFIXES)
    with replacing(path) as file:
        save_png(_sheet(photograph, name), file, Tag(name, photograph.reading.colour, SOFTWARE))


def _sheet(photograph: MeasuredPhotograph, name: str) -> Pixels:
    reading = photograph.reading
    width = (_WIDTH - _GAP) // 2
    before, boxes = _cut_out(photograph, width)
    marked = [_with_boxes(picture, boxes) for picture in (before, _corrected(before, reading))]
    colours = (reading.colour_before, reading.colour)
    swatches = [
        np.asarray(Image.new("RGB", (width, _SWATCHES), colour)).astype(np.uint8)
        for colour in colours
    ]
    words = [
        f"{name}, as photographed: {colours[0]}",
        f"by the card: {colours[1]}, within ΔE00 {reading.uncertainty:.1f}",
    ]
    captions = [caption(text, width, beside=words) for text in words]
    columns = [np.concatenate(column) for column in zip(marked, swatches, captions, strict=True)]
    gap = np.broadcast_to(np.array(GROUND, np.uint8), (len(columns[0]), _GAP, 3))
    return np.concatenate((columns[0], gap, columns[1]), axis=1)


def _corrected(picture: Pixels, reading: Reading) -> Pixels:
    """The picture in daylight.

    The spectral correction is slow, so it is computed on a grid of colours. Its difference from the
    Bradford transform is small and smooth, and is interpolated between the grid's colours.
    """
    from scipy.ndimage import map_coordinates

    card, reflectance = reading.card.mean, reading.reflectance
    least, most = (edge(picture, axis=(0, 1)) / 255 for edge in (np.min, np.max))
    step = np.maximum(most - least, 1 / 255) / (_KNOTS - 1)
    knots = np.moveaxis(np.indices((_KNOTS,) * 3), 0, -1) * step + least
    light = srgb_to_linear(knots)
    exact = corrected(light, card, reflectance, reading.lamp, reading.kelvin)
    off = linear_to_srgb(exact) - linear_to_srgb(balanced(light, card, reflectance))
    place = np.moveaxis((picture / 255 - least) / step, -1, 0)
    after = linear_to_srgb(balanced(srgb_to_linear(picture / 255), card, reflectance))
    for channel in range(3):
        after[..., channel] += map_coordinates(off[..., channel], place, mode="nearest")
    return np.rint(255 * np.clip(after, 0, 1)).astype(np.uint8)


def _cut_out(photograph: MeasuredPhotograph, width: int) -> tuple[Pixels, list[tuple[float, ...]]]:
    """The area around thread and card, scaled to `width` pixels, and both boxes in it."""
    both = (photograph.thread, photograph.card)
    left, top = min(box.x for box in both), min(box.y for box in both)
    right = max(box.x + box.width for box in both)
    bottom = max(box.y + box.height for box in both)
    margin = _MARGIN * max(right - left, bottom - top) / 2
    high, wide = photograph.pixels.shape[:2]
    x0, y0 = max(0, round(left - margin)), max(0, round(top - margin))
    x1, y1 = min(wide, round(right + margin)), min(high, round(bottom + margin))
    scale = width / max(x1 - x0, y1 - y0)
    size = max(1, round((x1 - x0) * scale)), max(1, round((y1 - y0) * scale))
    part = Image.fromarray(np.ascontiguousarray(photograph.pixels[y0:y1, x0:x1])).resize(size)
    framed = Image.new("RGB", (width, size[1]), GROUND)
    at = (width - size[0]) // 2
    framed.paste(part, (at, 0))
    boxes: list[tuple[float, ...]] = [
        (
            at + (box.x - x0) * scale,
            (box.y - y0) * scale,
            at + (box.x + box.width - x0) * scale,
            (box.y + box.height - y0) * scale,
        )
        for box in both
    ]
    pixels: Pixels = np.asarray(framed, np.uint8)
    return pixels, boxes


def _with_boxes(picture: Pixels, boxes: list[tuple[float, ...]]) -> Pixels:
    image = Image.fromarray(picture)
    draw = ImageDraw.Draw(image)
    for x0, y0, x1, y1 in boxes:
        draw.rectangle((x0 - 2, y0 - 2, x1 + 2, y1 + 2), outline=GROUND, width=1)
        draw.rectangle((x0 - 1, y0 - 1, x1 + 1, y1 + 1), outline=INK, width=2)
    return np.asarray(image)
