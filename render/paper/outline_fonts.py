"""Small fonts made of outlines, for text that is shaped before it comes to the PDF library."""

import hashlib
from collections.abc import Sequence
from functools import lru_cache
from io import BytesIO

import numpy as np
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen
from reportlab.pdfbase.pdfmetrics import registerFont
from reportlab.pdfbase.ttfonts import TTFont

from scenes.artwork.typesetting import SetRun

__all__ = ["outline_font"]

_UNIT = 4096
"""Units per em; at 12 points a unit is 1 µm."""

_FIRST = 0xE000
"""Code of the first glyph, in the private use area."""

_ASCENT, _DESCENT = 0.95, -0.25
"""Heights above and below the base line that the font declares, em."""


@lru_cache(maxsize=1024)
def outline_font(glyphs: tuple[SetRun, ...]) -> tuple[str, str]:
    """Make a font of some outlines, one glyph each.

    Parameters
    ----------
    glyphs : tuple of SetRun

    Returns
    -------
    name : str
        Of the font in the PDF library, where it is registered. Equal outlines have equal names.
    text : str
        One letter for each glyph, in their order.
    """
    # A PDF embeds one font of each name.
    name = f"Outlines-{_digest(glyphs)}"
    registerFont(TTFont(name, BytesIO(_font_file(glyphs, name))))
    return name, "".join(chr(_FIRST + index) for index in range(len(glyphs)))


def _digest(glyphs: Sequence[SetRun]) -> str:
    digest = hashlib.sha256()
    for glyph in glyphs:
        digest.update(f"{glyph.advance!r} {[len(contour) for contour in glyph.contours]}".encode())
        for contour in glyph.contours:
            digest.update(contour.tobytes())
    return digest.hexdigest()[:16]


def _font_file(glyphs: Sequence[SetRun], name: str) -> bytes:
    names = [f"glyph{index}" for index in range(len(glyphs))]
    builder = FontBuilder(_UNIT, isTTF=True)
    builder.setupGlyphOrder([".notdef", *names])
    builder.setupCharacterMap({_FIRST + index: glyph for index, glyph in enumerate(names)})
    drawn = {".notdef": TTGlyphPen(None).glyph()}
    for glyph, run in zip(names, glyphs, strict=True):
        pen = TTGlyphPen(None)
        for contour in run.contours:
            first, *rest = np.rint(contour * _UNIT).astype(int).tolist()
            pen.moveTo(tuple(first))
            for point in rest:
                pen.lineTo(tuple(point))
            pen.closePath()
        drawn[glyph] = pen.glyph()
    builder.setupGlyf(drawn)
    widths = {
        glyph: (max(round(run.advance * _UNIT), 0), 0)
        for glyph, run in zip(names, glyphs, strict=True)
    }
    builder.setupHorizontalMetrics({".notdef": (0, 0), **widths})
    ascent, descent = round(_ASCENT * _UNIT), round(_DESCENT * _UNIT)
    builder.setupHorizontalHeader(ascent=ascent, descent=descent)
    builder.setupNameTable({"familyName": name, "styleName": "Regular", "psName": name})
    builder.setupOS2(sTypoAscender=ascent, usWinAscent=ascent, usWinDescent=-descent)
    builder.setupPost()
    # A fixed date, so that equal outlines give equal bytes.
    builder.updateHead(created=0, modified=0)
    builder.font.recalcTimestamp = False
    data = BytesIO()
    builder.save(data)
    return data.getvalue()
