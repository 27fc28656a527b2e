"""The bare blank: measured diameters joined by a monotone cubic."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.interpolate import pchip_interpolate

from geometry.blank import Blank
from geometry.bodies.solid import solid
from geometry.errors import GeometryError
from geometry.grid import Grid
from geometry.surface import Surface
from geometry.tolerances import LEAST_RADIUS_MM

AT = [120.0, 250.0, 400.0, 610.0, 900.0]
DIAMETER = [21.4, 19.6, 19.1, 16.3, 12.8]
FRUSTUM = Blank([0, 4], [10, 4])


def polygon_share(angles):
    """Area of a regular n-gon over that of its circle: n/2 sin(2 pi/n) / pi (handbook)."""
    step = 2 * np.pi / angles
    return np.sin(step) / step


def test_radius_is_half_of_each_measured_diameter():
    np.testing.assert_allclose(Blank(AT, DIAMETER).radius(AT), np.array(DIAMETER) / 2, rtol=1e-14)


def test_radius_agrees_with_scipys_own_pchip():
    z = np.linspace(AT[0], AT[-1], 977)
    expected = pchip_interpolate(AT, np.array(DIAMETER) / 2, z)
    np.testing.assert_allclose(Blank(AT, DIAMETER).radius(z), expected, rtol=1e-14)


def test_radius_is_the_hermite_cubic_with_harmonic_mean_slopes():
    # [Fritsch1984], as SciPy's documentation quotes it:
    # the slope at a knot is the weighted harmonic mean of the chords on both sides. Written out
    # by hand for 250 to 400 mm.
    r = np.array(DIAMETER) / 2
    h, chord = np.diff(AT), np.diff(r) / np.diff(AT)

    def slope_at(k):
        w1, w2 = 2 * h[k] + h[k - 1], h[k] + 2 * h[k - 1]
        return (w1 + w2) / (w1 / chord[k - 1] + w2 / chord[k])

    t = np.linspace(0, 1, 31)
    hermite = (
        (1 + 2 * t) * (1 - t) ** 2 * r[1]
        + t * (1 - t) ** 2 * h[1] * slope_at(1)
        + t * t * (3 - 2 * t) * r[2]
        + t * t * (t - 1) * h[1] * slope_at(2)
    )
    np.testing.assert_allclose(Blank(AT, DIAMETER).radius(AT[1] + t * h[1]), hermite, rtol=1e-13)


@given(
    steps=st.lists(st.floats(1, 300), min_size=1, max_size=7),
    falls=st.lists(st.floats(0, 4), min_size=7, max_size=7),
)
def test_a_blank_that_only_thins_is_drawn_so(steps, falls):
    # [Fritsch1980]: monotone data give a monotone cubic, which cannot overshoot.
    at = np.concatenate(([0.0], np.cumsum(steps)))
    diameter = 30 - np.concatenate(([0.0], np.cumsum(falls[: len(steps)])))
    radius = Blank(at, diameter).radius(np.linspace(0, at[-1], 301))
    rounding = 1e-12
    assert (np.diff(radius) <= rounding).all()
    assert radius.max() <= diameter[0] / 2 + rounding
    assert radius.min() >= diameter[-1] / 2 - rounding


def test_slope_is_the_derivative_of_the_radius():
    blank, z, h = Blank(AT, DIAMETER), np.linspace(130, 890, 211), 1e-4
    # Central difference; its error is h²/6 of a third derivative below 1e-5, and rounding 1e-11.
    expected = (blank.radius(z + h) - blank.radius(z - h)) / (2 * h)
    np.testing.assert_allclose(blank.slope(z), expected, atol=1e-10)


def test_a_straight_cone_runs_on_beyond_the_last_measurement():
    blank = Blank([100, 200], [20, 18])
    np.testing.assert_allclose(blank.radius([0, 50, 150, 260]), [11, 10.5, 9.5, 8.4], rtol=1e-14)
    np.testing.assert_allclose(blank.slope([0, 150, 260]), -0.01, rtol=1e-12)


def test_radius_never_falls_below_what_can_be_built():
    assert Blank([0, 100], [4, 1]).radius(1e4) == LEAST_RADIUS_MM


@pytest.mark.parametrize("shape", [(), (3,), (2, 5)])
def test_radius_and_slope_keep_the_shape_asked_for(shape):
    z = np.full(shape, 300.0)
    assert Blank(AT, DIAMETER).radius(z).shape == shape
    assert Blank(AT, DIAMETER).slope(z).shape == shape


def test_volume_and_area_of_a_frustum():
    # Any handbook: pi h (R² + R r + r²) / 3 = 52 pi and pi (R + r) s = 35 pi for R 5, r 2, h 4.
    # Simpson's rule is exact for both.
    assert FRUSTUM.volume(0, 4) == pytest.approx(52 * np.pi, rel=1e-12)
    assert FRUSTUM.lateral_area(0, 4) == pytest.approx(35 * np.pi, rel=1e-12)


def test_volume_and_area_of_a_curved_blank_agree_with_quadpack():
    blank = Blank(AT, DIAMETER)
    volume = quad(lambda z: np.pi * blank.radius(z) ** 2, 150, 800, points=AT[1:4])[0]
    area = quad(
        lambda z: 2 * np.pi * blank.radius(z) * np.hypot(1, blank.slope(z)),
        150,
        800,
        points=AT[1:4],
    )[0]
    # Simpson steps of a third of a millimetre over knots where only r'' jumps.
    assert blank.volume(150, 800) == pytest.approx(volume, rel=1e-8)
    assert blank.lateral_area(150, 800) == pytest.approx(area, rel=1e-8)


def test_frustum_as_a_mesh_has_the_volume_and_area_trimesh_measures():
    angles = 720
    mesh = solid(Surface.bare(FRUSTUM, Grid.even(0, 4, 5, angles)))
    share = polygon_share(angles)
    assert mesh.volume == pytest.approx(52 * np.pi * share, rel=1e-12)
    # Each side is a trapezium between two chords; its height is the apothem line's slant.
    chord = 2 * np.sin(np.pi / angles)
    slant = np.hypot(4, 3 * np.cos(np.pi / angles))
    side = angles * chord * (5 + 2) / 2 * slant
    caps = np.pi * (25 + 4) * share
    assert mesh.area == pytest.approx(side + caps, rel=1e-12)
    assert side == pytest.approx(FRUSTUM.lateral_area(0, 4), rel=(np.pi / angles) ** 2)


def test_curved_blank_as_a_mesh_has_its_volume():
    blank, angles = Blank(AT, DIAMETER), 360
    mesh = solid(Surface.bare(blank, Grid.even(150, 800, 1301, angles)))
    expected = blank.volume(150, 800) * polygon_share(angles)
    # Straight half-millimetre steps: h²/12 r''/r, with r'' below 1e-3 per mm and r about 8.
    assert mesh.volume == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize(
    ("at", "diameter", "quantity", "sentence"),
    [
        ([100], [20], "at", "two places"),
        ([], [], "at", "two places"),
        ([100, 200, 300], [20, 18], "at", "3 distances and 2 diameters"),
        ([100, np.nan], [20, 18], "at", "finite"),
        ([100, 200], [20, np.inf], "diameter", "finite"),
        ([200, 100], [20, 18], "at", "grow from butt to tip"),
        ([100, 100], [20, 18], "at", "no two at one place"),
        ([100, 200], [20, 0], "diameter", "thinner than 0.5 mm"),
        ([100, 200], [20, -3], "diameter", "-3 mm"),
    ],
)
def test_bad_measurements_are_refused_in_a_sentence(at, diameter, quantity, sentence):
    with pytest.raises(GeometryError, match=sentence) as caught:
        Blank(at, diameter)
    assert caught.value.quantity == quantity


def test_a_blank_keeps_its_own_read_only_copy():
    at, diameter = np.array([0.0, 100.0]), np.array([20.0, 18.0])
    blank = Blank(at, diameter)
    at[1] = diameter[1] = 1.0
    assert blank.radius(100) == 9.0
    with pytest.raises(ValueError, match="read-only"):
        blank.at[0] = 5
    with pytest.raises(ValueError, match="read-only"):
        blank.diameter[0] = 5
    with pytest.raises(dataclasses.FrozenInstanceError):
        blank.at = at
