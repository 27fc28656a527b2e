"""Outlines of letters, shaped by HarfBuzz and read with fontTools.

No other imports, so that a child starts quickly.
"""

import io
import unicodedata
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import uharfbuzz
from fontTools.pens.basePen import BasePen
from fontTools.ttLib import TTFont

from scenes.decoding.errors import DecodingError, Reason

__all__ = ["MOST_POINTS", "Letters", "check_font", "letters_of", "missing_letters"]

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

_INVISIBLE = "\u200c\u200d"
"""Zero-width non-joiner and joiner; HarfBuzz draws nothing for them."""

_MOST_MISSING = 5
"""Most letters that a refusal names."""

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Letters:
    """Runs of letters in a font's own units.

    Parameters
    ----------
    runs : list of list of list of (float, float)
        Contours of each run, from its own origin: closed; x to the right, y up.
    advances : list of float
        Width of each run.
    capital : float
        Height of the capital H; 0 if the font has none.
    unit : float
        Font units per em.
    """

    runs: list[list[list[Point]]]
    advances: list[float]
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


def missing_letters(data: bytes, text: str, number: int = 0) -> str:
    """Letters of a text that a font lacks, or has without an outline.

    Parameters
    ----------
    data : bytes
        A font file.
    text : str
    number : int, optional
        Of a font in a collection.

    Raises
    ------
    DecodingError
    """
    _, letters, glyphs, _ = _opened(data, number)
    missing = _missing(letters, text)
    for letter in dict.fromkeys(text):
        # Fonts of coloured pictures have letters, but no outlines.
        if letter in missing or letter.isspace() or ord(letter) not in letters:
            continue
        pen = _Chords(glyphs)
        with _broken_by_any_error():
            glyphs[letters[ord(letter)]].draw(pen)
        if not pen.contours and not unicodedata.category(letter).startswith("C"):
            missing += letter
    return missing


def letters_of(data: bytes, runs: Sequence[tuple[str, bool]], number: int = 0) -> Letters:
    """Shape runs of letters and read their outlines.

    Letters are joined, ordered and kerned, and their accents placed, by HarfBuzz.

    Parameters
    ----------
    data : bytes
        A font file.
    runs : sequence of (str, bool)
        Letters of one script and one direction each, in the order in which they are read, and
        whether they are set from right to left.
    number : int, optional
        Of a font in a collection.

    Raises
    ------
    DecodingError
    """
    face, letters, glyphs, unit = _opened(data, number)
    missing = _missing(letters, "".join(text for text, _ in runs))
    if missing:
        raise DecodingError(Reason.LETTERS, letters=missing[:_MOST_MISSING])
    made: list[list[list[Point]]] = []
    advances: list[float] = []
    with _broken_by_any_error():
        shaper = uharfbuzz.Font(uharfbuzz.Face(data, number))
        pen = _Chords(glyphs)
        for text, rtl in runs:
            at = 0.0
            pen.contours = []
            for glyph, advance, x, y in _shaped(shaper, text, rtl):
                pen.begin(at + x, float(y))
                glyphs[face.getGlyphName(glyph)].draw(pen)
                at += advance
            made.append([contour for contour in pen.contours if len(contour) > 2])
            advances.append(at)
        capital = _Chords(glyphs)
        high = letters.get(ord("H"))
        if high is not None:
            glyphs[high].draw(capital)
    tops = [float(point[1]) for contour in capital.contours for point in contour]
    return Letters(made, advances, max(tops) - min(tops) if tops else 0.0, float(unit))


def _shaped(font: Any, text: str, rtl: bool) -> Iterator[tuple[int, int, int, int]]:
    """Glyphs of a run from left to right: number, advance, and offsets, in font units."""
    buffer = uharfbuzz.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    buffer.direction = "rtl" if rtl else "ltr"
    uharfbuzz.shape(font, buffer)
    for info, place in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
        yield info.codepoint, place.x_advance, place.x_offset, place.y_offset


def _missing(letters: dict[int, str], text: str) -> str:
    """Letters that a font has neither whole nor as a letter and its accents."""
    return "".join(
        letter
        for letter in dict.fromkeys(text)
        if letter not in _INVISIBLE
        and any(
            ord(part) not in letters
            for part in (
                [letter] if ord(letter) in letters else unicodedata.normalize("NFD", letter)
            )
        )
    )


@contextmanager
def _broken_by_any_error() -> Iterator[None]:
    """A broken table makes fontTools raise almost any exception."""
    try:
        yield
    except (DecodingError, MemoryError):
        raise
    except Exception:
        raise DecodingError(Reason.BROKEN) from None


def _opened(data: bytes, number: int = 0) -> tuple[TTFont, dict[int, str], Any, float]:
    """Open a font: itself, its glyphs by letter, its outlines, and its units to an em."""
    if not data.startswith(_BEGINNINGS):
        raise DecodingError(Reason.KIND)
    with _broken_by_any_error():
        face = TTFont(io.BytesIO(data), lazy=True, fontNumber=number)
        letters, glyphs = face.getBestCmap(), face.getGlyphSet()
        unit = face["head"].unitsPerEm
    if letters is None:
        raise DecodingError(Reason.BROKEN)
    return face, letters, glyphs, unit


class _Chords(BasePen):  # type: ignore[misc]  # fontTools' pens are untyped
    """A pen that divides outlines into chords, and refuses too many."""

    def __init__(self, glyphs: object) -> None:
        super().__init__(glyphs)
        self.contours: list[list[Point]] = []
        self._points = 0
        self._parts = 0
        self._shift = (0.0, 0.0)

    def begin(self, x: float, y: float) -> None:
        """Shift the next letter to the right and up, in font units."""
        self._shift = (x, y)

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
        self.contours[-1].append((x + self._shift[0], y + self._shift[1]))

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
