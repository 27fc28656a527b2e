"""Fonts on paper, with a fallback for letters that the first font lacks.

Source Sans 3 (SIL Open Font License) comes with Turnlight. Its digits have equal widths, so that
columns of numbers align, and it has arrows, fractions, Greek and Cyrillic. Letters that it lacks
are set in the wide font that comes with Matplotlib, and those that it lacks too in a font of the
system. Only the letters that are used are embedded.

Text whose letters join, carry accents or run from right to left is set by
`scenes.artwork.typesetting`, and so is text in a font of the system: its outlines become a small
font of its own (`render.paper.outline_fonts`), so that a font of unknown origin is read by a child
process alone.
"""

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from importlib import resources
from itertools import groupby
from pathlib import Path
from xml.sax.saxutils import escape

from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import getFont, registerFont
from reportlab.pdfbase.ttfonts import TTFont

from render.paper.outline_fonts import outline_font
from scenes.artwork.faces import Face, shipped_face
from scenes.artwork.text_runs import TextRun, clusters_of, is_plain, normalised
from scenes.artwork.typesetting import SetRun, missing_sentence, outlines_of, runs_by_face
from scenes.decoding.errors import DecodingError
from scenes.design.field_words import in_words
from scenes.problems import printable

__all__ = [
    "cap_height",
    "clean",
    "fitting_size",
    "font_name",
    "markup",
    "missing_letters_noted",
    "runs",
    "shortened",
    "width_of",
    "wrap_text",
]

_FONTS = {
    "Turnlight": ("render.paper", "font_files/SourceSans3-Regular.ttf"),
    "Turnlight-Bold": ("render.paper", "font_files/SourceSans3-SemiBold.ttf"),
    "Turnlight-Wide": ("matplotlib", "mpl-data/fonts/ttf/DejaVuSans.ttf"),
    "Turnlight-Wide-Bold": ("matplotlib", "mpl-data/fonts/ttf/DejaVuSans-Bold.ttf"),
}
"""Package and file of each font, by its name in a PDF."""

_CAP_HEIGHT = 0.660
"""Cap height of Source Sans 3, as a share of the type size: from its OS/2 table."""

_UNSPACED = frozenset({"Bopo", "Hang", "Hani", "Hira", "Kana", "Yiii"})
"""Scripts in which a line may break after any letter."""

_MISSING: ContextVar[list[str] | None] = ContextVar("missing", default=None)
"""Letters that were printed as empty boxes; None where nobody asks."""

_MAX_LENGTH = 4000
_NO_BREAK_SPACE = "\u00a0"


@cache
def font_name(bold: bool = False, *, wide: bool = False) -> str:
    """Name of a font in the PDF library; the font is registered at the first call.

    Parameters
    ----------
    bold : bool, optional
    wide : bool, optional
        Whether it is the font for letters that the main font lacks.
    """
    name = "Turnlight" + ("-Wide" if wide else "") + ("-Bold" if bold else "")
    registerFont(_font(name))
    return name


@lru_cache(maxsize=4)
def _font(name: str) -> TTFont:
    package, path = _FONTS[name]
    with resources.as_file(resources.files(package) / path) as file:
        return TTFont(name, str(file))


def cap_height(size: float) -> float:
    """Height of a capital letter or a digit, mm.

    Parameters
    ----------
    size : float
        Type size, points.
    """
    return _CAP_HEIGHT * size / mm


def clean(text: str) -> str:
    """Make a text printable on one line, with fields in words; no-break spaces are kept.

    Parameters
    ----------
    text : str
    """
    parts = re.sub(r"[^\S\u00a0]+", " ", in_words(text)).strip().split(_NO_BREAK_SPACE)
    return _NO_BREAK_SPACE.join(printable(part, _MAX_LENGTH) for part in parts)


@contextmanager
def missing_letters_noted(output: Path, note: Callable[[str], None]) -> Iterator[None]:
    """Note the letters that no font has, after a document is printed.

    Parameters
    ----------
    output : Path
        The document.
    note : callable
        Takes the sentence.
    """
    missing: list[str] = []
    before = _MISSING.set(missing)
    try:
        yield
    finally:
        _MISSING.reset(before)
    if missing:
        note(missing_sentence(str(output), "".join(missing)))


def runs(text: str, bold: bool = False) -> Iterator[tuple[str, str]]:
    """Split a text into runs of one font: name of the font, and text, from left to right.

    Parameters
    ----------
    text : str
    bold : bool, optional
    """
    line = _runs(clean(text), bold)
    missing = _MISSING.get()
    if missing is not None:
        missing.extend(letter for letter in line.missing if letter not in missing)
    for run in line.runs:
        yield outline_font(run.glyphs) if run.glyphs else (run.font, run.text)


def width_of(text: str, size: float, bold: bool = False) -> float:
    """Width of a text on one line, mm.

    Parameters
    ----------
    text : str
    size : float
        Type size, points.
    bold : bool, optional
    """
    return sum(_width(run, size) for run in _runs(clean(text), bold).runs) / mm


