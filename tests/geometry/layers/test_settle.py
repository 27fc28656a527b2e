"""Rows that slide: the least surface that they can stand on, against its definition."""

import numpy as np
import pytest

from geometry.blank import Blank
from geometry.grid import Grid
from geometry.layers.drape import Drape, hull_radius
from geometry.layers.settle import settled
from geometry.surface import Surface

STEP = 0.1


def rough(rng, stations=120, angles=48):
    ground = np.full((stations, angles), 9.0)
    ground[40:80] += 0.9 * (rng.random((40, angles)) > 0.7)
    return ground


@pytest.mark.parametrize("steepest", [0.1, 0.5, 2.0])
def test_it_is_the_envelope_of_its_definition(steepest, rng):
    ground = rough(rng)
    at = np.arange(len(ground)) * STEP
    fall = steepest * np.abs(at[:, None] - at)
    exact = (ground[:, None, :] - fall[:, :, None]).max(axis=0)
    np.testing.assert_allclose(settled(ground, STEP, steepest), exact, atol=1e-12)
    np.testing.assert_allclose(settled(ground[::-1], STEP, steepest)[::-1], exact, atol=1e-12)


def test_a_step_becomes_a_ramp_as_long_as_its_height_over_the_slope():
    ground = np.full((200, 4), 9.0)
    ground[100:] += 1.2
    ramp = settled(ground, STEP, 0.4)
    # 1.2 mm at 0.4 takes 3 mm, 30 steps of 0.1 mm.
    np.testing.assert_allclose(ramp[70:101, 0], 9 + 0.04 * np.arange(31), atol=1e-12)
    np.testing.assert_array_equal(ramp[:70], ground[:70])
    np.testing.assert_array_equal(ramp[100:], ground[100:])


def test_what_is_not_too_steep_stays_to_the_last_bit(rng):
    ground = 9 + np.cumsum(0.039 * rng.uniform(-1, 1, (300, 16)), axis=0)
    np.testing.assert_array_equal(settled(ground, STEP, 0.4), ground)
    cliff = rough(rng)
    np.testing.assert_array_equal(settled(cliff, STEP, np.inf), cliff)


def test_draped_it_is_the_least_surface_that_is_convex_round_and_gentle_along(rng):
    ground = rough(rng)
    z = np.arange(len(ground)) * STEP
    surface = Surface.bare(
        Blank([0, 20], [18, 18]), Grid.even(0, z[-1], *ground.shape)
    ).with_arrays(radius=ground)
    draped = Drape(0, 20, 0.5).apply(surface).radius
    assert np.abs(np.diff(draped, axis=0)).max() <= 0.5 * STEP + 1e-12
    np.testing.assert_allclose(hull_radius(draped), draped, rtol=1e-12)
    assert (draped >= ground - 1e-12).all()
    # Raising the ground by each rule in turn, only as far as it asks, ends at the least one.
    least = ground
    for _ in range(60):
        least = hull_radius(settled(hull_radius(least), STEP, 0.5))
    np.testing.assert_allclose(draped, least, atol=1e-9)
