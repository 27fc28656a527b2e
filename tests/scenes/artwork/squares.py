"""A font whose letters are squares an em high, for scripts of which no font may be at hand."""

import io

from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen

__all__ = ["font_of_squares"]


def font_of_squares(letters: str, *, empty: bool = False) -> bytes:
    """Make a font that has only some letters; `empty` leaves out their outlines."""
    names = {letter: f"uni{ord(letter):04X}" for letter in letters}
    drawn = {".notdef": TTGlyphPen(None).glyph()}
    for name in names.values():
        pen = TTGlyphPen(None)
        if not empty:
            pen.moveTo((0, 0))
            for corner in ((0, 1000), (900, 1000), (900, 0)):
                pen.lineTo(corner)
            pen.closePath()
        drawn[name] = pen.glyph()
    builder = FontBuilder(1000, isTTF=True)
    builder.setupGlyphOrder(list(drawn))
    builder.setupCharacterMap({ord(letter): name for letter, name in names.items()})
    builder.setupGlyf(drawn)
    builder.setupHorizontalMetrics(dict.fromkeys(drawn, (1000, 0)))
    builder.setupHorizontalHeader(ascent=1000, descent=-200)
    builder.setupNameTable({"familyName": "Squares", "styleName": "Regular"})
    builder.setupOS2(usWinAscent=1000, usWinDescent=200)
    builder.setupPost()
    data = io.BytesIO()
    builder.save(data)
    return data.getvalue()
