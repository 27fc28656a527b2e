"""A strip left to find its own way follows a geodesic."""

import numpy as np
import pytest

from geometry.blank import Blank
from geometry.errors import GeometryError
from geometry.winding import Hand, unsteered

# Closed form on the unrolled cone, cross-checked against an ODE: r1, alpha1 (degrees), tan of the
# cone's half angle, r2, then the length, the turned angle and alpha2 (degrees).
CONES = [
    (5, 45, 0.01, 4, 166.478845, 29.871814, 62.114433),
    (6, 60, np.tan(np.deg2rad(1)), 5.5, 68.599386, 10.866624, 70.866073),
    (2, 30, np.tan(np.deg2rad(30)), 1.2, 2.137452, 0.923024, 56.442690),
]
CURVED = Blank([0, 120, 260, 400], [21, 19.5, 18.9, 16.5])


def cone_and_path(r1, alpha1, taper, r2, **kwargs):
    length = (r1 - r2) / taper
    blank = Blank([0, length], [2 * r1, 2 * r2])
    return blank, unsteered(blank, (0, length), np.deg2rad(alpha1), at=0, **kwargs)


@pytest.mark.parametrize(("r1", "alpha1", "taper", "r2", "run", "turned", "alpha2"), CONES)
def test_length_turns_and_angle_on_a_cone(r1, alpha1, taper, r2, run, turned, alpha2):
    _, path = cone_and_path(r1, alpha1, taper, r2)
    # The figures are given to six decimals; Simpson's rule on the table's step adds less.
    assert path.length[-1] == pytest.approx(run, abs=1e-6)
    assert path.phase[-1] == pytest.approx(turned, abs=1e-6)
    assert np.rad2deg(path.angle[-1]) == pytest.approx(alpha2, abs=1e-6)


@pytest.mark.parametrize(("r1", "alpha1", "taper", "r2"), [cone[:4] for cone in CONES])
@pytest.mark.parametrize("hand", Hand)
def test_a_geodesic_is_a_straight_line_on_the_unrolled_cone(r1, alpha1, taper, r2, hand):
    # Unrolling: distance from the apex rho = r / sin(gamma), polar angle theta sin(gamma); lengths
    # and angles stay as they are ([DoCarmo], section 4-2: a cone is locally isometric to a plane).
    blank, path = cone_and_path(r1, alpha1, taper, r2, hand=hand)
    sine = np.sin(np.arctan(taper))
    rho, angle = blank.radius(path.z) / sine, hand.sign * path.phase * sine
    flat = np.stack((rho * np.cos(angle), rho * np.sin(angle)), axis=1)
    chord = flat[-1] - flat[0]
    straight = np.hypot(*chord)
    off = (chord[0] * (flat - flat[0])[:, 1] - chord[1] * (flat - flat[0])[:, 0]) / straight
    assert np.abs(off).max() < 1e-5
    assert straight == pytest.approx(path.length[-1], abs=1e-6)


def test_clairauts_relation_holds_on_a_curved_blank():
    # [DoCarmo], section 4-4: r sin(alpha) = const, with alpha measured here from the turned angle
    # and the meridian's length, not taken from the table.
    path = unsteered(CURVED, (0, 400), np.deg2rad(40), at=120)
    z, h = np.linspace(10, 390, 57), 0.05
    turned = (path.phase_at(z + h) - path.phase_at(z - h)) / (2 * h)
    rise = np.hypot(1, CURVED.slope(z))
    radius = CURVED.radius(z)
    alpha = np.arctan2(radius * turned, rise)
    clairaut = CURVED.radius(120.0) * np.sin(np.deg2rad(40))
    # Differences over two table steps: h²/6 times a third derivative of the phase below 1e-5.
    np.testing.assert_allclose(radius * np.sin(alpha), clairaut, rtol=1e-6)


def test_the_strip_leaves_at_the_angle_asked_for():
    path = unsteered(CURVED, (0, 400), np.deg2rad(40), at=120)
    assert np.rad2deg(path.angle_at(120.0)) == pytest.approx(40, abs=1e-9)


def test_on_a_cylinder_a_geodesic_is_a_helix():
    path = unsteered(Blank([0, 100], [10, 10]), (0, 100), np.deg2rad(50), at=30)
    np.testing.assert_allclose(path.angle, np.deg2rad(50), rtol=1e-12)
    np.testing.assert_allclose(path.phase, np.tan(np.deg2rad(50)) / 5 * path.z, atol=1e-10)


def test_a_strip_that_would_turn_back_is_refused_with_the_place():
    # It turns where r = r1 sin(alpha1) = 4.33 mm, 67 mm up; it is refused a degree before, at
    # r = 4.3301 / sin(89 degrees), which lies 66.9 mm up.
    blank = Blank([0, 200], [10, 6])
    with pytest.raises(GeometryError, match=r"60 degrees .* stops climbing at 66\.\d* mm.*smaller"):
        unsteered(blank, (0, 200), np.deg2rad(60), at=0)
