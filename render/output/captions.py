"""Captions: strips with one line of text, placed under pictures.

Pillow draws a line whose letters stand side by side in one of its faces. All others are set by
`scenes.artwork.typesetting`, in the order of their script and with fonts of the system.
"""

import io
import math
from bisect import bisect_right
from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from scenes.artwork.faces import Face, missing_in, shipped_face
from scenes.artwork.lettering import FONT, Outline, coverage
from scenes.artwork.text_runs import is_plain, normalised
from scenes.artwork.typesetting import Line, set_line
from scenes.design.field_words import in_words
from scenes.problems import printable

__all__ = ["caption", "caption_height", "fits", "ink_of", "missing_letters"]

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

_BOX = "\u25a1"
"""Drawn in place of a letter that no font has."""

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


def caption(
    text: str, width: int, *, beside: Iterable[str] = (), height: int | None = None
) -> NDArray[np.uint8]:
    """Draw one line of text on a strip; a text that is too long ends in an ellipsis.

    Parameters
    ----------
    text : str
    width : int
        Of the strip, pixels.
    beside : iterable of str
        Captions shown together with this one; all are drawn in the same font.
    height : int, optional
        Of the strip, pixels; by default `caption_height` of its width.

    Returns
    -------
    (height, width, 3) uint8
        sRGB.
    """
    height = height or caption_height(width)
    strip = Image.new("RGB", (width, height), GROUND)
    size = round(height * _LETTERS)
    indent = round(height * _INDENT)
    line = normalised(printable(in_words(text), _LONGEST))
    if _needs_typesetting(line):
        fitted = _shortened(line, lambda part: size * _set(part).advance, width - 2 * indent)
        return _typeset(strip, fitted, size, indent)
    font = _font(size, "".join([text, *beside]))
    fitted = _shortened(line, font.getlength, width - 2 * indent)
    ImageDraw.Draw(strip).text((indent, height / 2), fitted, fill=INK, font=font, anchor="lm")
    return np.array(strip)


def fits(text: str, width: int, height: int) -> bool:
    """Whether a caption shows all of a text.

    Parameters
    ----------
    text : str
    width, height : int
        Of the strip, pixels.
    """
    size, room = round(height * _LETTERS), width - 2 * round(height * _INDENT)
    line = normalised(printable(in_words(text), _LONGEST))
    if _needs_typesetting(line):
        return size * _set(line).advance <= room
    return _wide_font(size).getlength(line) <= room


def ink_of(text: str, width: int, height: int) -> Image.Image:
    """Draw one line of text as a caption has it, without the strip.

    Parameters
    ----------
    text : str
    width : int
        Of the line at most, pixels.
    height : int
        Of the strip that a caption would have, pixels.

    Returns
    -------
    Image
        RGBA, as wide and high as its letters.
    """
    strip = caption(text, width, height=height).astype(np.int32)[..., 0] - GROUND[0]
    alpha = np.clip(255 * strip / (INK[0] - GROUND[0]), 0, 255).astype(np.uint8)
    inked = Image.new("RGBA", (alpha.shape[1], alpha.shape[0]), (*INK, 0))
    inked.putalpha(Image.fromarray(alpha))
    return inked.crop(inked.getchannel("A").getbbox() or (0, 0, 1, 1))


def missing_letters(texts: Iterable[str]) -> str:
    """Letters of some captions that no font has, each once; they are drawn as empty boxes.

    Parameters
    ----------
    texts : iterable of str
    """
    lines = [normalised(printable(in_words(text), _LONGEST)) for text in texts]
    missing = "".join(_set(line).missing for line in lines if _needs_typesetting(line))
    return "".join(dict.fromkeys(missing))


def _needs_typesetting(line: str) -> bool:
    return not (is_plain(line) and not missing_in(_face(), line))


def _face() -> Face:
    return shipped_face(*FONT.split("/", 1))


@lru_cache(maxsize=512)
def _set(line: str) -> Line:
    made = set_line(line, [_face()], "L")
    if not made.missing:
        return made
    boxed = "".join(_BOX if letter in made.missing else letter for letter in line)
    return replace(set_line(boxed, [_face()], "L"), missing=made.missing)


def _typeset(strip: Image.Image, text: str, size: int, indent: int) -> NDArray[np.uint8]:
    """Draw a line by its outlines, its base line where Pillow has it."""
    pixels = np.array(strip)
    contours = [contour * size for contour in _set(text).contours]
    if not contours:
        return pixels
    every = np.concatenate(contours)
    left, top = math.floor(every[:, 0].min()), math.ceil(every[:, 1].max())
    wide, high = (every.max(axis=0) - every.min(axis=0) + 1).tolist()
    ink = coverage(Outline(tuple(contour - (left, top) for contour in contours), wide, high), 1.0)
    ascent, descent = _wide_font(size).getmetrics()
    row = round((pixels.shape[0] + ascent - descent) / 2) - top
    above, column = max(-row, 0), max(indent + left, 0)
    part = pixels[max(row, 0) :, column:]
    share = ink[above:][: part.shape[0], : part.shape[1], None]
    part = part[: share.shape[0], : share.shape[1]]
    part[:] = np.rint(part + share * (np.array(INK) - part))
    return pixels


def _shortened(text: str, width_of: Callable[[str], float], room: float) -> str:
    if width_of(text) <= room:
        return text
    # Each width is a shaping of the whole line, so few are tried.
    fitting = bisect_right(range(1, len(text)), room, key=lambda kept: width_of(f"{text[:kept]}…"))
    return f"{text[:fitting].rstrip()}…" if fitting else ""


def _font(size: int, letters: str) -> Font:
    """Pillow's default font, or that of decals if the default lacks a letter."""
    plain = ImageFont.load_default(size)
    if all(_has_letter(letter) for letter in set(letters)):
        return plain
    return _wide_font(size)


def _wide_font(size: int) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(io.BytesIO(_face().data), size)


@lru_cache(maxsize=4096)
def _has_letter(letter: str) -> bool:
    """Whether Pillow's default font has a letter; a missing one is drawn as an empty box."""
    font = ImageFont.load_default(20)
    return letter.isspace() or bytes(font.getmask(letter)) != bytes(font.getmask("\uffff"))
