"""Letters as outlines, and outlines as pictures: fonts are read by fontTools."""

import io
import itertools
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import Any

import numpy as np
from fontTools.pens.basePen import BasePen
from fontTools.ttLib import TTFont
from numpy.typing import NDArray

from scenes.problems import DesignProblem, one_of, printable, shown

__all__ = ["FONT", "FONT_NAME", "Outline", "check_font", "coverage", "lettered"]

Array = NDArray[np.float64]

FONT_NAME = "DejaVu Sans"
"""The font that is used where a design names none: free, and a part of matplotlib."""

FONT = "matplotlib/mpl-data/fonts/ttf/DejaVuSans.ttf"

_PER_CURVE = 10
"""Chords of one curve: of a letter O 20 mm high each leaves its arc by 4 micrometres."""

_SCANS = 8
"""Lines of a pixel's height along which coverage is measured."""

_MOST_POINTS = 60_000
"""Points of all outlines: a stranger's font may hold millions."""

_BEGINNINGS = (b"\0\1\0\0", b"OTTO", b"true", b"ttcf")
"""Of TrueType and OpenType files and collections (OpenType 1.9, "Organization of an OpenType
Font"; "true" is Apple's). Packed fonts, which may be far larger than they look, are none."""

_BROKEN = "is no font that can be read; give a TrueType or OpenType font"


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """A line of letters.

    Parameters
    ----------
    contours : tuple of (n, 2) float
        Closed; x to the right and y up from the upper left corner of the ink, in heights of a
        capital H: y is 0 at the top of the ink and below 0 under it. What is wound round once or
        more is inked.
    width, height : float
        Of the ink, in the same measure.
    """

    contours: tuple[Array, ...]
    width: float
    height: float


def lettered(text: str, font: bytes | None, name: str, fields: tuple[str, str]) -> Outline:
    """Set a line of text.

    Letters stand side by side as the font has them, kerned where it has a table of pairs; no
    ligatures, and no writing from right to left.

    Parameters
    ----------
    text : str
    font : bytes or None
        A font file; None for `FONT`.
    name : str
        Of the font file.
    fields : tuple of str
        Paths of the fields of the text and of the font, for a refusal.

    Raises
    ------
    DesignProblem
        If the font cannot be read or has not all the letters.
    """
    return _lettered(text, font, name, fields)


def check_font(data: bytes, name: str, field: str) -> None:
    """See that a file is a font that can be read.

    Parameters
    ----------
    data : bytes
    name, field : str
        Of the file, and path of the field that names it, for a refusal.

    Raises
    ------
    DesignProblem
    """
    _opened(data, name, field)


def _opened(data: bytes, name: str, field: str) -> tuple[TTFont, dict[int, str], Any, int]:
    """Open a font: itself, its glyphs by letter, its outlines, and its units to an em."""
    broken = DesignProblem(f'{field}: "{printable(name)}" {_BROKEN}.', field=field)
    if not data.startswith(_BEGINNINGS):
        raise broken
    # fontTools meets a broken table with whatever exception the damage leads to.
    try:
        face = TTFont(io.BytesIO(data), lazy=True, fontNumber=0)
        letters, glyphs = face.getBestCmap(), face.getGlyphSet()
        unit = face["head"].unitsPerEm
    except Exception:
        raise broken from None
    if letters is None:
        raise broken
    return face, letters, glyphs, unit


