"""Guides: tubes against closed forms and trimesh, the foot as thread meets it."""

import numpy as np
import pytest
import trimesh
from scipy.spatial import ConvexHull

from geometry.blank import Blank
from geometry.bodies.guide import GuideFoot, GuideSizes, guide_frame, guide_ring, tube
from geometry.errors import GeometryError
from geometry.grid import Grid
from geometry.layers.cover import Cover
from geometry.surface import Surface

BLANK = Blank([600, 700], [14, 14])
FOOT = GuideFoot(at=650, length=26, width=5.2, height=0.7, material=1)


def surface(angles=480):
    return Surface.bare(BLANK, Grid.even(630, 670, 401, angles))


def bodies(mesh):
    """The separate closed bodies of a mesh, as trimesh sees them."""
    whole = trimesh.Trimesh(mesh.points.astype(np.float64), mesh.faces, process=True)
    return whole.split(only_watertight=False)


def circle(radius, count):
    turn = np.arange(count) * (2 * np.pi / count)
    return np.column_stack((radius * np.cos(turn), radius * np.sin(turn), np.zeros(count)))


def test_a_straight_tube_is_an_elliptic_cylinder():
    path = np.column_stack((np.zeros(9), np.zeros(9), np.linspace(0, 12, 9)))
    mesh = tube(path, np.array((1.0, 0, 0)), 2.0, 0.5, sides=90)
    (body,) = bodies(mesh)
    # An inscribed polygon of even eccentric angles is an affine image of a regular one.
    share = np.sin(2 * np.pi / 90) / (2 * np.pi / 90)
    assert body.is_watertight
    assert body.volume == pytest.approx(np.pi * 2 * 0.5 * 12 * share, rel=1e-5)
    # Gradient of x²/a² + y²/b², which is square to the ellipse.
    side = np.abs(mesh.normals[:, 2]) < 0.5
    gradient = mesh.points[side] / (4.0, 0.25, 1) * (1, 1, 0)
    gradient /= np.linalg.norm(gradient, axis=1, keepdims=True)
    np.testing.assert_allclose(mesh.normals[side], gradient, atol=1e-6)


def test_a_tube_round_a_circle_is_trimeshs_torus():
    mesh = tube(circle(6.0, 80), np.array((0, 0, 1.0)), 0.7, 0.7, sides=32, closed=True)
    (body,) = bodies(mesh)
    reference = trimesh.creation.torus(6.0, 0.7, major_sections=80, minor_sections=32)
    assert body.is_watertight
    assert body.volume == pytest.approx(reference.volume, rel=1e-5)
    # 2 pi² R r² (Pappus), less what the chords cut off: half of step² / 3 for each polygon.
    cut = ((2 * np.pi / 80) ** 2 + (2 * np.pi / 32) ** 2) / 6
    assert body.volume == pytest.approx(2 * np.pi**2 * 6 * 0.7**2, rel=1.1 * cut)
    middle = mesh.points * (1, 1, 0)
    middle *= 6 / np.linalg.norm(middle, axis=1, keepdims=True)
    np.testing.assert_allclose(mesh.normals, (mesh.points - middle) / 0.7, atol=2e-6)


def test_a_section_does_not_twist_along_a_helix():
    # A frame without twist falls behind the Frenet frame by the torsion times the length, and a
    # helix (a cos t, a sin t, c t) has the torsion c / (a² + c²) ([DoCarmo], section 1-5).
    a, c, count = 5.0, 2.0, 401
    t = np.linspace(0, 3.0, count)
    path = np.column_stack((a * np.cos(t), a * np.sin(t), c * t))
    frenet = np.column_stack((-np.cos(t), -np.sin(t), np.zeros(count)))
    sides = 12
    mesh = tube(path, frenet[0], 0.5, 0.3, sides=sides)
    first = mesh.points[: count * (sides + 1)].reshape(count, sides + 1, 3)[:, 0] - path
    ahead = np.column_stack((-a * np.sin(t), a * np.cos(t), np.full(count, c)))
    binormal = np.cross(ahead / np.hypot(a, c), frenet)
    angle = np.arctan2(np.einsum("ij,ij->i", first, binormal), np.einsum("ij,ij->i", first, frenet))
    expected = -c / (a * a + c * c) * np.hypot(a, c) * t
    # Points are single precision on a section of 0.5 mm; tangents are of second order.
    np.testing.assert_allclose(np.unwrap(angle), expected, atol=2e-4)


def test_open_tubes_have_flat_ends_facing_outward():
    path = np.column_stack((np.linspace(0, 9, 7), np.linspace(0, 1, 7) ** 2, np.zeros(7)))
    mesh = tube(path, np.array((0, 0, 1.0)), 0.6, 0.4)
    body = trimesh.Trimesh(mesh.points, mesh.faces, process=False)
    agree = np.einsum("ij,ij->i", body.face_normals, mesh.normals[mesh.faces[:, 0]])
    assert agree.min() > 0.9
    assert bodies(mesh)[0].is_watertight


def test_the_foot_is_as_long_wide_and_high_as_a_caliper_would_say():
    bare, laid = surface(), FOOT.apply(surface())
    raised = laid.radius - bare.radius
    step_z, step_hoop = bare.step, 7 * 2 * np.pi / 480
    assert raised.max() == pytest.approx(0.7, abs=1e-9)
    station, column = np.nonzero(raised > 0)
    assert np.ptp(bare.z[station]) == pytest.approx(26, abs=2 * step_z)
    across = 7 * ((bare.theta[column] + np.pi) % (2 * np.pi) - np.pi)
    assert np.ptp(across) == pytest.approx(5.2, abs=2 * step_hoop)
    assert (laid.material == 1)[raised > 0].all()
    assert (laid.material == 0)[raised == 0].all()
    assert raised.min() == 0


