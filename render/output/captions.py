"""Words on pictures: a caption strip, as under a framed print."""

from collections.abc import Iterable
from functools import cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from scenes.problems import printable

__all__ = ["caption", "caption_height"]

Font = ImageFont.FreeTypeFont | ImageFont.ImageFont

GROUND = (15, 16, 18)
"""sRGB: darker than the backdrop, so that the strips part the pictures."""

INK = (214, 211, 203)

_HEIGHT = 1 / 42
"""Height of a strip, as a share of the picture's width."""

_LOWEST, _HIGHEST = 20, 72
_LETTERS = 0.55
"""Size of the letters, as a share of the strip's height."""

_INDENT = 0.6
_LONGEST = 300


def caption_height(width: int) -> int:
    """Height of the caption strip for pictures `width` wide, pixels; even."""
    return 2 * round(min(max(width * _HEIGHT, _LOWEST), _HIGHEST) / 2)


def caption(text: str, width: int, *, beside: Iterable[str] = ()) -> NDArray[np.uint8]:
    """Draw one line of text on a strip, cut short with an ellipsis where it is too long.

    Parameters
    ----------
    text : str
    width : int
        pixels.
    beside : iterable of str
        Captions that stand with this one: all are set in one face.

    Returns
    -------
    (height, width, 3) uint8
        sRGB.
    """
    height = caption_height(width)
    strip = Image.new("RGB", (width, height), GROUND)
    font = _font(round(height * _LETTERS), "".join([text, *beside]))
    indent = round(height * _INDENT)
    fitted = _cut(printable(text, _LONGEST), font, width - 2 * indent)
    ImageDraw.Draw(strip).text((indent, height / 2), fitted, fill=INK, font=font, anchor="lm")
    return np.array(strip)


def _cut(text: str, font: Font, room: float) -> str:
    if font.getlength(text) <= room:
        return text
    while text and font.getlength(f"{text}…") > room:
        text = text[:-1]
    return f"{text.rstrip()}…" if text else ""


def _font(size: int, letters: str) -> Font:
    """Pillow's own face, or where letters are missing in it the one that comes with Matplotlib.

    PyVista, which we draw with, needs Matplotlib: it is there wherever we are.
    """
    plain = ImageFont.load_default(size)
    if all(_has(letter) for letter in set(letters)):
        return plain
    try:
        wide = resources.files("matplotlib") / "mpl-data/fonts/ttf/DejaVuSans.ttf"
    except ModuleNotFoundError:
        return plain
    with resources.as_file(wide) as path:
        return ImageFont.truetype(str(path), size)


@cache
def _has(letter: str) -> bool:
    """Tell whether Pillow's own face has a letter: a missing one is drawn as an empty box."""
    font = ImageFont.load_default(20)
    return letter.isspace() or bytes(font.getmask(letter)) != bytes(font.getmask("\uffff"))
