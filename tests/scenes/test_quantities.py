"""Numbers and words as a file gives them, and as a model holds them."""

import math
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic_core import PydanticCustomError

from scenes.quantities import (
    Angle,
    Colour,
    Count,
    Length,
    Ratio,
    Units,
    Words,
    length,
    plain_number,
)

GAP = Length(0, 1000, "the gap")


def sentence_of(error: pytest.ExceptionInfo[PydanticCustomError]) -> str:
    return error.value.message()


def test_an_inch_is_25_4_mm() -> None:
    # The international inch, exact by the agreement of 1 July 1959.
    assert GAP.read(1, Units.IN) == 25.4
    assert GAP.write(25.4, Units.IN) == 1.0
    assert GAP.read(1, Units.MM) == 1.0


@settings(derandomize=True, max_examples=200)
@given(st.floats(0, 39), st.sampled_from(Units))
def test_a_length_comes_back_as_it_was_given(given_length: float, units: Units) -> None:
    there = GAP.read(given_length, units)
    assert GAP.write(there, units) == pytest.approx(given_length, rel=1e-9, abs=1e-12)


@settings(derandomize=True, max_examples=200)
@given(st.floats(5, 85))
def test_an_angle_is_held_in_radians(degrees: float) -> None:
    angle = Angle(5, 85, "the angle")
    there = angle.read(degrees, Units.IN)
    # Python's own conversion.
    assert there == pytest.approx(math.radians(degrees), rel=1e-15)
    assert angle.write(there, Units.IN) == pytest.approx(degrees, rel=1e-9)


@pytest.mark.parametrize("number", [0.1, 25.4, 1 / 3, 36, 0.111, 0.492, 27])
def test_round_figures_come_back_round(number: float) -> None:
    for marker in (GAP, Angle(0, 90, "the angle"), Ratio(0, 100, "the share")):
        for units in Units:
            written = marker.write(marker.read(number, units), units)
            assert written == pytest.approx(number, rel=1e-11)
            assert plain_number(written) == plain_number(number)


@pytest.mark.parametrize(
    ("value", "sentence"),
    [
        ("20", '"20" is not a number; give the gap in mm'),
        ("0,14", '"0,14" has a comma in its number and should be 0.14; give the gap in mm'),
        (",5", '",5" has a comma in its number and should be 0.5; give the gap in mm'),
        ("1,2,3", '"1,2,3" is not a number; give the gap in mm'),
        (True, "true is not a number; give the gap in mm"),
        (math.nan, "nan is not a number; give the gap in mm"),
        (math.inf, "inf is not between 0 and 1000 mm; give the gap"),
        (-math.inf, "-inf is not between 0 and 1000 mm; give the gap"),
        (-3, "-3 mm is not between 0 and 1000 mm; give the gap"),
        (10**400, "a number of more than 20 digits is not between 0 and 1000 mm; give the gap"),
        ([20], "a list is not a number; give the gap in mm"),
        ({}, "a table is not a number; give the gap in mm"),
    ],
)
def test_what_is_no_length_is_refused(value: object, sentence: str) -> None:
    with pytest.raises(PydanticCustomError) as error:
        GAP.read(value, Units.MM)
    assert sentence_of(error) == sentence


def test_bounds_are_told_in_the_units_of_the_file() -> None:
    with pytest.raises(PydanticCustomError) as error:
        Length(0.5, 60, "the outside diameter").read(3, Units.IN)
    assert sentence_of(error) == "3 in is not between 0.02 and 2.36 in; give the outside diameter"


def test_a_bound_itself_is_allowed_in_either_unit() -> None:
    diameter = Length(0.5, 60, "the outside diameter")
    for units in Units:
        for bound in (0.5, 60.0):
            assert diameter.read(bound / units.in_mm, units) == pytest.approx(bound)


def test_minus_zero_is_zero() -> None:
    assert math.copysign(1, GAP.read(-0.0, Units.MM)) == 1
    assert plain_number(-0.0) == "0"


@pytest.mark.parametrize(
    "value", [2.0, "2", True, 25, 0, pytest.param(10**5000, id="5000 digits"), math.nan, None]
)
def test_what_is_no_count_is_refused(value: object) -> None:
    with pytest.raises(PydanticCustomError, match="give the number of starts"):
        Count(1, 24, "the number of starts").read(value, Units.MM)


@pytest.mark.parametrize(
    "value", ["", "   ", "a\x1b[31mb", "a\nb", "\u202eabc", "\ud800", 3, "x" * 201]
)
def test_what_is_no_title_is_refused_on_one_printable_line(value: object) -> None:
    with pytest.raises(PydanticCustomError) as error:
        Words(200, "a title").read(value, Units.MM)
    assert sentence_of(error).isprintable()
    assert len(sentence_of(error)) < 200


def test_notes_may_run_over_lines_and_be_empty() -> None:
    notes = Words(100, "notes", shortest=0, lines=True)
    assert notes.read("a\n\tb", Units.MM) == "a\n\tb"
    assert notes.read("", Units.MM) == ""


@pytest.mark.parametrize(
    "value", ["blue", "#12345", "#1234567", "#12345g", "15181c", 15181, "#15181c\n"]
)
def test_what_is_no_colour_is_refused(value: object) -> None:
    with pytest.raises(PydanticCustomError, match="six hex digits"):
        Colour("the colour").read(value, Units.MM)


def test_a_length_is_written_for_people_without_the_rounding_of_inches() -> None:
    assert length(0.1 * 25.4, Units.IN) == "0.1 in"
    assert length(19.3, Units.MM) == "19.3 mm"


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (0.01, 3, "between 0.0004 and 0.118 in"),
        (25.4, 254, "between 1 and 10 in"),
        (0, 6000, "between 0 and 236 in"),
        (-1000, 1000, "between -39 and 39.3 in"),
    ],
)
def test_converted_bounds_are_short_and_what_they_say_is_accepted(low, high, words) -> None:
    field = Length(low, high, "a length")
    with pytest.raises(PydanticCustomError, match=words):
        field.read(1e6, Units.IN)
    for said in re.findall(r"-?\d[\d.]*", words):
        assert low * (1 - 1e-9) - 1e-9 <= field.read(float(said), Units.IN) <= high * (1 + 1e-9)
    # What was accepted still is: the very bounds.
    assert field.read(low / 25.4, Units.IN) == pytest.approx(low)
    assert field.read(high / 25.4, Units.IN) == pytest.approx(high)
