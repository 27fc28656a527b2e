"""Readings as people type them, and as spreadsheets copy them."""

import pytest

from scenes.problems import DesignProblem
from scenes.quantities import Units
from scenes.starting.readings import read_readings

PAIRS = [(290, 15.35), (350, 15.05), (420, 14.6)]


@pytest.mark.parametrize(
    "text",
    [
        "290 15.35\n350 15.05\n420 14.6",
        "290\t15.35\n350\t15.05\n420\t14.6\n",
        "290\t15,35\r\n350\t15,05\r\n420\t14,6\r\n",
        "290;15,35\n350;15,05\n420;14,6",
        "290,15.35\n350,15.05\n420,14.6",
        "290, 15.35,\n350, 15.05,\n420, 14.6,",
        "290,0 15,35\n350,0 15,05\n\n420,0 14,6",
        "290 mm  15.35 mm\n350 mm  15.05 mm\n420mm  14.6mm",
        "from the butt (mm)\tdiameter (mm)\n290\t15.35\n350\t15.05\n420\t14.6",
        "420 14.6\n350 15.05\n290 15.35",
        "15.35 290\n15.05 350\n14.6 420",
    ],
)
def test_ways_to_write_the_same_readings(text: str) -> None:
    assert read_readings(text, Units.MM) == PAIRS


@pytest.mark.parametrize(
    "text",
    [
        "11 1/2\t0.604\n16 1/2\t0.575",
        "11-1/2 0.604\n16-1/2 0.575",
        '11.5" 0.604"\n16.5" 0.575"',
        "distance (in);diameter (in)\n11,5;0,604\n16,5;0,575",
        "inches from the butt\n11.5 .604\n16.5 .575",
    ],
)
def test_readings_in_inches(text: str) -> None:
    assert read_readings(text, Units.IN) == [(11.5, 0.604), (16.5, 0.575)]


def test_a_heading_or_a_number_may_give_another_unit() -> None:
    # The international inch is 25.4 mm, exact since 1959.
    wanted = [(254, 12.7), (508, 11.43)]
    assert read_readings("at (in)\tdia (in)\n10\t0.5\n20\t0.45", Units.MM) == wanted
    assert read_readings("10 in 0.5 in\n20 in 0.45 in", Units.MM) == wanted


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("290 15.35\n350", '"350" in line 2 holds one number; give two'),
        ("1\t290\t15.35\n2\t350\t15.05", "in line 1 holds 3 numbers; give two"),
        ("290;fifteen\n350;15", '"fifteen" in line 1 is not a number'),
        ("110,18,3\n386,16,9", '"110,18,3" in line 1 has commas between its numbers and within'),
        ("290 15.35", "1 reading is not between 2 and 200"),
        ("", "0 readings are not between 2 and 200"),
        ("1 2\n" * 300, "300 readings are not between"),
        ("1 2\n" * 9000, "36000 characters are more than"),
    ],
)
def test_what_cannot_be_read_gets_one_sentence(text: str, said: str) -> None:
    with pytest.raises(DesignProblem, match=said) as caught:
        read_readings(text, Units.MM)
    assert caught.value.field == "readings"
    assert "\n" not in str(caught.value)
