"""Threads stretched over their ground, against hulls and a straight line in space."""

import numpy as np
import pytest
from scipy.spatial import ConvexHull

from geometry.layers.taut import taut

NT = 720
TURN = 2 * np.pi / NT


def test_a_free_end_leaves_the_blank_as_a_tangent_does():
    # Off a step of height h a straight line touches a circle of radius r again where
    # r = (r + h) cos(t): by hand, for r 8 and h 0.2, after t = arccos(8 / 8.2) = 12.680 degrees.
    ground = np.full(400, 8.0)
    ground[:100] += 0.2
    path = taut(ground, TURN)
    lifted = np.flatnonzero(path > ground + 1e-4)
    assert lifted[0] == 100
    assert (lifted[-1] - 99) * np.degrees(TURN) == pytest.approx(12.680, abs=1.0)
    # Half-way down the line stands at 8.2 cos(t) / cos(t - half) from the axis, by hand 8.04919.
    half = 99 + round(np.radians(12.680) / 2 / TURN)
    assert path[half] == pytest.approx(8.04919, abs=0.003)


def test_hoops_are_the_hull_of_the_section(rng):
    # SciPy's Qhull. The hull of a whole section, looked at away from where the thread is cut.
    ground = 8 + 0.15 * rng.random(3 * NT) * (rng.random(3 * NT) > 0.8)
    ground[NT : 2 * NT] = ground[:NT]
    ground[2 * NT :] = ground[:NT]
    angle = np.arange(NT) * TURN
    points = ground[:NT, None] * np.stack((np.cos(angle), np.sin(angle)), axis=1)
    corners = np.sort(ConvexHull(points).vertices)
    path = taut(ground, TURN)[NT : 2 * NT]
    at = np.append(corners, corners[0] + NT)
    u = np.append(1 / ground[corners], 1 / ground[corners[0]])
    for first, last, a, b in zip(at, at[1:], u, u[1:], strict=False):
        inside = np.arange(first, last + 1)
        chord = a * np.sin((last - inside) * TURN) + b * np.sin((inside - first) * TURN)
        radius = np.sin((last - first) * TURN) / chord
        np.testing.assert_allclose(path[inside % NT], radius, atol=0.003)


def test_it_is_an_upper_envelope(rng):
    # In the chart where a straight line rises as r t²/2, the taut path is the upper concave
    # envelope (Andrew's monotone chain, written out here).
    ground = 9 + 0.2 * (rng.random(600) > 0.97)
    t = np.arange(600) * TURN
    flat = ground - 9 * t * t / 2
    hull: list[int] = []
    for i in range(600):
        while len(hull) > 1:
            a, b = hull[-2:]
            if (flat[b] - flat[a]) * (i - a) > (flat[i] - flat[a]) * (b - a):
                break
            hull.pop()
        hull.append(i)
    exact = np.interp(np.arange(600), hull, flat[hull]) + 9 * t * t / 2
    path = taut(ground, TURN)
    np.testing.assert_allclose(path, exact, atol=0.003)
    assert (path >= ground).all()
    # The chart takes r for every radius, which differs by 2 % on the ridges here.
    assert (path <= exact + 0.002).all()


def test_even_ground_stays_as_it_is():
    ground = np.full((2, 50), 7.0)
    np.testing.assert_array_equal(taut(ground, TURN), ground)
    assert taut(np.empty((1, 0)), TURN).shape == (1, 0)
