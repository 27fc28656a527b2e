"""Captions are legible, in one line, whatever they are asked to say."""

import io
import unicodedata

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont
from PIL.ImageFont import Layout

from render.output import captions
from render.output.captions import GROUND, caption, caption_height, missing_letters
from scenes.artwork import typesetting


@pytest.mark.parametrize("width", [160, 640, 1280, 3840])
def test_a_strip_fits_its_picture(width: int) -> None:
    strip = caption("gap 14 mm", width)
    assert strip.shape == (caption_height(width), width, 3)
    assert caption_height(width) % 2 == 0


def test_letters_are_light_on_dark_and_smooth() -> None:
    strip = caption("gap 14 mm", 640).astype(int)
    assert strip.max() > 200
    np.testing.assert_array_equal(strip[0, 0], GROUND)
    # Anti-aliased: many shades between ground and ink.
    assert len(np.unique(strip)) > 30
    # WCAG 2.2 asks for a contrast of 4.5 to 1; a rough bound on the relative luminance.
    assert (((strip.max() / 255) ** 2.2 + 0.05) / ((strip.min() / 255) ** 2.2 + 0.05)) > 4.5


def test_different_words_look_different() -> None:
    assert (caption("gap 14 mm", 640) != caption("gap 16 mm", 640)).any()


def test_a_long_caption_is_cut_and_stays_inside() -> None:
    strip = caption("trim: " + " + ".join(["2 Peat Charcoal A"] * 40), 320)
    assert strip.shape == (caption_height(320), 320, 3)
    np.testing.assert_array_equal(strip[:, -8:], np.broadcast_to(GROUND, strip[:, -8:].shape))


def test_letters_that_one_face_lacks_come_from_the_other() -> None:
    # Pillow's own face has no Cyrillic: each letter would be the same empty box.
    assert (caption("ж", 640) != caption("д", 640)).any()


def test_one_face_for_all_captions_of_a_picture() -> None:
    plain = caption("gap 14 mm", 640)
    assert (plain == caption("gap 14 mm", 640, beside=["gap 16 mm"])).all()
    assert (plain != caption("gap 14 mm", 640, beside=["жд"])).any()


@pytest.mark.parametrize("text", ["", " ", "\n", "a\u202eb", "\x00", "中" * 500])
def test_odd_texts_do_no_harm(text: str) -> None:
    assert caption(text, 320).shape == (caption_height(320), 320, 3)


def test_accents_are_drawn_alike_however_they_are_written() -> None:
    pair = [caption(unicodedata.normalize(form, "étude"), 640) for form in ("NFC", "NFD")]
    np.testing.assert_array_equal(*pair)


def test_arabic_is_joined_and_runs_from_right_to_left() -> None:
    """Against FreeType and Raqm; hinting moves its letters by up to a pixel each."""
    text, width = "\u062e\u064a\u0637 \u0623\u062d\u0645\u0631 A", 3840
    ours = caption(text, width)
    size, indent = (round(caption_height(width) * share) for share in (0.55, 0.6))
    image = Image.new("RGB", (width, caption_height(width)), GROUND)
    font = ImageFont.truetype(io.BytesIO(captions._face().data), size, layout_engine=Layout.RAQM)
    place = (indent, caption_height(width) / 2)
    ImageDraw.Draw(image).text(
        place, text, fill=captions.INK, font=font, anchor="lm", direction="ltr"
    )
    inks = []
    for pixels in (ours, np.array(image)):
        ink = pixels.astype(float).sum(axis=2) - sum(GROUND)
        columns = np.flatnonzero(ink.any(axis=0))
        assert columns[0] == pytest.approx(indent, abs=3)
        part = Image.fromarray(ink[:, columns[0] : columns[-1] + 1].astype(np.float32))
        inks.append((np.asarray(part.resize((400, part.height))), columns.size))
    (mine, my_width), (theirs, their_width) = inks
    assert my_width == pytest.approx(their_width, rel=0.03)
    assert np.minimum(mine, theirs).sum() / np.maximum(mine, theirs).sum() > 0.8


def test_letters_that_no_font_has_are_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(typesetting, "face_with", lambda _: None)
    captions._set.cache_clear()
    assert missing_letters(["3 巻き A", "Обмотка", "خيط"]) == "巻き"
    assert (caption("3 巻き A", 640) == caption("3 き巻 A", 640)).all()
    assert (caption("3 巻き A", 640) != caption("3 A", 640)).any()
    captions._set.cache_clear()
