"""Captions are legible, in one line, whatever they are asked to say."""

import numpy as np
import pytest

from render.output.captions import GROUND, caption, caption_height


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
