"""The blank unrolled: the cone formula by hand, by quadrature, and distances that paper keeps."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from geometry.blank import Blank
from geometry.errors import GeometryError
from geometry.tolerances import PAPER_FIT_MM
from geometry.unroll import Cone, between, cones_along, split_at, split_at_seam

SLOPE = st.floats(-0.05, 0.05)
RADIUS = st.floats(3.0, 15.0)


def sector(cone: Cone, theta: float, z: float) -> np.ndarray:
    """The sector formula as in a schoolbook (Weisstein, *Cone*, MathWorld), about the apex.

    A cone of half angle beta unrolls to a sector of the angle 2 pi sin(beta) and the radius of
    its slant; a point keeps its distance from the apex.
    """
    beta = np.arctan(abs(cone.slope))
    from_apex = cone.radius_at(z) / np.sin(beta)
    at_start = cone.radius / np.sin(beta)
    turned = theta * np.sin(beta)
    towards = np.sign(-cone.slope)  # the apex lies up the blank where it thins
    x = from_apex * np.sin(turned)
    y = towards * (at_start - from_apex * np.cos(turned))
    return np.array([x, y])


@given(SLOPE.filter(lambda slope: abs(slope) > 1e-4), RADIUS, st.floats(-3.1, 3.1))
def test_flat_is_the_schoolbook_sector(slope: float, radius: float, theta: float) -> None:
    cone = Cone(100, 140, radius, slope)
    for z in (100, 117, 140):
        # The apex is as far as r / slope away: rounding there is 1e-16 of that.
        np.testing.assert_allclose(cone.flat(theta, z), sector(cone, theta, z), atol=1e-9)


def test_a_cylinder_unrolls_to_a_rectangle() -> None:
    cone = Cone(50, 250, 8.0, 0.0)
    np.testing.assert_allclose(cone.flat(np.pi, 250), (8 * np.pi, 200))
    np.testing.assert_allclose(cone.flat(-np.pi / 2, 100), (-4 * np.pi, 50))


def test_a_nearly_straight_cone_is_nearly_a_cylinder() -> None:
    straight, tapered = Cone(0, 100, 9.0, 0.0), Cone(0, 100, 9.0, 1e-12)
    np.testing.assert_allclose(tapered.flat(2.0, 60.0), straight.flat(2.0, 60.0), atol=1e-9)


@given(SLOPE, RADIUS)
def test_arcs_and_slants_keep_their_length(slope: float, radius: float) -> None:
    cone = Cone(0, 40, radius, slope)
    theta = np.linspace(-np.pi, np.pi, 20001)
    for z in (0.0, 40.0):
        arc = np.linalg.norm(np.diff(cone.flat(theta, z), axis=0), axis=1).sum()
        assert arc == pytest.approx(2 * np.pi * cone.radius_at(z), rel=1e-8)
    for at in (-np.pi, 0.7):
        low, high = cone.flat(at, np.array([0.0, 40.0]))
        assert np.linalg.norm(high - low) == pytest.approx(np.hypot(40, 40 * slope))
        assert cone.slant == pytest.approx(np.hypot(40, 40 * slope))


@given(SLOPE, RADIUS, st.floats(0.05, 1.5))
def test_a_helix_keeps_its_length_and_its_angle(slope: float, radius: float, rate: float) -> None:
    """Unrolling is an isometry: length and angle to the generators survive it."""
    cone = Cone(0, 40, radius, slope)
    z = np.linspace(0, 40, 40001)
    flat = cone.flat(rate * z / 4, z)
    length, _ = quad(lambda s: np.sqrt(1 + slope**2 + (rate / 4 * cone.radius_at(s)) ** 2), 0, 40)
    assert np.linalg.norm(np.diff(flat, axis=0), axis=1).sum() == pytest.approx(length, rel=1e-7)
    middle = 20000
    run = flat[middle + 1] - flat[middle - 1]
    up = np.subtract(*cone.flat(rate * z[middle] / 4, np.array([20.01, 19.99])))
    angle = np.arccos(run @ up / np.linalg.norm(run) / np.linalg.norm(up))
    expected = np.arctan2(rate / 4 * cone.radius_at(20.0), np.hypot(1, slope))
    assert angle == pytest.approx(expected, abs=1e-5)


def test_the_nearest_cone_errs_by_the_chebyshev_line() -> None:
    """The best line through x² on [0, 1] is x - 1/8, off by 1/8 (Cheney 1966, chapter 1)."""

    class Parabola:
        def radius(self, z: np.ndarray) -> np.ndarray:
            return 10 + np.asarray(z) ** 2

    cone = Cone.nearest(Parabola(), 0.0, 1.0)  # type: ignore[arg-type]
    assert cone.misfit == pytest.approx(1 / 8, abs=1e-4)
    assert cone.slope == pytest.approx(1.0, abs=1e-3)
    assert cone.radius == pytest.approx(10 - 1 / 8, abs=1e-3)


def test_a_straight_taper_is_one_piece_without_misfit() -> None:
    blank = Blank([0, 500], [20, 10])
    (cone,) = cones_along(blank, 100, 400)
    assert cone.misfit < 1e-9
    assert (cone.start, cone.end) == (100, 400)


def test_a_swelling_blank_is_cut_into_the_fewest_equal_pieces() -> None:
    blank = Blank([0, 200, 400, 600], [22, 20, 15, 8])
    cones = cones_along(blank, 20, 580)
    assert len(cones) > 1
    assert all(cone.misfit <= PAPER_FIT_MM for cone in cones)
    lengths = [cone.end - cone.start for cone in cones]
    np.testing.assert_allclose(lengths, 560 / len(cones))
    assert [cone.start for cone in cones[1:]] == [cone.end for cone in cones[:-1]]
    cuts = np.linspace(20, 580, len(cones))
    fewer = [Cone.nearest(blank, *cuts[n : n + 2]) for n in range(len(cones) - 1)]
    assert max(cone.misfit for cone in fewer) > PAPER_FIT_MM


def test_slant_is_the_meridian_within_a_hundredth() -> None:
    """A fitted cone's side is as long as the measured blank's meridian, integrated by itself."""
    blank = Blank([0, 200, 400, 600], [22, 20, 15, 8])
    for cone in cones_along(blank, 20, 580):
        meridian, _ = quad(lambda z: np.sqrt(1 + blank.slope(z) ** 2), cone.start, cone.end)
        assert cone.slant == pytest.approx(meridian, abs=0.01)


def test_paper_does_not_lie_on_a_bottle() -> None:
    blank = Blank([0, 1, 2, 600], [40, 20, 60, 1])
    with pytest.raises(GeometryError, match=r"^blank: .* bulges"):
        cones_along(blank, 0, 600, misfit=1e-4)


def test_split_where_a_value_crosses() -> None:
    line = np.array([[0.0, 0.0], [4.0, 8.0]])
    parts = split_at(line, line[:, 0], [1.0, 3.0])
    np.testing.assert_allclose(parts, [[[0, 0], [1, 2]], [[1, 2], [3, 6]], [[3, 6], [4, 8]]])


def test_split_at_a_point_of_the_line_itself() -> None:
    line = np.array([[0.0], [1.0], [2.0]])
    first, second = split_at(line, line[:, 0], [1.0])
    np.testing.assert_allclose(first, [[0], [1]])
    np.testing.assert_allclose(second, [[1], [2]])


def test_between_keeps_what_lies_inside() -> None:
    theta = np.linspace(0, 2 * np.pi, 721)
    wave = np.column_stack((theta, np.sin(theta)))
    (top,) = between(wave, wave[:, 1], 0.5, 2.0)
    # sin is 1/2 at 30 and at 150 degrees.
    np.testing.assert_allclose(np.rad2deg(top[[0, -1], 0]), (30, 150), atol=0.01)
    assert between(wave, wave[:, 1], 3.0, 4.0) == []


@given(st.floats(-9, 9), st.floats(0.2, 4))
def test_split_at_seam_keeps_length_and_place(first: float, turns: float) -> None:
    theta = np.linspace(first, first + 2 * np.pi * turns, 300)
    line = np.column_stack((theta, np.linspace(0, 50, 300)))
    parts = split_at_seam(line)
    assert all(np.abs(part[:, 0]).max() <= np.pi + 1e-9 for part in parts)
    total = sum(np.linalg.norm(np.diff(part, axis=0), axis=1).sum() for part in parts)
    assert total == pytest.approx(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())
    seams = np.floor((theta[[0, -1]] + np.pi) / (2 * np.pi))
    assert len(parts) == pytest.approx(seams[1] - seams[0] + 1, abs=1)
    for before, after in pairwise(parts):
        # Out at one edge of the sheet, in at the other, at the same height.
        np.testing.assert_allclose(before[-1], after[0] + (2 * np.pi, 0), atol=1e-9)
