"""The two faces that paper is set in, and what to do with a letter that the first one lacks.

Source Sans 3 (SIL Open Font License) comes with Turnlight: its figures are all of one width, so
that columns of numbers stand in line, and it has arrows, fractions, Greek and Cyrillic. What it
lacks is set in the wide face that comes with Matplotlib. Only the letters used go into a file.
"""

import re
from collections.abc import Iterator
from functools import cache
from importlib import resources
from itertools import groupby
from xml.sax.saxutils import escape

from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import getFont, registerFont
from reportlab.pdfbase.ttfonts import TTFont

from scenes.problems import printable

__all__ = [
    "cap_height",
    "clean",
    "face",
    "fitted",
    "lines_of",
    "markup",
    "missing",
    "runs",
    "shortened",
    "width_of",
]

_FACES = {
    "Turnlight": ("render.paper", "font_files/SourceSans3-Regular.ttf"),
    "Turnlight-Bold": ("render.paper", "font_files/SourceSans3-SemiBold.ttf"),
    "Turnlight-Wide": ("matplotlib", "mpl-data/fonts/ttf/DejaVuSans.ttf"),
    "Turnlight-Wide-Bold": ("matplotlib", "mpl-data/fonts/ttf/DejaVuSans-Bold.ttf"),
}
"""Each face's name in a PDF: the package that it comes with, and its file there."""

_CAP_HEIGHT = 0.660
"""Of Source Sans 3, as a share of the size: its OS/2 table."""

_LONGEST = 4000
_FIXED = "\u00a0"


@cache
def face(bold: bool = False, *, wide: bool = False) -> str:
    """Name one of the faces to the PDF library, which is told about it the first time."""
    name = "Turnlight" + ("-Wide" if wide else "") + ("-Bold" if bold else "")
    registerFont(_font(name))
    return name


@cache
def _font(name: str) -> TTFont:
    package, path = _FACES[name]
    with resources.as_file(resources.files(package) / path) as file:
        return TTFont(name, str(file))


def cap_height(size: float) -> float:
    """Height of a capital or a figure, mm, set at `size` points."""
    return _CAP_HEIGHT * size / mm


def clean(text: str) -> str:
    """Bring a text onto one line, with nothing that would not print; fixed spaces are kept."""
    parts = re.sub(r"[^\S\u00a0]+", " ", text).strip().split(_FIXED)
    return _FIXED.join(printable(part, _LONGEST) for part in parts)


def missing(text: str) -> str:
    """List the letters of a text that no face here has; they print as empty boxes."""
    return "".join(dict.fromkeys(one for one in clean(text) if not (_has(one) or _wide(one))))


def runs(text: str, bold: bool = False) -> Iterator[tuple[str, str]]:
    """Part a text into runs of one face, each with the face's name."""
    for wide, letters in groupby(clean(text), lambda one: not _has(one)):
        yield face(bold, wide=wide), "".join(letters)


def width_of(text: str, size: float, bold: bool = False) -> float:
    """Width of a text on one line, mm, set at `size` points."""
    return sum(getFont(name).stringWidth(part, size) for name, part in runs(text, bold)) / mm


def markup(text: str, bold: bool = False) -> str:
    """Write a text for a paragraph: its signs escaped, its faces named."""
    return "".join(
        f'<font face="{name}">{escape(part)}</font>' if "Wide" in name or bold else escape(part)
        for name, part in runs(text, bold)
    )


def shortened(text: str, size: float, room: float, bold: bool = False) -> str:
    """Cut a text short with an ellipsis where it is wider than `room` mm."""
    text = clean(text)
    if width_of(text, size, bold) <= room:
        return text
    while text and width_of(f"{text}…", size, bold) > room:
        text = text[:-1]
    return f"{text.rstrip()}…"


def fitted(text: str, size: float, room: float, least: float, bold: bool = False) -> float:
    """Size in points, `size` or less but no less than `least`, at which a text fits `room` mm."""
    wide = width_of(text, size, bold)
    return size if wide <= room else max(least, size * room / wide)


def lines_of(text: str, size: float, room: float, bold: bool = False) -> list[str]:
    """Break a text into lines of `room` mm; a word that is longer is broken anywhere."""
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
            cut = next(n for n in range(len(word) - 1, 0, -1) if _goes(word[:n], size, room, bold))
            yield word[:cut]
            word = word[cut:]
        yield word


def _goes(text: str, size: float, room: float, bold: bool) -> bool:
    return len(text) == 1 or width_of(text, size, bold) <= room


@cache
def _has(letter: str) -> bool:
    return ord(letter) in _font("Turnlight").face.charToGlyph


@cache
def _wide(letter: str) -> bool:
    return ord(letter) in _font("Turnlight-Wide").face.charToGlyph
