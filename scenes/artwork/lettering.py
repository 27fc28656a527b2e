"""Text as outlines, and outlines as pictures."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from scenes.artwork.faces import FONT_LIMITS, Face, shipped_face
from scenes.artwork.text_runs import normalised
from scenes.artwork.typesetting import set_line
from scenes.decoding.cache import decoded
from scenes.decoding.errors import DecodingError, Reason
from scenes.decoding.outlines import MOST_POINTS
from scenes.problems import DesignProblem, UnreadableFile, one_of, printable, shown

__all__ = ["FONT", "FONT_NAME", "Outline", "check_font", "coverage", "text_outline"]

Array = NDArray[np.float64]

FONT_NAME = "DejaVu Sans"
"""The font used if a design names none; free, and part of matplotlib."""

FONT = "matplotlib/mpl-data/fonts/ttf/DejaVuSans.ttf"

_SCANS = 8
"""Scan lines in the height of a pixel."""

_CAPITAL = 0.7
"""Height of a capital, em, for a font without a capital H."""


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """A line of letters.

    Parameters
    ----------
    contours : tuple of (n, 2) float
        Closed. Origin at the upper left corner of the ink, x to the right, y up, so y is at most 0;
        the unit is the height of a capital H. Points with a nonzero winding number are inked.
    width, height : float
        Size of the ink, in the same unit.
    """

    contours: tuple[Array, ...]
    width: float
    height: float


def text_outline(text: str, font: bytes | None, name: str, fields: tuple[str, str]) -> Outline:
    """Set a line of text.

    Letters are ordered, joined and kerned, and their accents placed, as their script and the font
    ask for (`scenes.artwork.typesetting`). Letters that `FONT` lacks are set in a face of the
    system that has them; a font of the builder's own must have all.

    Parameters
    ----------
    text : str
    font : bytes or None
        A font file; None for `FONT`.
    name : str
        Name of the font file.
    fields : tuple of str
        Paths of the fields of the text and of the font, for a refusal.

    Raises
    ------
    DesignProblem
        If the font cannot be read or lacks a letter.
    """
    return _text_outline(text, font, name, fields)


def check_font(data: bytes, name: str, field: str) -> None:
    """Check that a file is a readable font.

    Parameters
    ----------
    data : bytes
        The file.
    name, field : str
        Name of the file, and path of the field that names it, for a refusal.

    Raises
    ------
    DesignProblem
    """
    try:
        decoded("font", data, {}, FONT_LIMITS)
    except DecodingError as error:
        raise _refused(error, name, (field, field)) from None


@lru_cache(maxsize=16)
def _text_outline(text: str, font: bytes | None, name: str, fields: tuple[str, str]) -> Outline:
    own = shipped_face(*FONT.split("/", 1)) if font is None else Face(font)
    try:
        line = set_line(normalised(text), [own], fallback=font is None)
        if line.missing:
            raise DecodingError(Reason.LETTERS, letters=line.missing)
    except DecodingError as error:
        raise _refused(error, FONT_NAME if font is None else name, fields) from None
    if not line.contours:
        raise DesignProblem(
            f"{fields[0]}: {shown(text)} has nothing to print; give letters.", field=fields[0]
        )
    tall = line.capital or _CAPITAL
    every = np.concatenate(line.contours)
    size = np.ptp(every, axis=0)
    if not (np.isfinite(every).all() and np.isfinite(tall) and tall > 0 and size.min() > 0):
        raise _refused(DecodingError(Reason.BROKEN), name, fields)
    corner = np.array((every[:, 0].min(), every[:, 1].max()))
    wide, high = (size / tall).tolist()
    return Outline(tuple((contour - corner) / tall for contour in line.contours), wide, high)


def _refused(error: DecodingError, name: str, fields: tuple[str, str]) -> DesignProblem:
    """Word an error of a font; `fields` are those of the text and of the font."""
    text_field, font_field = fields
    called = FONT_NAME if name == FONT_NAME else f'"{printable(name)}"'
    if error.reason is Reason.LETTERS:
        missing = one_of((shown(one) for one in error.text("letters")[:5]), "and")
        owner = (
            f"{called} has no"
            if called != FONT_NAME
            else f"neither {called} nor a font of this system has"
        )
        return DesignProblem(
            f"{text_field}: {owner} {missing}; give other letters or another font.",
            field=text_field,
        )
    if error.reason is Reason.POINTS:
        return DesignProblem(
            f"{text_field}: these letters have outlines of more than {MOST_POINTS} points; give "
            "fewer letters or a simpler font.",
            field=text_field,
        )
    clause = {
        Reason.TIME: "takes too long to read; give a simpler font",
        Reason.MEMORY: "needs too much memory to read; give a simpler font",
        Reason.PROCESS: "cannot be read now, since no process could be started; try again",
    }.get(error.reason, "is no font that can be read; give a TrueType or OpenType font")
    return UnreadableFile(f"{font_field}: {called} {clause}.", field=font_field)


def coverage(outline: Outline, per_height: float) -> Array:
    """Draw an outline as a picture.

    Parameters
    ----------
    outline : Outline
    per_height : float
        Pixels in the height of a capital H.

    Returns
    -------
    (h, w) float
        Inked share of each pixel, 0 to 1: exact along each of `_SCANS` lines, and averaged over
        them.
    """
    wide = max(1, int(np.ceil(outline.width * per_height - 1e-9)))
    high = max(1, int(np.ceil(outline.height * per_height - 1e-9)))
    lines = high * _SCANS
    first = [contour * (per_height, -per_height * _SCANS) for contour in outline.contours]
    start = np.concatenate(first)
    end = np.concatenate([np.roll(contour, -1, axis=0) for contour in first])
    down = np.sign(end[:, 1] - start[:, 1])
    low, top = np.minimum(start[:, 1], end[:, 1]), np.maximum(start[:, 1], end[:, 1])
    # The lines y = n + 1/2 that each edge crosses.
    begin = np.clip(np.ceil(low - 0.5), 0, lines).astype(np.intp)
    stop = np.clip(np.ceil(top - 0.5), 0, lines).astype(np.intp)
    count = stop - begin
    edge = np.repeat(np.arange(count.size), count)
    line = np.arange(edge.size) - np.repeat(np.cumsum(count) - count, count) + begin[edge]
    share = (line + 0.5 - start[edge, 1]) / (end[edge, 1] - start[edge, 1])
    x = np.clip(start[edge, 0] + share * (end[edge, 0] - start[edge, 0]), 0, wide)
    pixel = np.minimum(x.astype(np.intp), wide - 1)
    over = x - pixel
    # To the right of a crossing the winding number is one more or one less.
    step = np.zeros((lines, wide + 1))
    np.add.at(step, (line, pixel), down[edge] * (1 - over))
    np.add.at(step, (line, pixel + 1), down[edge] * over)
    wound = np.minimum(np.abs(np.cumsum(step, axis=1)[:, :wide]), 1)
    return np.asarray(wound.reshape(high, _SCANS, wide).mean(axis=1))
