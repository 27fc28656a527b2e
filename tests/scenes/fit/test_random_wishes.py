"""Random wishes over the samples, and wishes that only two fields together can meet."""

import pytest

from tests.scenes.fit.random_wishes import Asked, Grid, checked, faults

FIRST, COUNT = 2, 3


def test_brute_force_finds_a_whole_number_far_away() -> None:
    one = Asked("cord-lattice", ("diamonds_round=5",), (), (), ())
    assert Grid(one).found() == {"relief.count": 5}


@pytest.mark.parametrize(
    "one",
    [
        Asked(
            "cross-over-scale",
            (),
            (),
            ("diamond_length=136.076mm",),
            ("placement.to", "crossed.spacing"),
        ),
        Asked("half-scale", ("pitch=38.0202mm", "relief.starts=10"), (), (), ()),
        Asked("lettered-band", ("wrap_length=98.2821mm", "relief.gap=70.24"), ("cells=9",), (), ()),
        Asked("graded-trim", ("strip_width=41.5868mm",), (), (), ()),
        Asked(
            "half-scale",
            ("turns=whole", "relief.starts=4"),
            (),
            ("pitch=44.979mm",),
            ("relief.angle", "relief.gap"),
        ),
    ],
    ids=lambda one: one.sample,
)
def test_wishes_that_only_two_fields_together_can_meet_are_met(one: Asked) -> None:
    assert faults(one) == ("met", "")


def test_what_is_met_reads_so_and_what_is_impossible_is_nowhere_on_a_grid() -> None:
    answers = [checked(seed) for seed in range(FIRST, FIRST + COUNT)]
    assert not [one for one in answers if one.fault]
    assert "met" in [one.answer for one in answers]
