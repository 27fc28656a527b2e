"""One value as it is typed: on the command line, in a card of the page, in a sweep or a wish."""

import datetime

import pytest

from materials.shelf import SHELF_TEXT
from materials.toml_text import (
    TextProblem,
    decimal_comma_in,
    parse_toml,
    parse_value,
    parse_value_or_words,
)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("25.4", 25.4),
        (" 3 # turns", 3),
        ('"low sun"', "low sun"),
        ("[1, [2]]", [1, [2]]),
        ("{ at = 0 }", {"at": 0}),
        ("2026-01-02", datetime.date(2026, 1, 2)),
    ],
)
def test_a_value_is_read_as_in_a_file(text: str, value: object) -> None:
    assert parse_value(text) == value
    assert parse_value_or_words(text) == value


@pytest.mark.parametrize(
    "text",
    [
        "Gorse Gold A",
        "",
        "1\nother = 2",
        "1\n[other]",
        "1" * 5000,
        "[" * 5000,
        "{ " + "a." * 20 + "a = 1 }",
    ],
    ids=["words", "nothing", "a field behind it", "a table behind it", "digits", "deep", "parts"],
)
def test_what_is_no_single_value_is_refused_or_left_as_it_is(text: str) -> None:
    with pytest.raises(TextProblem, match="is not a value as in a design file"):
        parse_value(text)
    assert parse_value_or_words(text) == text


@pytest.mark.parametrize(
    ("line", "right"),
    [
        ("coat_thickness = 0,14", "coat_thickness = 0.14"),
        ("coat_thickness=-0,14 # thin", "coat_thickness = -0.14"),
        ("stations = [ { at = 180, diameter = 18,60 } ]", "diameter = 18.60"),
    ],
)
def test_a_decimal_comma_is_told_as_such(line: str, right: str) -> None:
    with pytest.raises(TextProblem) as caught:
        parse_toml(f"title = 'x'\n{line}\nafter = 1\n", SHELF_TEXT)
    told = str(caught.value)
    assert told.startswith("line 2: ")
    assert told.endswith(f"give a decimal point, {right}.")
    # What is advised is accepted.
    number = right.partition(" = ")[2]
    mended = line.replace(number.replace(".", ","), number)
    assert parse_toml(f"title = 'x'\n{mended}\nafter = 1\n", SHELF_TEXT)


@pytest.mark.parametrize("line", ["list = [1,2", "word = 1,x", "a = 1,2.5.6"])
def test_other_faults_with_commas_stay_what_they_are(line: str) -> None:
    with pytest.raises(TextProblem, match="not TOML"):
        parse_toml(f"{line}\n", SHELF_TEXT)


def test_a_decimal_comma_in_a_typed_value_is_told_as_such() -> None:
    with pytest.raises(TextProblem, match=r"give a decimal point, diameter = 18\.60\.$"):
        parse_value("[{ at = 180, diameter = 18,60 }]")
    assert parse_value("[18,60]") == [18, 60]


def test_a_long_word_is_read_once() -> None:
    # Looked at from each of its letters, it takes minutes.
    assert decimal_comma_in("a" * 300_000) == ""
