"""Outlines of letters against FreeType, the reference rasteriser, through Pillow."""

import contextlib
import io
import unicodedata
from importlib import resources

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont

from scenes.artwork import typesetting
from scenes.artwork.lettering import FONT, coverage, text_outline
from scenes.problems import DesignProblem

FIELDS = ("decal.text", "decal.font")
FILE = resources.files("matplotlib") / FONT.partition("/")[2]


def outline(text, font=None):
    return text_outline(text, font, "own.ttf", FIELDS)


def freetype(text, size):
    """The ink of a text as FreeType draws it, with pairs kerned by Raqm, cut to its ink."""
    data = io.BytesIO(FILE.read_bytes())
    font = ImageFont.truetype(data, size, layout_engine=ImageFont.Layout.RAQM)
    left, top, right, bottom = font.getbbox(text)
    image = Image.new("L", (right - left + 40, bottom - top + 40))
    ImageDraw.Draw(image).text((20 - left, 20 - top), text, fill=255, font=font)
    pixels = np.asarray(image) / 255
    rows, columns = np.flatnonzero(pixels.any(axis=1)), np.flatnonzero(pixels.any(axis=0))
    return pixels[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]


@pytest.mark.parametrize(
    "text",
    [
        "OSSERY",
        "Åg&8@",
        "AVATAR To",
        "ijl.·—7",
        "Śpłaß",
        "q\u0301e\u0323\u0302",  # accents that no letter holds
        "خيط أحمر",  # joined, from right to left
        "سِلْك ABC 12",  # with vowel marks, and letters and digits from left to right
        "שָׁלוֹם (a)",
    ],
)
def test_outlines_are_those_that_freetype_draws(text):
    size = 300
    theirs = freetype(text, size)
    high = freetype("H", 10 * size).shape[0] / 10
    ours = coverage(outline(text), high)
    # FreeType moves outlines to whole pixels for hinting; edges may differ by a pixel.
    assert ours.shape == pytest.approx(theirs.shape, abs=5)
    scaled = Image.fromarray((255 * ours).astype(np.uint8)).resize(theirs.shape[::-1])
    mine = np.asarray(scaled) / 255
    overlap = np.minimum(mine, theirs).sum() / np.maximum(mine, theirs).sum()
    assert overlap > 0.95
    assert mine.sum() == pytest.approx(theirs.sum(), rel=0.03)


def test_coverage_is_the_area_of_the_outline():
    """A letter without overlaps: the shoelace formula over its contours."""
    made = outline("S")
    x, y = made.contours[0].T
    area = abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2
    for per_height in (7, 31.3, 200):
        assert coverage(made, per_height).sum() / per_height**2 == pytest.approx(area, rel=0.002)


def test_capitals_are_as_high_as_one():
    assert outline("H").height == pytest.approx(1.0)
    assert outline("HI").height == pytest.approx(1.0)
    assert outline("Hg").height > 1.2


def test_the_hole_of_an_o_is_open_and_crossed_letters_are_not():
    drawn = coverage(outline("O"), 60)
    assert drawn[30, drawn.shape[1] // 2] == 0
    assert drawn.max() == 1


def test_letters_that_a_font_has_not_are_named(monkeypatch):
    monkeypatch.setattr(typesetting, "face_with", lambda _: None)
    with pytest.raises(DesignProblem, match=r'^decal.text: neither DejaVu Sans nor .* "\S"; give'):
        outline("O\u4e00")
    with pytest.raises(DesignProblem, match=r'^decal.text: "own.ttf" has no "\S"; give other'):
        outline("O\u4e00", FILE.read_bytes())
    with pytest.raises(DesignProblem, match="has nothing to print"):
        outline("   ")


@pytest.mark.parametrize(
    "data", [b"", b"no font", FILE.read_bytes()[:3000], FILE.read_bytes()[:200_000], b"\0" * 5000]
)
def test_a_broken_font_is_one_sentence(data):
    with pytest.raises(DesignProblem, match=r'^decal.font: "own.ttf" is no font') as caught:
        outline("OSSERY", data)
    assert "\n" not in str(caught.value)


def test_any_damage_to_a_font_is_refused_or_drawn(rng):
    whole = np.frombuffer(FILE.read_bytes(), np.uint8)
    for _ in range(25):
        data = whole.copy()
        at = rng.integers(0, data.size, 400)
        data[at] = rng.integers(0, 256, at.size)
        data[rng.integers(12, 300, 3)] = rng.integers(0, 256, 3)
        # Anything but a refusal in words fails the test.
        with contextlib.suppress(DesignProblem):
            assert np.isfinite(outline("Ossery 7", data.tobytes()).width)


def test_composed_and_decomposed_accents_are_one_picture():
    for text in ("étude ø Å", "Žižka"):
        pair = [outline(unicodedata.normalize(form, text)) for form in ("NFC", "NFD")]
        np.testing.assert_array_equal(*(coverage(one, 40) for one in pair))


def test_arabic_letters_take_the_forms_of_the_unicode_standard():
    """Initial, medial and final beh, block Arabic Presentation Forms-B of the Unicode standard."""
    joined, forms = outline("\u0628\u0628\u0628"), outline("\ufe91\ufe92\ufe90")
    np.testing.assert_allclose(coverage(joined, 40), coverage(forms, 40), atol=1e-9)
    assert joined.width < outline("\ufe8f\ufe8f\ufe8f").width  # isolated
