"""Fonts on paper, with a fallback for letters that the first font lacks.

Source Sans 3 (SIL Open Font License) comes with Turnlight. Its digits have equal widths, so that
columns of numbers align, and it has arrows, fractions, Greek and Cyrillic. Letters that it lacks
are set in the wide font that comes with Matplotlib. Only the letters that are used are embedded.
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
    "fitting_size",
    "font_name",
    "markup",
    "runs",
    "shortened",
    "unprintable_letters",
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


@cache
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
    """Make a text printable on one line; no-break spaces are kept.

    Parameters
    ----------
    text : str
    """
    parts = re.sub(r"[^\S\u00a0]+", " ", text).strip().split(_NO_BREAK_SPACE)
    return _NO_BREAK_SPACE.join(printable(part, _MAX_LENGTH) for part in parts)


def unprintable_letters(text: str) -> str:
    """Letters of a text that no font has; they print as empty boxes.

    Parameters
    ----------
    text : str
    """
    return "".join(
        dict.fromkeys(
            letter for letter in clean(text) if not (_in_main_font(letter) or _in_wide_font(letter))
        )
    )


def runs(text: str, bold: bool = False) -> Iterator[tuple[str, str]]:
    """Split a text into runs of one font: name of the font, and text.

    Parameters
    ----------
    text : str
    bold : bool, optional
    """
    for wide, letters in groupby(clean(text), lambda letter: not _in_main_font(letter)):
        yield font_name(bold, wide=wide), "".join(letters)


def width_of(text: str, size: float, bold: bool = False) -> float:
    """Width of a text on one line, mm.

    Parameters
    ----------
    text : str
    size : float
        Type size, points.
    bold : bool, optional
    """
    return sum(getFont(name).stringWidth(part, size) for name, part in runs(text, bold)) / mm


def markup(text: str, bold: bool = False) -> str:
    """Paragraph markup of a text: special characters escaped, fonts named.

    Parameters
    ----------
    text : str
    bold : bool, optional
    """
    return "".join(
        f'<font face="{name}">{escape(part)}</font>' if "Wide" in name or bold else escape(part)
        for name, part in runs(text, bold)
    )


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


@cache
def _in_main_font(letter: str) -> bool:
    return ord(letter) in _font("Turnlight").face.charToGlyph


@cache
def _in_wide_font(letter: str) -> bool:
    return ord(letter) in _font("Turnlight-Wide").face.charToGlyph
