"""Wishes as they are typed, and what is refused in one sentence."""

import math

import pytest

from materials.shelf import Shelf
from scenes.files import samples
from scenes.fit.measures import Measured
from scenes.fit.wishes import Relation, read_request
from scenes.problems import DesignProblem


def read(name, *wish, at_most=(), at_least=()):
    measured = Measured(samples.load(name).without_variants(), Shelf.shipped())
    return read_request(measured, wish, at_most, at_least)


def only(name, *wish, **bounds):
    (wish,) = read(name, *wish, **bounds).wishes
    return wish


# The international inch is 25.4 mm and the avoirdupois ounce 28.349523125 g (1959 agreement).
@pytest.mark.parametrize(
    ("name", "text", "held"),
    [
        ("half-scale", "gap=20", 20.0),
        ("half-scale", "gap=1in", 25.4),
        ("half-scale", "gap = 2.5 cm", 25.0),
        ("two-start-band", "gap=0.5", 12.7),
        ("two-start-band", "gap=12.7mm", 12.7),
        ("half-scale", "angle=30", math.pi / 6),
        ("half-scale", "angle=30 degrees", math.pi / 6),
        ("half-scale", "covered_share=50%", 0.5),
        ("half-scale", "covered share=0.5", 0.5),
        ("half-scale", "weight=1oz", 28.349523125),
        ("two-start-band", "cover-thread=100", 30_480.0),
        ("cord-lattice", "diamonds=12", 12.0),
    ],
)
def test_values_and_units(name, text, held):
    assert only(name, text).value == pytest.approx(held, rel=1e-12)


def test_whole_and_bounds():
    assert only("half-scale", "turns=whole").relation is Relation.WHOLE
    assert only("half-scale", at_most=["weight=4"]).relation is Relation.AT_MOST
    assert only("half-scale", at_least=["gap=20"]).relation is Relation.AT_LEAST


def test_a_path_sets_a_field_and_its_alternative_is_a_measure():
    request = read("two-start-band", "relief.strip_width=6mm", "relief.gap=0.4")
    assert request.settings == {"relief.strip_width": pytest.approx(6 / 25.4)}
    assert [(one.measure.name, one.value) for one in request.wishes] == [
        ("gap", pytest.approx(0.4 * 25.4))
    ]
    assert read("half-scale", "layers.0.angle=40").settings == {"relief.angle": 40}
    words = read("half-scale", "cover.thread=Gorse Gold A").settings
    assert words == {"cover.thread": "Gorse Gold A"}


def test_meet():
    for name, measures in (
        ("cord-lattice", ["diamonds"]),
        ("half-scale", ["cells", "cells_along"]),
        ("full-mesh", ["cells", "cells_ahead", "gap"]),
    ):
        assert [one.measure.name for one in read(name, "meet").wishes] == measures


@pytest.mark.parametrize(
    ("wish", "words"),
    [
        ("turns=five", "is not a number"),
        ("turns=nan", "is not a number"),
        ("turns=5,5", "has a comma in its number and should be 5.5"),
        ("gap=22,5 mm", "should be 22.5 mm"),
        ("turns=1e400", "is not a number"),
        ("turns=-3", "not more than 0"),
        ("turns=0", "not more than 0"),
        ("covered_share=150%", "not between 1 % and 100 %"),
        ("angle=90", "not between 5 degrees and 85 degrees"),
        ("turnz=5", "did you mean turns?"),
        ("strip=25", "did you mean strip_width?"),
        ("diamonds=5", "this design has no diamonds"),
        ("gap=25g", "wrong unit; give it in mm, cm or in"),
        ("turns=5mm", "wrong unit; give a number without a unit"),
        ("relief.gap=25kg", "wrong unit"),
        ("relief.gab=25", "did you mean gap?"),
        ("relieff.gap=25", "did you mean relief?"),
        ("gap=whole", "cannot be whole"),
        ("weight<4", "write a bound as --at-most weight=4."),
        ("turns >= 2", "write a bound as --at-least turns=2."),
        ("turns", "write it like turns=5"),
        ("=5", "write it like turns=5"),
        ("meet=4", "write --wish meet"),
        ("turns=" + "9" * 400, "too long"),
    ],
)
def test_refused(wish, words):
    with pytest.raises(DesignProblem) as refused:
        read("half-scale", wish)
    sentence = str(refused.value)
    assert words in sentence
    assert sentence.endswith((".", "?"))
    assert sentence.isprintable()


@pytest.mark.parametrize(
    "wishes",
    [
        {"wish": ["turns=5", "turns=6"]},
        {"wish": ["turns=whole", "turns=2.5"]},
        {"wish": ["turns=5"], "at_most": ["turns=4"]},
        {"at_most": ["turns=3"], "at_least": ["turns=4"]},
    ],
)
def test_contradictions(wishes):
    with pytest.raises(DesignProblem, match="contradict each other"):
        read("half-scale", *wishes.pop("wish", ()), **wishes)


def test_one_field_with_two_values():
    with pytest.raises(DesignProblem, match="given twice"):
        read("half-scale", "relief.angle=40", "relief.angle=50")


def test_more_wishes_than_anybody_has():
    with pytest.raises(DesignProblem, match="13 wishes are more than 12"):
        read("half-scale", *["turns=5"] * 13)
