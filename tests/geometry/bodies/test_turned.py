"""Bodies turned on the lathe, measured by trimesh and by the theorems of Pappus."""

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st

from geometry.bodies.turned import bevelled_tube, turned
from geometry.errors import GeometryError


def welded(mesh):
    """What trimesh makes of a mesh's bare triangles."""
    return trimesh.Trimesh(mesh.points.astype(np.float64), mesh.faces, process=True)


def polygon_share(angles):
    """Area of a regular polygon over that of its circle (Bronshtein & Semendyayev, 3.1.5)."""
    step = 2 * np.pi / angles
    return np.sin(step) / step


def pappus_volume(profile):
    """Volume swept by the area between a profile and the axis: 2 pi r̄ A (Pappus' second theorem).

    The area's moment about the axis, r̄ A, by trapezia: the integral of r²/2 along z.
    """
    z, r = np.asarray(profile, dtype=float).T
    moment = np.sum(np.diff(z) * (r[1:] ** 2 + r[1:] * r[:-1] + r[:-1] ** 2) / 6)
    return 2 * np.pi * moment


def test_frustum_has_the_volume_and_area_trimesh_measures():
    # reference.md: R 5, r 2, h 4 has V = 52 pi and the lateral area 35 pi.
    angles = 360
    body = welded(turned([(0, 5), (4, 2)], angles))
    share, single = polygon_share(angles), 1e-6
    assert body.volume == pytest.approx(52 * np.pi * share, rel=single)
    # Chords for arcs: the sides are short by at most (pi/n)²/6 round and the slant as much again.
    assert body.area == pytest.approx(35 * np.pi + 29 * np.pi * share, rel=(np.pi / angles) ** 2)


@given(
    steps=st.lists(
        # Never back over the same ground: two steps out and in at one place enclose nothing.
        st.tuples(st.floats(0.01, 30).map(lambda x: round(x, 2)), st.floats(0.5, 20)),
        min_size=0,
        max_size=8,
    ),
    angles=st.integers(3, 60),
)
def test_volume_agrees_with_pappus(steps, angles):
    forward, radius = zip((1.0, 4.0), *steps, (2.0, 3.0), strict=True)
    profile = np.column_stack((np.cumsum(forward), radius))
    body = welded(turned(profile, angles))
    assert body.is_watertight
    assert body.is_winding_consistent
    # Every section is a regular polygon, so the share is exact; points are single precision.
    expected = pappus_volume(profile) * polygon_share(angles)
    assert body.volume == pytest.approx(expected, rel=1e-4, abs=1e-3)


def test_normals_of_a_sphere_point_from_its_middle():
    steps = 60
    turn = np.linspace(-1.3, 1.3, steps + 1)
    profile = np.column_stack((7 + 5 * np.sin(turn), 5 * np.cos(turn)))
    mesh = turned(profile, 48)
    side = slice(0, (steps + 1) * 49)
    expected = (mesh.points[side] - (0, 0, 7)) / 5
    np.testing.assert_allclose(np.linalg.norm(mesh.normals, axis=1), 1, atol=1e-6)
    # The parabola through equal chords of a circle is exact inside; at an end its one-sided slope
    # is off by h²/3 of the third derivative.
    h = 2.6 / steps
    np.testing.assert_allclose(mesh.normals[side], expected, atol=h * h / 3 + 1e-6)
    inside = slice(49, steps * 49)
    np.testing.assert_allclose(mesh.normals[inside], expected[49:-49], atol=1e-5)


def test_normals_lean_as_trimeshs_own():
    z = np.linspace(0, 40, 161)
    mesh = turned(np.column_stack((z, 8 + np.sin(z / 5))), 240)
    body = trimesh.Trimesh(mesh.points, mesh.faces, process=False)
    side = slice(10 * 241, 150 * 241)
    on_seam = np.arange(161 * 241)[side] % 241 % 240 == 0
    cosine = np.einsum("ij,ij->i", body.vertex_normals[side], mesh.normals[side])[~on_seam]
    # Facets are 1.5 degrees apart round the axis and less along it.
    assert cosine.min() > np.cos(np.deg2rad(1.5))


def test_tangents_are_the_hoop_and_square_to_the_normals():
    mesh = turned([(0, 3), (5, 4), (9, 3.5)], 24)
    radial = mesh.points * (1, 1, 0)
    assert np.abs(np.einsum("ij,ij->i", mesh.tangents, mesh.normals)).max() < 1e-6
    off_axis = np.linalg.norm(radial, axis=1) > 0
    spin = np.cross(radial, mesh.tangents)[off_axis]
    assert (spin[:, 2] > 0).all()
    assert np.abs(mesh.tangents[:, 2]).max() == 0


def test_seam_is_closed_to_the_last_bit():
    mesh = turned([(0, 3), (5, 4), (9, 3.5)], 24)
    for array in (mesh.points, mesh.normals, mesh.tangents):
        ring = array[: 3 * 25].reshape(3, 25, 3)
        assert (ring[:, 0] == ring[:, -1]).all()
    assert mesh.uv[:75].reshape(3, 25, 2)[:, [0, -1], 0].tolist() == [[0, 1]] * 3


