"""A lattice on the bench against hand arithmetic and the built surface."""

import math

import numpy as np
import pytest


def value(bench, key):
    return bench.figure(key).value


def test_cords_on_a_cylinder_by_hand(worked, cylinder) -> None:
    # r 10, cords 0.9 thick at 36 degrees over 124 mm: the centre line lies on r 10.45, turns by
    # 124 tan 36 / 10 rad and is hypot(124, 10.45 · that) long; tails of 50 at both ends.
    bench = worked("cord-lattice", {**cylinder, "finish.coats": 0})
    turned = 124 * math.tan(math.radians(36)) / 10
    run = math.hypot(124, 10.45 * turned)
    assert value(bench, "cord_length") == pytest.approx(run + 100, rel=1e-6)
    assert value(bench, "cord_total") == pytest.approx(16 * (run + 100), rel=1e-6)
    assert value(bench, "cord_turns") == pytest.approx(turned / (2 * math.pi), rel=1e-6)
    assert value(bench, "spacing_lower") == pytest.approx(20 * math.pi / 8)
    table = bench.table("cord_marks")
    assert table.column("right_lower") == pytest.approx(
        [20 * math.pi / 8 * k for k in range(8)], abs=1e-6
    )
    right, left = table.column("right_upper")[0], table.column("left_upper")[0]
    assert right == pytest.approx(turned * 10 % (20 * math.pi), rel=1e-5)
    assert right + left == pytest.approx(20 * math.pi)
    # 2.5 m of cord and more: an ellipse's area, nylon at 1.14 g/cm3 ([MortonHearle], table 5.1).
    grams = 16 * run * math.pi / 4 * 0.81 * 1.14e-3
    weights = bench.table("weights")
    assert weights.rows[0][:2] == ("cords", pytest.approx(grams, rel=1e-5))


@pytest.mark.parametrize("end", ["lower", "upper"])
def test_marks_are_where_the_laid_cords_are(worked, wrapped, end) -> None:
    """Look at the built surface in the circle where the cords begin, and where they end."""
    wrap = wrapped("cord-lattice")
    plan, surface = wrap.plan, wrap.beneath
    at = plan.start if end == "lower" else plan.end
    inside = surface.between(plan.start, plan.end)
    row = inside.start if end == "lower" else inside.stop - 1
    raised = surface.radius[row] - plan.blank.radius(surface.z[row])
    table = worked("cord-lattice").table("cord_marks")
    radius = float(plan.blank.radius(at))
    for hand in ("right", "left"):
        marks = np.array(table.column(f"{hand}_{end}"), dtype=float)
        theta = marks / radius
        there = np.interp(theta, surface.theta, raised, period=2 * np.pi)
        # On a cord's crest, or no further than half a step of the grid off it.
        assert there.min() > 0.8
