"""Readings of a diameter that are off, and which of them is blamed."""

import pytest

from scenes.design.readings import off_readings


def test_a_slip_of_the_pen_in_the_middle_blames_itself() -> None:
    # 16.9 mm written as 1.69.
    (found,) = off_readings([18.3, 1.69, 15.35])
    assert found[0] == 1
    assert found[1] == pytest.approx(1.69 - 15.35)
    # Of two alone nobody can tell: the one nearer the tip.
    assert off_readings([12.0, 14.0])[0][0] == 1
