"""Outlines of letters, read with fontTools; no other imports, so that a child starts quickly."""

import io
import itertools
from dataclasses import dataclass
from typing import Any

from fontTools.pens.basePen import BasePen
from fontTools.ttLib import TTFont

from scenes.decoding.errors import DecodingError, Reason

__all__ = ["MOST_POINTS", "Letters", "check_font", "letters_of"]

MOST_POINTS = 60_000
"""Most points of all outlines together; a hostile font may hold millions."""

_MOST_PARTS = 5_000
"""Most components of composite glyphs in one line of text.

Glyphs may refer to others at many levels; with two references at each level, the number of
components doubles with every level."""

_PER_CURVE = 10
"""Chords of one curve: for a letter O 20 mm high each is within 4 µm of its arc."""

_SHARES = (*(step * (1 / _PER_CURVE) for step in range(1, _PER_CURVE)), 1.0)
"""Parameters of a curve at which its chords end."""

_BEGINNINGS = (b"\0\1\0\0", b"OTTO", b"true", b"ttcf")
"""First bytes of TrueType and OpenType files and collections (OpenType 1.9, "Organization of an
OpenType Font"; "true" is Apple's). Compressed fonts are refused: they may unpack to any size."""

_MOST_MISSING = 5
"""Most letters that a refusal names."""

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Letters:
    """A line of letters in the font's own units.

    Parameters
    ----------
    contours : list of list of (float, float)
        Closed; x to the right, y up.
    capital : float
        Height of the capital H; 0 if the font has none.
    unit : float
        Font units per em.
    """

    contours: list[list[Point]]
    capital: float
    unit: float


def check_font(data: bytes) -> None:
    """Check that a file is a readable font.

    Parameters
    ----------
    data : bytes
        The file.

    Raises
    ------
    DecodingError
    """
    _opened(data)


def letters_of(data: bytes, text: str) -> Letters:
    """Read the outlines of a line of text, its letters side by side and kerned by pairs.

    Parameters
    ----------
    data : bytes
        A font file.
    text : str

    Raises
    ------
    DecodingError
    """
    face, letters, glyphs, unit = _opened(data)
    missing = [letter for letter in dict.fromkeys(text) if ord(letter) not in letters]
    if missing:
        raise DecodingError(Reason.LETTERS, letters="".join(missing[:_MOST_MISSING]))
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
        capital = _Chords(glyphs)
        high = letters.get(ord("H"))
        if high is not None:
            glyphs[high].draw(capital)
    except (DecodingError, MemoryError):
        raise
    except Exception:
        raise DecodingError(Reason.BROKEN) from None
    tops = [float(point[1]) for contour in capital.contours for point in contour]
    contours = [contour for contour in pen.contours if len(contour) > 2]
    return Letters(contours, max(tops) - min(tops) if tops else 0.0, float(unit))


def _opened(data: bytes) -> tuple[TTFont, dict[int, str], Any, float]:
    """Open a font: itself, its glyphs by letter, its outlines, and its units to an em."""
    if not data.startswith(_BEGINNINGS):
        raise DecodingError(Reason.KIND)
    # A broken table makes fontTools raise almost any exception.
    try:
        face = TTFont(io.BytesIO(data), lazy=True, fontNumber=0)
        letters, glyphs = face.getBestCmap(), face.getGlyphSet()
        unit = face["head"].unitsPerEm
    except MemoryError:
        raise
    except Exception:
        raise DecodingError(Reason.BROKEN) from None
    if letters is None:
        raise DecodingError(Reason.BROKEN)
    return face, letters, glyphs, unit


def _pairs(face: TTFont) -> dict[tuple[str, str], int]:
    """Kerning by pairs of glyphs, from the ``kern`` table; empty if there is none."""
    if "kern" not in face:
        return {}
    return next((t.kernTable for t in face["kern"].kernTables if hasattr(t, "kernTable")), {})


class _Chords(BasePen):  # type: ignore[misc]  # fontTools' pens are untyped
    """A pen that divides outlines into chords, and refuses too many."""

    def __init__(self, glyphs: object) -> None:
        super().__init__(glyphs)
        self.contours: list[list[Point]] = []
        self._points = 0
        self._parts = 0
        self._shift = 0.0

    def begin(self, shift: float) -> None:
        """Shift the next letter to the right, in font units."""
        self._shift = shift

    def addComponent(self, name: str, transformation: Any) -> None:
        """Draw a part of a composite glyph."""
        self._parts += 1
        if self._parts > _MOST_PARTS:
            raise DecodingError(Reason.POINTS)
        super().addComponent(name, transformation)

    def _add(self, x: float, y: float) -> None:
        self._points += 1
        if self._points > MOST_POINTS:
            raise DecodingError(Reason.POINTS)
        self.contours[-1].append((x + self._shift, y))

    def _moveTo(self, point: Point) -> None:
        self.contours.append([])
        self._add(*point)

    def _lineTo(self, point: Point) -> None:
        self._add(*point)

    def _qCurveToOne(self, control: Point, end: Point) -> None:
        start = self._getCurrentPoint()
        for share in _SHARES:
            left = 1 - share
            before, between, after = left * left, 2 * left * share, share * share
            self._add(
                before * start[0] + between * control[0] + after * end[0],
                before * start[1] + between * control[1] + after * end[1],
            )

    def _curveToOne(self, control_1: Point, control_2: Point, end: Point) -> None:
        start = self._getCurrentPoint()
        for share in _SHARES:
            left = 1 - share
            before, first = left**3, 3 * left * left * share
            second, after = 3 * left * share * share, share**3
            self._add(
                before * start[0] + first * control_1[0] + second * control_2[0] + after * end[0],
                before * start[1] + first * control_1[1] + second * control_2[1] + after * end[1],
            )