def markup(text: str, bold: bool = False) -> str:
    """Paragraph markup of a text: special characters escaped, fonts named.

    Parameters
    ----------
    text : str
    bold : bool, optional
    """
    return "".join(
        escape(part) if name == font_name() else f'<font face="{name}">{escape(part)}</font>'
        for name, part in runs(text, bold)
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Run:
    """Letters in one font of the PDF, or outlines of words or letters."""

    font: str = ""
    text: str = ""
    glyphs: tuple[SetRun, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class _Line:
    runs: tuple[_Run, ...]
    missing: str = ""


def _width(run: _Run, size: float) -> float:
    """Width of a run, points."""
    if run.glyphs:
        return size * sum(glyph.advance for glyph in run.glyphs)
    return float(getFont(run.font).stringWidth(run.text, size))


@lru_cache(maxsize=4096)
def _runs(text: str, bold: bool) -> _Line:
    text = normalised(text)
    if is_plain(text) and all(_in_main_font(one) or _in_wide_font(one) for one in text):
        groups = groupby(text, lambda letter: not _in_main_font(letter))
        return _Line(
            tuple(_Run(font_name(bold, wide=wide), "".join(letters)) for wide, letters in groups)
        )
    faces = {
        shipped_face(*_FONTS[name]): name for name in (font_name(bold), font_name(bold, wide=True))
    }
    made: list[_Run] = []
    missing = ""
    for part in runs_by_face(text, list(faces), "L"):
        for simple, run in _pieces_of(part.run):
            name = None if part.face is None else faces.get(part.face)
            glyphs: tuple[SetRun, ...] = ()
            if part.face is not None and not (simple and name):
                glyphs = _outlines(part.face, run)
            if glyphs:
                made.append(_Run(glyphs=glyphs))
                continue
            if not (simple and name):
                missing += run.text
            made.append(_Run(name or font_name(bold), run.text))
    return _Line(tuple(made), "".join(dict.fromkeys(missing)))


def _pieces_of(run: TextRun) -> Iterator[tuple[bool, TextRun]]:
    """Parts of a run, and whether each is one glyph a letter from left to right."""
    if run.rtl:
        yield False, run
        return
    for simple, clusters in groupby(clusters_of(run.text), is_plain):
        yield simple, replace(run, text="".join(clusters))


def _outlines(face: Face, run: TextRun) -> tuple[SetRun, ...]:
    """Outlines of the words of a run, or of its letters, from left to right; none if unreadable."""
    if run.script in _UNSPACED:
        parts = list(clusters_of(run.text))
    else:
        parts = re.findall(r"[\s\u00a0]+|[^\s\u00a0]+", run.text)
    try:
        made = outlines_of(face, [replace(run, text=part) for part in parts])
    except DecodingError:
        return ()
    return tuple(reversed(made) if run.rtl else made)


def shortened(text: str, size: float, room: float, bold: bool = False) -> str:
    """Shorten a text with an ellipsis if it is wider than `room`.

    Parameters
    ----------
    text : str
    size : float
        Type size, points.
    room : float
        Available width, mm.
    bold : bool, optional
    """
    text = clean(text)
    if width_of(text, size, bold) <= room:
        return text
    while text and width_of(f"{text}…", size, bold) > room:
        text = text[:-1]
    return f"{text.rstrip()}…"


def fitting_size(text: str, size: float, room: float, least: float, bold: bool = False) -> float:
    """Largest type size from `least` to `size` at which a text fits `room`, points.

    Parameters
    ----------
    text : str
    size : float
        Largest type size, points.
    room : float
        Available width, mm.
    least : float
        Smallest type size, points.
    bold : bool, optional
    """
    wide = width_of(text, size, bold)
    return size if wide <= room else max(least, size * room / wide)


def wrap_text(text: str, size: float, room: float, bold: bool = False) -> list[str]:
    """Break a text into lines; a word that is wider than a line is broken anywhere.

    Parameters
    ----------
    text : str
    size : float
        Type size, points.
    room : float
        Width of a line, mm.
    bold : bool, optional
    """
    lines: list[str] = []
    line = ""
    for word in _pieces(clean(text), size, room, bold):
        longer = f"{line} {word}" if line else word
        if line and width_of(longer, size, bold) > room:
            lines.append(line)
            line = word
        else:
            line = longer
    return [*lines, line] if line else lines


def _pieces(text: str, size: float, room: float, bold: bool) -> Iterator[str]:
    for word in text.split(" "):
        while width_of(word, size, bold) > room and len(word) > 1:
            cut = next(n for n in range(len(word) - 1, 0, -1) if _fits(word[:n], size, room, bold))
            yield word[:cut]
            word = word[cut:]
        yield word


def _fits(text: str, size: float, room: float, bold: bool) -> bool:
    return len(text) == 1 or width_of(text, size, bold) <= room


@lru_cache(maxsize=4096)
def _in_main_font(letter: str) -> bool:
    return ord(letter) in _font("Turnlight").face.charToGlyph


@lru_cache(maxsize=4096)
def _in_wide_font(letter: str) -> bool:
    return ord(letter) in _font("Turnlight-Wide").face.charToGlyph
