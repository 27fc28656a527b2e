"""Figures in words: units, rounding by their own errors, sentences."""

import math

import pytest

from scenes.figures.figures import Amount, Column, Figure, Kind, sentence
from scenes.figures.formatter import FigureFormatter
from scenes.quantities import Units

MM, IN = FigureFormatter(Units.MM), FigureFormatter(Units.IN, "crowns")


def figure(value: float, kind: Kind, off: float | None) -> Figure:
    return Figure("k", "k", value, kind, sentence("so"), off)


@pytest.mark.parametrize(
    ("value", "kind", "mm", "inches"),
    [
        # 1 in = 25.4 mm, 1 ft = 304.8 mm, 1 oz = 28.349523125 g, all exact.
        (25.4, Kind.LENGTH, "25.4 mm", "1 in"),
        (19.304, Kind.CALIPER, "19.3 mm", "0.76 in"),
        (0.17, Kind.FINE_LENGTH, "0.17 mm", "0.0067 in"),
        (30_480, Kind.THREAD_LENGTH, "30.5 m", "100 ft"),
        (28.349523125 * 25.4, Kind.MOMENT, "0.72 g·m", "1 oz·in"),
        (math.pi / 4, Kind.ANGLE, "45 degrees", "45 degrees"),
        (2310, Kind.VOLUME, "2.31 ml", "2.31 ml"),
        (0.005, Kind.SHARE, "0.5 %", "0.5 %"),
        (1500, Kind.TIME, "25 min", "25 min"),
        (86_400, Kind.TIME, "24 h", "24 h"),
        # 0.1 m of 28 tex, g per km [ISO1144], is 0.0028 g: not nothing, nor four figures.
        (0.1 * 28 / 1000, Kind.MASS, "0.003 g", "0.003 g"),
        (0.8 * 28 / 1000, Kind.MASS, "0.02 g", "0.02 g"),
        (12.346, Kind.MASS, "12.35 g", "12.35 g"),
        (0.0, Kind.MASS, "0 g", "0 g"),
        (3.5, Kind.MONEY, "3.5 in your money", "3.5 crowns"),
        (9, Kind.COUNT, "9", "9"),
        (-0.001, Kind.LENGTH, "0 mm", "0 in"),
    ],
)
def test_amounts(value: float, kind: Kind, mm: str, inches: str) -> None:
    assert (MM.amount(value, kind), IN.amount(value, kind)) == (mm, inches)


@pytest.mark.parametrize(
    ("value", "off", "told"),
    [
        (25.398, 0.3, "25.4 ± 0.3 mm"),
        (25.398, 0.14, "25.4 ± 0.1 mm"),
        (253.38, 14.2, "253 ± 14 mm"),
        (812.0, 40.0, "810 ± 40 mm"),
        (25.4, 0.0001, "25.4 ± 0.1 mm"),
        (25.4, 0.0, "25.4 mm"),
        (25.4, None, "25.4 mm"),
        (0.0, 0.5, "0.0 ± 0.5 mm"),
    ],
)
def test_a_figure_is_as_long_as_its_error_allows(
    value: float, off: float | None, told: str
) -> None:
    assert MM.figure(figure(value, Kind.LENGTH, off)) == told


def test_sentences_and_cells() -> None:
    loaded = sentence(
        "{what}: load {load}.", what="Silver", load=Amount(61_000, Kind.THREAD_LENGTH)
    )
    assert MM.sentence(loaded) == "Silver: load 61 m."
    gap = Column("gap", "gap", Kind.LENGTH)
    assert (MM.heading(gap), IN.heading(gap)) == ("gap, mm", "gap, in")
    assert [MM.cell(gap, cell) for cell in (25.0, None, "x")] == ["25.0", "", "x"]
    assert MM.heading(Column("note", "note")) == "note"


def test_lengths_as_a_caliper_and_a_rule_read_them() -> None:
    # 25.4 mm are an inch; a caliper shows 0.01 mm or 0.001 in, a rule half a mm or 1/64 in.
    assert (MM.length(12.345), IN.length(25.4)) == ("12.35 mm", "1 in")
    assert (MM.span(20, 140), IN.span(25.4, 50.8)) == ("20 to 140 mm", "1 to 2 in")
    assert (MM.gap(25.4), IN.gap(-2.54)) == ("a gap of 25.4 mm", "an overlap of 0.1 in")
    assert MM.number(140, Kind.PLACE, zeros=True) == "140.0"
    assert IN.amount(127, Kind.PLACE, zeros=True) == "5.00 in"
    assert (MM.coarse(0.31, Kind.LENGTH), IN.coarse(0.1, Kind.LENGTH)) == ("0.3 mm", "0.004 in")


@pytest.mark.parametrize(
    ("mm", "units", "words"),
    [
        (0.0008, Units.IN, "0.00003 ± 0.00002 in"),
        (0.0004, Units.MM, "0.0004 ± 0.0002 mm"),
        (0.12, Units.IN, "0.005 ± 0.002 in"),
    ],
)
def test_a_small_ridge_does_not_read_as_none(mm, units, words) -> None:
    figure = Figure("r", "r", mm, Kind.FINE_LENGTH, sentence("r"), mm / 2)
    assert FigureFormatter(units).figure(figure) == words
