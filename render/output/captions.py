"""Captions: strips with one line of text, placed under pictures."""

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
"""Background of a strip, sRGB: darker than the backdrop, so that strips separate pictures."""

INK = (214, 211, 203)
"""Colour of the text, sRGB."""

_HEIGHT = 1 / 42
"""Height of a strip, as a share of the picture's width."""

_LOWEST, _HIGHEST = 20, 72
"""Bounds of that height, pixels."""

_LETTERS = 0.55
"""Size of the letters, as a share of the strip's height."""

_INDENT = 0.6
"""Margin at the ends of the text, as a share of the strip's height."""

_LONGEST = 300
"""Maximum length of a text, characters."""


def caption_height(width: int) -> int:
    """Height of a caption strip, pixels; an even number.

    Parameters
    ----------
    width : int
        Of the picture, pixels.
    """
    return 2 * round(min(max(width * _HEIGHT, _LOWEST), _HIGHEST) / 2)


def caption(text: str, width: int, *, beside: Iterable[str] = ()) -> NDArray[np.uint8]:
    """Draw one line of text on a strip; a text that is too long ends in an ellipsis.

    Parameters
    ----------
    text : str
    width : int
        Of the strip, pixels.
    beside : iterable of str
        Captions shown together with this one; all are drawn in the same font.

    Returns
    -------
    (height, width, 3) uint8
        sRGB.
    """
    height = caption_height(width)
    strip = Image.new("RGB", (width, height), GROUND)
    font = _font(round(height * _LETTERS), "".join([text, *beside]))
    indent = round(height * _INDENT)
    fitted = _shortened(printable(text, _LONGEST), font, width - 2 * indent)
    ImageDraw.Draw(strip).text((indent, height / 2), fitted, fill=INK, font=font, anchor="lm")
    return np.array(strip)


def _shortened(text: str, font: Font, room: float) -> str:
    if font.getlength(text) <= room:
        return text
    while text and font.getlength(f"{text}…") > room:
        text = text[:-1]
    return f"{text.rstrip()}…" if text else ""


def _font(size: int, letters: str) -> Font:
    """Pillow's default font, or Matplotlib's if the default lacks a letter.

    PyVista depends on Matplotlib, so it is always installed.
    """
    plain = ImageFont.load_default(size)
    if all(_has_letter(letter) for letter in set(letters)):
        return plain
    try:
        wide = resources.files("matplotlib") / "mpl-data/fonts/ttf/DejaVuSans.ttf"
    except ModuleNotFoundError:
        return plain
    with resources.as_file(wide) as path:
        return ImageFont.truetype(str(path), size)


@cache
def _has_letter(letter: str) -> bool:
    """Whether Pillow's default font has a letter; a missing one is drawn as an empty box."""
    font = ImageFont.load_default(20)
    return letter.isspace() or bytes(font.getmask(letter)) != bytes(font.getmask("\uffff"))