@lru_cache(maxsize=16)
def _lettered(text: str, font: bytes | None, name: str, fields: tuple[str, str]) -> Outline:
    text_field, font_field = fields
    data = (resources.files("matplotlib") / FONT.partition("/")[2]).read_bytes()
    face, letters, glyphs, unit = _opened(data if font is None else font, name, font_field)
    missing = [letter for letter in dict.fromkeys(text) if ord(letter) not in letters]
    if missing:
        called = FONT_NAME if font is None else f'"{printable(name)}"'
        raise DesignProblem(
            f"{text_field}: {called} has no {one_of((shown(one) for one in missing[:5]), 'and')}; "
            "give other letters or another font.",
            field=text_field,
        )
    try:
        names = [letters[ord(letter)] for letter in text]
        pairs = _pairs(face)
        pen = _Chords(glyphs)
        at = 0.0
        for before, glyph in itertools.pairwise([None, *names]):
            assert glyph is not None
            at += pairs.get((before, glyph), 0) if before is not None else 0
            pen.begin(at)
            glyphs[glyph].draw(pen)
            at += glyphs[glyph].width
            if pen.count > _MOST_POINTS:
                break
        capital = _Chords(glyphs)
        high = letters.get(ord("H"))
        if high is not None:
            glyphs[high].draw(capital)
    except Exception:
        raise DesignProblem(
            f'{font_field}: "{printable(name)}" {_BROKEN}.', field=font_field
        ) from None
    if pen.count > _MOST_POINTS:
        raise DesignProblem(
            f"{text_field}: these letters have outlines of more than {_MOST_POINTS} points; give "
            "fewer letters or a simpler font.",
            field=text_field,
        )
    contours = [np.array(one) for one in pen.contours if len(one) > 2]
    if not contours:
        raise DesignProblem(
            f"{text_field}: {shown(text)} has nothing to print; give letters.", field=text_field
        )
    tops = [point[1] for one in capital.contours for point in one]
    tall = (max(tops) - min(tops)) if tops else 0.7 * unit
    every = np.concatenate(contours)
    if not np.isfinite(every).all() or tall <= 0 or np.ptp(every, axis=0).min() <= 0:
        raise DesignProblem(f'{font_field}: "{printable(name)}" {_BROKEN}.', field=font_field)
    corner = np.array((every[:, 0].min(), every[:, 1].max()))
    size = np.ptp(every, axis=0) / tall
    return Outline(tuple((one - corner) / tall for one in contours), float(size[0]), float(size[1]))


def _pairs(face: TTFont) -> dict[tuple[str, str], int]:
    """Kerning by pairs of glyphs, from the plain table that many fonts have."""
    if "kern" not in face:
        return {}
    return next((t.kernTable for t in face["kern"].kernTables if hasattr(t, "kernTable")), {})


class _Chords(BasePen):  # type: ignore[misc]  # fontTools' pens are untyped
    """Takes outlines apart into chords."""

    def __init__(self, glyphs: object) -> None:
        super().__init__(glyphs)
        self.contours: list[list[tuple[float, float]]] = []
        self.count = 0
        self._shift = 0.0

    def begin(self, shift: float) -> None:
        """Draw the next letter so far to the right."""
        self._shift = shift

    def _add(self, point: tuple[float, float]) -> None:
        self.count += 1
        if self.count <= _MOST_POINTS + 1:
            self.contours[-1].append((point[0] + self._shift, point[1]))

    def _moveTo(self, point: tuple[float, float]) -> None:
        self.contours.append([])
        self._add(point)

    def _lineTo(self, point: tuple[float, float]) -> None:
        self._add(point)

    def _qCurveToOne(self, control: tuple[float, float], end: tuple[float, float]) -> None:
        start = np.array(self._getCurrentPoint())
        for share in np.linspace(0, 1, _PER_CURVE + 1)[1:]:
            left = 1 - share
            at = (
                left * left * start
                + 2 * left * share * np.array(control)
                + share * share * np.array(end)
            )
            self._add((float(at[0]), float(at[1])))

    def _curveToOne(
        self, one: tuple[float, float], two: tuple[float, float], end: tuple[float, float]
    ) -> None:
        start = np.array(self._getCurrentPoint())
        for share in np.linspace(0, 1, _PER_CURVE + 1)[1:]:
            left = 1 - share
            at = (
                left**3 * start
                + 3 * left * left * share * np.array(one)
                + 3 * left * share * share * np.array(two)
                + share**3 * np.array(end)
            )
            self._add((float(at[0]), float(at[1])))


def coverage(outline: Outline, per_height: float) -> Array:
    """Draw an outline as a picture.

    Parameters
    ----------
    outline : Outline
    per_height : float
        Pixels to the height of a capital.

    Returns
    -------
    (h, w) float
        Share of each pixel that is inked, 0 to 1: exact across, and measured along `_SCANS` lines
        down each.
    """
    wide = max(1, int(np.ceil(outline.width * per_height - 1e-9)))
    high = max(1, int(np.ceil(outline.height * per_height - 1e-9)))
    lines = high * _SCANS
    first = [contour * (per_height, -per_height * _SCANS) for contour in outline.contours]
    start = np.concatenate(first)
    end = np.concatenate([np.roll(one, -1, axis=0) for one in first])
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
    # Right of a crossing the line is wound round once more or once less.
    step = np.zeros((lines, wide + 1))
    np.add.at(step, (line, pixel), down[edge] * (1 - over))
    np.add.at(step, (line, pixel + 1), down[edge] * over)
    wound = np.minimum(np.abs(np.cumsum(step, axis=1)[:, :wide]), 1)
    return np.asarray(wound.reshape(high, _SCANS, wide).mean(axis=1))