def test_a_point_given_twice_is_an_edge():
    mesh = turned([(0, 3), (5, 3), (5, 3), (5, 6), (5, 6), (9, 6)], 12)
    ring = mesh.normals[: 6 * 13].reshape(6, 13, 3)[:, 0]
    outward, down = (1, 0, 0), (0, 0, -1)
    np.testing.assert_allclose(ring, [outward, outward, down, down, outward, outward], atol=1e-7)
    assert welded(mesh).is_watertight


def test_ends_are_flat_discs_with_their_own_normals():
    mesh = turned([(2, 3), (5, 4)], 12)
    lower, upper = mesh.normals[26:40], mesh.normals[40:]
    assert lower.tolist() == [[0, 0, -1]] * 14
    assert upper.tolist() == [[0, 0, 1]] * 14
    assert mesh.points[26:40, 2].tolist() == [2] * 14
    body = trimesh.Trimesh(mesh.points, mesh.faces, process=False)
    # Faces agree with the normals given at their corners.
    agree = np.einsum("ij,ij->i", body.face_normals, mesh.normals[mesh.faces[:, 0]])
    assert agree.min() > 0.9


@pytest.mark.parametrize(
    ("profile", "angles", "sentence"),
    [
        ([(0, 3)], 12, "two points"),
        ([0, 3], 12, "two points"),
        ([(0, 3), (5, np.nan)], 12, "finite"),
        ([(0, 3), (5, 0)], 12, "not above 0"),
        ([(0, 3), (-1, 3)], 12, "from butt to tip"),
        ([(0, 3), (0, 3)], 12, "from butt to tip"),
        ([(0, 3), (5, 3)], 2, "less than 3"),
    ],
)
def test_what_cannot_be_turned_is_refused(profile, angles, sentence):
    with pytest.raises(GeometryError, match=sentence):
        turned(profile, angles)


@pytest.mark.parametrize(("wall", "bevel"), [(4.0, 4.0), (4.0, 2.5), (2.0, 5.0)])
def test_a_rounded_tube_has_the_volume_of_quarter_ellipses(wall, bevel):
    radius, length, angles = 14.0, 100.0, 180
    profile = bevelled_tube(20, 20 + length, radius, radius - wall, radius - wall, bevel)
    drop = min(wall, bevel)
    # Quarter of an ellipse: area pi a b / 4, centroid 4 b / (3 pi) from its middle (Bronshtein &
    # Semendyayev, 3.3.7), turned by Pappus' second theorem; below it a plain cylinder.
    inner = radius - drop
    rounded = 2 * np.pi * (inner + 4 * drop / (3 * np.pi)) * (np.pi * bevel * drop / 4)
    end = np.pi * inner**2 * bevel + rounded
    whole = 2 * end + np.pi * radius**2 * (length - 2 * bevel)
    body = welded(turned(profile, angles))
    # Twelve chords to the quarter lose 1 - sin(x)/x of its area, x = 7.5 degrees.
    lost = 2 * rounded * (1 - np.sinc(7.5 / 180))
    assert body.is_watertight
    assert body.volume == pytest.approx(whole * polygon_share(angles), abs=1.2 * lost)
    assert body.volume < whole


def test_a_rounded_tube_runs_from_the_blank_to_its_diameter_and_back():
    profile = bevelled_tube(10, 60, 12, 8.2, 7.9, 3, between=[5, 11, 30, 30.5, 59, 70])
    assert profile[0].tolist() == [10, 8.2]
    assert profile[-1].tolist() == [60, 7.9]
    assert (np.diff(profile[:, 0]) >= 0).all()
    assert profile[:, 1].max() == 12
    side = profile[(profile[:, 0] > 13.3) & (profile[:, 0] < 56.7)]
    assert side.tolist() == [[30, 12], [30.5, 12]]


def test_the_side_of_a_long_tube_is_lit_straight_from_the_shoulder_on():
    mesh = turned(bevelled_tube(0, 200, 12, 8, 8, 3), 24)
    z, axial = mesh.points[:, 2], mesh.normals[:, 2]
    assert np.abs(axial[(z > 3.2) & (z < 196.8)]).max() < 1e-6


def test_a_tube_of_nothing_but_rounding_is_smooth_at_its_top():
    mesh = turned(bevelled_tube(0, 6, 12, 9, 9, 5), 24)
    top = mesh.normals[np.isclose(mesh.points[:, 2], 3)]
    assert np.abs(top[:, 2]).max() < 1e-6
    assert welded(mesh).is_watertight


def test_a_tube_that_is_no_tube_is_refused():
    with pytest.raises(GeometryError, match="not beyond the start"):
        bevelled_tube(10, 10, 12, 8, 8, 3)
    with pytest.raises(GeometryError, match="not more than the blank's"):
        bevelled_tube(10, 60, 8, 7, 8, 3)
