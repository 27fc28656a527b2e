"""Unevenness of rows, against its own statistics and closure."""

import numpy as np
import pytest

from geometry.blank import Blank
from geometry.grid import Grid
from geometry.layers.cover import Cover
from geometry.layers.unevenness import uneven_rows
from geometry.surface import Surface

Z = np.linspace(0, 60, 1201)
THETA = np.arange(256) * (2 * np.pi / 256)


def test_a_perfect_hand_lays_level_rows():
    assert not uneven_rows(Z, THETA, 0.17, 0.0, 1).any()


def test_height_is_in_proportion_and_the_seed_decides_where():
    low, high = (uneven_rows(Z, THETA, 0.17, height, 7) for height in (0.002, 0.004))
    np.testing.assert_allclose(high, 2 * low, atol=1e-12)
    other = uneven_rows(Z, THETA, 0.17, 0.002, 8)
    assert abs(np.corrcoef(low.ravel(), other.ravel())[0, 1]) < 0.1


def test_mean_square_height_is_as_asked():
    # Uniform values have the mean square 1/3 at the knots (elementary statistics), and both kinds
    # add in squares: 1 and 2.4 times the height asked. Splines overshoot a little between knots.
    uneven = uneven_rows(np.linspace(0, 600, 6001), THETA, 0.17, 0.002, 3)
    assert uneven.std() == pytest.approx(0.002 * np.hypot(1, 2.4), rel=0.15)
    assert abs(uneven.mean()) < 0.2 * uneven.std()


def test_closes_where_theta_passes_two_pi():
    uneven = uneven_rows(Z, THETA, 0.17, 0.002, 1)
    steps = np.abs(np.diff(np.concatenate((uneven, uneven[:, :1]), axis=1), axis=1))
    assert steps[:, -1].max() <= 1.2 * steps[:, :-1].max()


def test_a_finer_grid_shows_the_same_hand():
    coarse = uneven_rows(Z, THETA, 0.17, 0.002, 5)
    fine = uneven_rows(np.linspace(0, 60, 2401), THETA, 0.17, 0.002, 5)
    np.testing.assert_allclose(fine[::2], coarse, atol=1e-12)


def test_cover_with_a_hand_adds_just_that_height():
    grid = Grid.even(0, 40, 401, 128)
    bare = Surface.bare(Blank([0, 40], [12, 11]), grid)
    level = Cover(5, 35, 0.17, 0.17, 1).apply(bare)
    uneven = Cover(5, 35, 0.17, 0.17, 1, unevenness=0.003, seed=2).apply(bare)
    rows = bare.between(5, 35)
    expected = uneven_rows(grid.z[rows], grid.theta, 0.17, 0.003, 2)
    np.testing.assert_allclose((uneven.radius - level.radius)[rows], expected, atol=1e-12)
    assert (uneven.radius[: rows.start] == level.radius[: rows.start]).all()
