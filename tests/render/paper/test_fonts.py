"""Text on paper in every script, as a PDF reader draws it, against the outlines it is made of."""

import unicodedata
from io import BytesIO
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from numpy.typing import NDArray
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from render.paper import fonts
from render.paper.fonts import missing_letters_noted, shortened, width_of, wrap_text
from render.paper.page import text
from render.paper.typography import paragraph
from scenes.artwork import typesetting
from scenes.artwork.faces import Face, face_with, shipped_face
from scenes.artwork.lettering import FONT, coverage, text_outline
from tests.scenes.artwork.squares import font_of_squares

SIZE = 24.0
"""Points."""

SCALE = 6
"""Pixels in a point."""

Array = NDArray[np.float64]


@pytest.fixture(autouse=True)
def fresh_fonts() -> None:
    fonts._runs.cache_clear()


def cut_to_ink(pixels: Array) -> Array:
    rows, columns = np.flatnonzero(pixels.any(axis=1)), np.flatnonzero(pixels.any(axis=0))
    return pixels[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]


def drawn(data: BytesIO) -> Array:
    page = pypdfium2.PdfDocument(data.getvalue())[0]
    return cut_to_ink(1 - np.asarray(page.render(scale=SCALE, grayscale=True).to_pil()) / 255)


def printed(words: str, *, flowed: bool = False) -> Array:
    """The ink of a line, drawn on a canvas or set as a paragraph."""
    data = BytesIO()
    canvas = Canvas(data, pagesize=(400 * mm, 40 * mm), invariant=1)
    if flowed:
        part = paragraph(words, SIZE)
        part.wrap(390 * mm, 30 * mm)
        part.drawOn(canvas, 5 * mm, 5 * mm)
    else:
        text(canvas, 5, 15, words, SIZE)
    canvas.save()
    return drawn(data)


@pytest.mark.parametrize("flowed", [False, True])
@pytest.mark.parametrize("words", ["أحمر", "שלום"])
def test_words_from_right_to_left_are_printed_joined_and_in_order(words: str, flowed: bool) -> None:
    """Against outlines that are compared with FreeType and Raqm elsewhere."""
    theirs = printed(words, flowed=flowed)
    capital = text_outline("H", None, "", ("a", "b"))
    assert capital.height == 1
    ours = coverage(text_outline(words, None, "", ("a", "b")), 0.729 * SIZE * SCALE)
    assert theirs.shape == pytest.approx(ours.shape, abs=3)
    high, wide = (min(pair) for pair in zip(theirs.shape, ours.shape, strict=True))
    mine, others = ours[:high, :wide], theirs[:high, :wide]
    best = max(
        np.minimum(mine, np.roll(others, shift, axis=(0, 1))).sum()
        for shift in [(y, x) for y in (-1, 0, 1) for x in (-1, 0, 1)]
    )
    assert best / max(mine.sum(), others.sum()) > 0.9


def test_words_from_right_to_left_follow_one_another_so() -> None:
    first, second, both = map(printed, ("خيط", "أحمر", "خيط أحمر"))
    high = min(len(second), len(both))
    left = both[:high, : second.shape[1]]
    assert np.minimum(left, second[:high]).sum() / np.maximum(left, second[:high]).sum() > 0.9
    assert both.shape[1] > first.shape[1] + second.shape[1]


def test_a_line_within_an_english_sentence_has_its_width() -> None:
    words = "3 \u062e\u064a\u0637 \u0623\u062d\u0645\u0631 A, then q\u0301 12 m"
    ink = printed(words)
    assert ink.shape[1] / SCALE == pytest.approx(width_of(words, SIZE) * mm, abs=3)
    assert width_of(shortened(words, SIZE, 40), SIZE) <= 40
    assert all(width_of(line, SIZE) <= 60 for line in wrap_text(words, SIZE, 60))


def test_two_words_in_outlines_on_one_page_are_two_words() -> None:
    """A PDF library that takes two fonts of one name for one prints the same word twice."""
    both = printed("\u05d0\u05d1\u05d2 a \u05e9\u05dc\u05d5\u05dd")
    swapped = printed("\u05e9\u05dc\u05d5\u05dd a \u05d0\u05d1\u05d2")
    same = printed("\u05d0\u05d1\u05d2 a \u05d0\u05d1\u05d2")
    assert both.shape != same.shape
    assert not np.array_equal(both, swapped)


def test_composed_and_decomposed_accents_print_alike() -> None:
    pair = [printed(unicodedata.normalize(form, "Žižka é")) for form in ("NFC", "NFD")]
    np.testing.assert_array_equal(*pair)


def test_letters_of_a_system_font_are_printed(monkeypatch: pytest.MonkeyPatch) -> None:
    squares = Face(font_of_squares("巻き糸"))
    monkeypatch.setattr(typesetting, "face_with", lambda _: squares)
    noted: list[str] = []
    with missing_letters_noted(Path("a.pdf"), noted.append):
        ink = printed("巻き糸")
    # Three squares, 0.9 em wide and 1 em apart.
    assert ink.shape == pytest.approx((SIZE * SCALE, 2.9 * SIZE * SCALE), abs=2)
    assert ink.mean() == pytest.approx(2.7 / 2.9, abs=0.02)
    assert not noted


def test_letters_that_no_font_has_are_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(typesetting, "face_with", lambda _: None)
    noted: list[str] = []
    with missing_letters_noted(Path("a.pdf"), noted.append):
        printed("Ostsee Žižka Обмотка ℵ ½″")
    assert not noted
    with missing_letters_noted(Path("a.pdf"), noted.append):
        printed("3 巻き A 巻", flowed=True)
    assert len(noted) == 1
    assert noted[0].startswith('a.pdf: no font of this system has "巻" and "き"; an empty box')


def test_the_shipped_face_is_no_face_of_the_system() -> None:
    assert shipped_face(*FONT.split("/", 1)).trusted
    face_with.cache_clear()
