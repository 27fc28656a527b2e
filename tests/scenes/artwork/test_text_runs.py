"""Order of mixed text, against the bidirectional algorithm of Rust's unicode-bidi."""

import random
import unicodedata

import pytest
from bidi import get_display

from scenes.artwork.text_runs import clusters_of, is_plain, normalised, ordered, runs_of

LETTERS = "abc XY 12,-" + "\u0628\u062e\u0644" + "\u05d0\u05dc\u05dd" + "\u0661\u0662" + "жд"


@pytest.mark.parametrize("direction", ["L", "R"])
def test_runs_stand_in_the_order_of_the_bidirectional_algorithm(direction: str) -> None:
    draw = random.Random(3)
    for _ in range(300):
        text = "".join(draw.choices(LETTERS, k=draw.randint(1, 14))).strip()
        runs = ordered(runs_of(text, direction))
        seen = "".join(run.text[::-1] if run.rtl else run.text for run in runs)
        assert seen == get_display(text, base_dir=direction)


def test_a_line_has_the_direction_of_its_first_letter() -> None:
    assert [run.text for run in ordered(runs_of("ab \u05d0"))] == ["ab ", "\u05d0"]
    assert [run.text for run in ordered(runs_of("\u05d0 ab"))] == ["ab", "\u05d0 "]
    assert runs_of("") == []


def test_joiners_stay_with_their_letters_and_controls_go() -> None:
    text = "\u0646\u0645\u06cc\u200c\u062e\u0648"
    assert [run.text for run in runs_of(normalised(text))] == [text]
    assert normalised("a\u202eb\u2066c\x07") == "abc"


def test_accents_are_composed_and_stay_with_their_letters() -> None:
    assert normalised(unicodedata.normalize("NFD", "Žižka")) == "Žižka"
    assert list(clusters_of("q\u0301uo")) == ["q\u0301", "u", "o"]


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("3 Peat Charcoal A, 12 µm – ½″", True),
        ("Обмотка Žižka", True),
        ("巻き", False),
        ("خيط", False),
        ("q\u0301", False),
        ("ไหม", False),
    ],
)
def test_which_text_is_one_glyph_a_letter(text: str, plain: bool) -> None:
    assert is_plain(text) is plain
