"""Threads stretched over their ground, against hulls and a straight line in space."""

import numpy as np
import pytest
from scipy.spatial import ConvexHull

from geometry.layers.taut import stretch, taut
from geometry.layers.taut_sweeps import sweep

pytestmark = pytest.mark.usefixtures("each_way")

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
    assert (lifted[-1] - 99) * np.degrees(TURN) == pytest.approx(12.680, abs=0.8)
    # Thirteen steps down, 6.5 degrees, the line stands at 8 / cos(12.680 - 6.5) from the axis.
    assert path[99 + 13] == pytest.approx(8.04676, abs=2e-5)


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
        np.testing.assert_allclose(path[inside % NT], radius, atol=1e-9)


def longest_chords(ground, held):
    """The highest chord over each place, by trying every pair of places, in plane coordinates."""
    angle = np.arange(ground.size) * TURN
    points = ground[:, None] * np.stack((np.cos(angle), np.sin(angle)), axis=1)
    path = ground.copy()
    for i in range(ground.size):
        for j in range(i + 2, ground.size):
            if held[i + 1 : j].any():
                break
            inside = slice(i + 1, j)
            (x, y), (dx, dy) = points[i], points[j] - points[i]
            along = np.cos(angle[inside]) * dy - np.sin(angle[inside]) * dx
            path[inside] = np.maximum(path[inside], (x * dy - y * dx) / along)
    return path


def test_it_is_the_highest_of_all_chords_between_places_where_it_is_held(rng):
    ground = 9 + 0.2 * (rng.random((3, 90)) > 0.9)
    held = np.zeros(ground.shape, bool)
    held[1, [20, 21, 55]] = True
    held[2, 0:40] = True
    exact = np.array([longest_chords(row, hold) for row, hold in zip(ground, held, strict=True)])
    np.testing.assert_allclose(taut(ground, TURN, held), exact, atol=1e-9)
    np.testing.assert_array_equal(taut(ground, TURN, held)[held], ground[held])
    np.testing.assert_allclose(taut(ground, TURN), taut(ground, TURN, np.zeros_like(held)))
    mirrored = taut(ground[:, ::-1], TURN, held[:, ::-1])
    np.testing.assert_allclose(mirrored[:, ::-1], exact, atol=1e-9)


def test_a_closed_thread_may_be_held_too(rng):
    # Held at its first place it is the open thread from there to there; nothing spans that place.
    ground = 9 + 0.2 * (rng.random((2, 360)) > 0.9)
    held = np.zeros(ground.shape, bool)
    held[:, 0] = True
    opened = np.concatenate((ground, ground[:, :1]), axis=1)
    turn = 2 * np.pi / 360
    path = taut(ground, turn, held, closed=True)
    np.testing.assert_allclose(path, taut(opened, turn)[:, :-1], atol=1e-12)


def test_even_ground_stays_as_it_is():
    ground = np.full((2, 50), 7.0)
    np.testing.assert_array_equal(taut(ground, TURN), ground)
    assert taut(np.empty((1, 0)), TURN).shape == (1, 0)


def kinds_of_ground(rng):
    """Rows of 400 points of every kind."""
    angle = np.arange(400) * 2 * np.pi / 400
    return np.array(
        [
            9 + 0.3 * rng.random(400),
            9 + 0.28 * np.maximum(0, np.cos(22 * angle)) ** 8,
            9 + 0.2 * (rng.random(400) > 0.95),
            9 + 0.6 * np.cos(3 * angle) + 0.2 * np.cos(7 * angle),
            np.full(400, 9.0),
            rng.uniform(0.3, 30, 400),
            0.1 + 20 * (rng.random(400) > 0.99),
            np.round(9 + 0.3 * rng.random(400), 1),
        ]
    )


@pytest.mark.parametrize(("closed", "turns"), [(True, 1), (False, 0.1), (False, 1), (False, 5)])
@pytest.mark.parametrize("share", [None, 0.0, 0.01, 0.3])
def test_it_is_the_path_that_sweeps_of_numpy_find(rng, closed, turns, share):
    ground = kinds_of_ground(rng)
    turn = turns * 2 * np.pi / 400
    held = None if share is None else rng.random(ground.shape) < share
    swept = ground.copy()
    sweep(swept, turn, held, closed)
    np.testing.assert_allclose(taut(ground, turn, held, closed=closed), swept, rtol=0, atol=1e-9)


def test_a_view_is_stretched_in_place_and_one_that_cannot_be_is_refused(rng):
    ground = 9 + 0.3 * rng.random((6, 60))
    path = ground.copy()
    stretch(path[2:4], TURN)
    np.testing.assert_array_equal(path[2:4], taut(ground[2:4], TURN))
    np.testing.assert_array_equal(path[[0, 1, 4, 5]], ground[[0, 1, 4, 5]])
    with pytest.raises(ValueError, match="C-contiguous"):
        stretch(path[:, ::2], TURN)