def test_the_foot_is_the_same_on_both_sides_of_the_guide_line_and_to_both_ends():
    raised = FOOT.apply(surface()).radius - 7
    np.testing.assert_allclose(raised[:, 1:], raised[:, :0:-1], atol=1e-9)
    np.testing.assert_allclose(raised, raised[::-1], atol=1e-9)


def test_a_foot_turned_round_the_blank_is_the_same_foot():
    turned = GuideFoot(650, 26, 5.2, 0.7, 1, theta=2 * np.pi * 100 / 480).apply(surface())
    expected = np.roll(FOOT.apply(surface()).radius, 100, axis=1)
    np.testing.assert_allclose(turned.radius, expected, atol=1e-9)


def test_thread_climbs_the_foot_without_a_step():
    bare, crest = surface(), FOOT.apply(surface()).radius[:, 0]
    rise = np.sort(np.abs(np.diff(crest)))
    # The ramp is 3x² - 2x³, steepest at 3/2 of its mean: 0.95 x 0.7 mm over 3/4 of half the foot.
    steepest = 1.5 * 0.95 * 0.7 / (0.75 * 13) * bare.step
    assert rise[-3] <= steepest
    # Both tips are a twentieth of the height: a fifth of a thread.
    assert rise[-2:].max() <= 0.05 * 0.7 + steepest


def test_thread_spans_from_the_foot_down_to_the_blank():
    laid = FOOT.apply(surface())
    bound = Cover(640, 646, 0.17, 0.17, 2).apply(laid)
    station = int(np.argmin(np.abs(laid.z - 643)))
    flat = laid.radius[station][:, None] * np.column_stack((np.cos(laid.theta), np.sin(laid.theta)))
    corners = ConvexHull(flat).vertices  # SciPy's Qhull
    spanned = np.setdiff1d(np.arange(480), corners)
    assert spanned.size > 20
    # Over a corner of the hull the thread adds at least its own diameter; over a span, more.
    added = bound.radius[station] - laid.radius[station]
    assert added[corners].min() >= 0.17 - 1e-9
    assert added[spanned].max() > 0.3


@pytest.mark.parametrize(("length", "radius"), [(2, 0.6), (11, 3), (26, 7), (60, 6), (150, 10)])
def test_frames_and_rings_are_closed_and_face_outward(length, radius):
    sizes = GuideSizes.of(length, radius)
    frame, ring = guide_frame(650, radius, sizes), guide_ring(650, radius, sizes)
    parts = bodies(frame)
    assert len(parts) == 4
    for body in (*parts, *bodies(ring)):
        assert body.is_watertight
        assert body.volume > 0
    for mesh in (frame, ring):
        assert len(mesh.faces) < 20_000
        np.testing.assert_allclose(np.linalg.norm(mesh.normals, axis=1), 1, atol=1e-5)
        corners = mesh.points[mesh.faces].astype(np.float64)
        faces = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        assert (np.einsum("ij,ij->i", faces, mesh.normals[mesh.faces[:, 0]]) > 0).all()


@pytest.mark.parametrize(("length", "radius"), [(2, 0.6), (26, 7), (150, 10)])
def test_the_line_runs_clear_through_the_ring(length, radius):
    sizes = GuideSizes.of(length, radius)
    ring = guide_ring(650, radius, sizes)
    # Everything of the guide that is near the line, seen along the rod.
    middle = np.array((radius + sizes.stand, 0.0))
    for mesh in (ring, guide_frame(650, radius, sizes)):
        high = mesh.points[:, 0] > radius + sizes.height + 2 * sizes.wire
        away = np.linalg.norm(mesh.points[high, :2] - middle, axis=1)
        assert away.min() > 0.6 * sizes.ring
    # The ring stands clear of the blank and its foot.
    assert ring.points[:, 0].min() > radius + sizes.height


def test_the_frame_stands_on_the_bare_middle_of_the_foot():
    sizes = GuideSizes.of(26, 7)
    frame = guide_frame(650, 7, sizes)
    low = frame.points[frame.points[:, 0] < 7 + sizes.height]
    assert np.abs(low[:, 2] - 650).max() <= 1.01 * sizes.bare / 2
    # The legs spread to the ring as they rise.
    assert np.abs(low[:, 1]).max() <= 1.1 * sizes.width / 2
    turned = guide_frame(650, 7, sizes, theta=np.pi / 2)
    # A quarter turn takes x to y and y to -x.
    np.testing.assert_allclose(turned.points, frame.points[:, [1, 0, 2]] * (-1, 1, 1), atol=2e-4)


def test_sizes_stay_sensible():
    small, large = GuideSizes.of(2, 0.5), GuideSizes.of(150, 12)
    assert small.width <= 0.8 * 0.5
    assert small.bare < small.length / 2
    assert large.width <= 6
    assert large.ring <= 14
    assert GuideSizes.of(20, 6).width == pytest.approx(0.22 * 20)
    for wrong in ((0, 5), (-3, 5), (20, 0), (float("nan"), 5)):
        with pytest.raises(GeometryError, match=r"^length: .* above 0"):
            GuideSizes.of(*wrong)
