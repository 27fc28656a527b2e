"""Files made to hang or to fill a decoder, put together here."""

import io
import itertools
import struct
import zlib

from fontTools.cffLib import SubrsIndex
from fontTools.fontBuilder import FontBuilder
from fontTools.misc.psCharStrings import T2CharString
from fontTools.pens.ttGlyphPen import TTGlyphPen

__all__ = ["chunk", "nested_components", "nested_subroutines", "png_of_chunks", "tall_letters"]

DEEP = 40
"""Levels, each with twice the one below: more than anybody can count."""

_LETTERS = "AH"


def nested_components(deep: int = DEEP, *, base: bool = True) -> bytes:
    """Make a TrueType font whose A refers twice to a glyph that refers twice to one that ...

    Parameters
    ----------
    base : bool
        Whether the innermost is a square; otherwise it is empty.
    """
    names = [f"n{level}" for level in range(deep)]
    glyphs = {".notdef": TTGlyphPen(None).glyph(), "H": _square()}
    glyphs["n0"] = _square() if base else TTGlyphPen(None).glyph()
    for before, name in itertools.pairwise(names):
        pen = TTGlyphPen(glyphs)
        for shift in (0, 1):
            pen.addComponent(before, (1, 0, 0, 1, shift, 0))
        glyphs[name] = pen.glyph()
    builder = FontBuilder(1000, isTTF=True)
    builder.setupGlyphOrder(list(glyphs))
    builder.setupCharacterMap({ord("A"): names[-1], ord("H"): "H"})
    # The sizes of composite glyphs are left out: to find them takes as long as to draw them.
    builder.font.recalcBBoxes = False
    builder.setupGlyf(glyphs, calcGlyphBounds=False)
    for glyph in glyphs.values():
        glyph.xMin = glyph.yMin = glyph.xMax = glyph.yMax = 0
    return _finished(builder, list(glyphs))


def nested_subroutines(deep: int = DEEP) -> bytes:
    """Make an OpenType font whose A calls twice a subroutine that calls twice one that ..."""
    bias = 107  # of fewer than 1240 subroutines (Type 2 Charstring Format, section 4.7)
    calls = [[level - 1 - bias, "callsubr"] * 2 for level in range(1, deep)]
    programs = [[], *calls]
    square = [0, 0, "rmoveto", 700, "hlineto", 700, "vlineto", -700, "hlineto", "endchar"]
    glyphs = {
        ".notdef": T2CharString(program=["endchar"]),
        "H": T2CharString(program=square),
        "A": T2CharString(program=[deep - 1 - bias, "callsubr", *square]),
    }
    builder = FontBuilder(1000, isTTF=False)
    builder.font.recalcBBoxes = False
    builder.setupGlyphOrder(list(glyphs))
    builder.setupCharacterMap({ord(one): one for one in _LETTERS})
    subroutines = SubrsIndex()
    for program in programs:
        subroutines.append(T2CharString(program=[*program, "return"]))
    builder.setupCFF("Own", {}, glyphs, {"Subrs": subroutines})
    return _finished(builder, list(glyphs))


def tall_letters() -> bytes:
    """Make a TrueType font whose A is 16,000 times as high as its H."""
    glyphs = {".notdef": TTGlyphPen(None).glyph(), "H": _square(1), "A": _square(1, 16_000)}
    builder = FontBuilder(1000, isTTF=True)
    builder.setupGlyphOrder(list(glyphs))
    builder.setupCharacterMap({ord(one): one for one in _LETTERS})
    builder.setupGlyf(glyphs)
    return _finished(builder, list(glyphs))


def _square(wide: int = 700, high: int | None = None) -> object:
    high = wide if high is None else high
    pen = TTGlyphPen(None)
    pen.moveTo((0, 0))
    for point in ((0, high), (wide, high), (wide, 0)):
        pen.lineTo(point)
    pen.closePath()
    return pen.glyph()


def _finished(builder: FontBuilder, names: list[str]) -> bytes:
    builder.setupHorizontalMetrics(dict.fromkeys(names, (800, 0)))
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupPost()
    data = io.BytesIO()
    builder.font.save(data, reorderTables=None)
    return data.getvalue()


def chunk(kind: bytes, data: bytes) -> bytes:
    """Make a chunk of a PNG (PNG, section 5)."""
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png_of_chunks(chunks: bytes, side: int = 8) -> bytes:
    """Make a PNG of `side` pixels a side with more chunks before its pixels."""
    head = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
    rows = zlib.compress(bytes(side * (3 * side + 1)))
    whole = chunk(b"IHDR", head) + chunks + chunk(b"IDAT", rows) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + whole
