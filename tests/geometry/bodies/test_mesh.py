"""Triangles: closed, facing out, with normals and tangents that trimesh and calculus agree to."""

import numpy as np
import pytest
import trimesh

from geometry.blank import Blank
from geometry.bodies.mesh import enclosed_volume, skin
from geometry.bodies.solid import solid
from geometry.grid import Grid
from geometry.layers.cover import Cover
from geometry.layers.relief import MeshStrip
from geometry.layers.trim import Edge, Ring, SeamTrim, StripEdge, TrimThread
from geometry.surface import Surface
from geometry.winding import Hand, constant_gap

NZ, NT = 241, 360
BLANK = Blank([0, 60], [19.6, 18.4])


def bare(stations=NZ, angles=NT):
    return Surface.bare(BLANK, Grid.even(0, 60, stations, angles))


def wavy():
    surface = bare()
    z, theta = surface.z[:, None], surface.theta[None, :]
    return surface.with_arrays(radius=8 + 0.4 * np.cos(3 * theta) * np.sin(z / 4))


def wrap(hand=Hand.RIGHT):
    line = constant_gap(BLANK, (-80, 140), 18.0, 20.0, hand=hand)
    surface = MeshStrip(line, 18.0, 2.9, 0.6, 0.3, 0.5, 8, 52, 1).apply(bare())
    surface = Cover(4, 56, 0.2, 0.2, 2).apply(surface)
    threads = (TrimThread(0.5, 3), TrimThread(0.5, 4))
    for edge in Edge:
        surface = SeamTrim(StripEdge(line, 18.0, edge), threads, 0.0, 8, 52).apply(surface)
    return surface


def grid_of(array, surface):
    nz, nt = surface.shape
    return array.reshape(nz, nt + 1, *array.shape[1:])


# ---- The solid


@pytest.mark.parametrize("make", [bare, wavy, wrap])
def test_solid_is_watertight_and_faces_outward_by_trimesh(make):
    mesh = solid(make())
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.euler_number == 2
    assert mesh.volume > 0


def test_a_wrap_has_more_volume_than_its_blank_by_what_was_laid_on_it():
    # Volumes of two solids on the same grid: the difference is the integral of (R² - r²) / 2.
    outer, inner = wrap(), bare()
    laid = solid(outer).volume - solid(inner).volume
    step = 2 * np.pi / NT
    ring = (outer.radius * np.roll(outer.radius, -1, axis=1)).sum(axis=1)
    ring -= (inner.radius * np.roll(inner.radius, -1, axis=1)).sum(axis=1)
    by_hand = np.trapezoid(ring * np.sin(step) / 2, outer.z)
    # Between rows a twisted quadrilateral is cut along one diagonal: of second order in the step.
    assert laid == pytest.approx(by_hand, rel=5e-3)


@pytest.mark.parametrize("make", [bare, wavy, wrap])
def test_the_volume_inside_is_the_solids_by_trimesh(make):
    # trimesh 5: Trimesh.volume, by Mirtich's integrals over the same triangles.
    surface = make()
    assert enclosed_volume(surface) == pytest.approx(solid(surface).volume, rel=1e-12)


# ---- The skin


def as_trimesh(mesh):
    return trimesh.Trimesh(mesh.points.astype(float), mesh.faces, process=False)


@pytest.mark.parametrize("make", [bare, wavy, wrap])
def test_skin_is_an_open_tube_that_faces_outward(make):
    surface = make()
    built = skin(surface)
    mesh = as_trimesh(built)
    assert built.faces.shape == (2 * (NZ - 1) * NT, 3)
    assert mesh.is_winding_consistent
    middle = mesh.triangles_center * (1, 1, 0)
    assert (np.einsum("ij,ij->i", mesh.face_normals, middle) > 0).all()
    # Sewn up at theta = 2 pi it has two ends and no other open edge.
    mesh.merge_vertices(merge_tex=True, merge_norm=True)
    open_edges = trimesh.grouping.group_rows(mesh.edges_sorted, require_count=1)
    assert len(open_edges) == 2 * NT
    assert mesh.euler_number == 0


def test_points_lie_on_the_surface():
    surface = wrap()
    points = grid_of(skin(surface).points, surface).astype(float)
    # float32 of numbers up to 60.
    np.testing.assert_allclose(
        np.hypot(points[..., 0], points[..., 1])[:, :NT], surface.radius, atol=2e-6
    )
    np.testing.assert_allclose(points[..., 2], surface.z[:, None] + np.zeros(NT + 1), atol=4e-6)
    turn = np.arctan2(points[..., 1], points[..., 0]) % (2 * np.pi)
    np.testing.assert_allclose(turn[:, 1:NT], surface.theta[1:] + np.zeros((NZ, 1)), atol=1e-6)


def test_the_seam_columns_are_identical():
    surface = wrap()
    mesh = skin(surface)
    for array in (mesh.points, mesh.normals, mesh.tangents, mesh.material):
        columns = grid_of(array, surface)
        np.testing.assert_array_equal(columns[:, NT], columns[:, 0])


def between(a, b):
    """Angles between unit vectors, degrees."""
    return np.rad2deg(2 * np.arcsin(np.clip(np.linalg.norm(a - b, axis=-1) / 2, 0, 1)))


def test_normals_of_a_smooth_surface_agree_with_trimesh_and_calculus():
    surface = wavy()
    mesh = skin(surface)
    sewn = as_trimesh(mesh)
    sewn.merge_vertices(merge_tex=True, merge_norm=True)
    # trimesh averages the faces round a vertex by their angles; both are second order in the step.
    found = {tuple(p): n for p, n in zip(sewn.vertices, sewn.vertex_normals, strict=True)}
    inner = slice(1, -1)
    points = grid_of(mesh.points, surface)[inner, :NT].reshape(-1, 3).astype(float)
    trimeshs = np.array([found[tuple(p)] for p in points])
    ours = grid_of(mesh.normals, surface)[inner, :NT].reshape(-1, 3).astype(float)
    assert between(ours, trimeshs).max() < 0.1
    # P_theta x P_z of P = (r cos, r sin, z), by hand.
    z, theta = surface.z[inner, None], surface.theta[None, :]
    r = surface.radius[inner]
    r_theta = -1.2 * np.sin(3 * theta) * np.sin(z / 4)
    r_z = 0.1 * np.cos(3 * theta) * np.cos(z / 4)
    exact = np.stack(
        (
            r * np.cos(theta) + r_theta * np.sin(theta),
            r * np.sin(theta) - r_theta * np.cos(theta),
            -r * r_z,
        ),
        axis=-1,
    )
    exact /= np.linalg.norm(exact, axis=-1, keepdims=True)
    # Central differences: h²/6 of the third derivatives, 0.4 · 27 / 8 and 0.4 / 64.
    error = np.rad2deg((2 * np.pi / NT) ** 2 / 6 * 0.4 * 27 / 7.6 + 0.25**2 / 6 * 0.4 / 64)
    assert between(ours.reshape(exact.shape), exact).max() < error + 0.001


@pytest.mark.parametrize("make", [bare, wavy, wrap])
def test_normals_and_tangents_are_unit_and_square_to_each_other(make):
    mesh = skin(make())
    normals, tangents = mesh.normals.astype(float), mesh.tangents.astype(float)
    np.testing.assert_allclose(np.linalg.norm(normals, axis=1), 1, atol=1e-6)
    np.testing.assert_allclose(np.linalg.norm(tangents, axis=1), 1, atol=1e-6)
    assert np.abs((normals * tangents).sum(axis=1)).max() < 1e-6


def test_tangents_of_the_cover_run_round_the_hoop():
    surface = wrap()
    mesh = skin(surface)
    cover = (mesh.material == 2) & (np.abs(mesh.normals[:, 2]) < 0.5)
    tangents, points = mesh.tangents[cover].astype(float), mesh.points[cover].astype(float)
    np.testing.assert_allclose(tangents[:, 2], 0, atol=1e-6)
    hoop = np.stack((-points[:, 1], points[:, 0]), axis=1)
    assert ((tangents[:, :2] * hoop).sum(axis=1) > 0).all()


@pytest.mark.parametrize("hand", Hand)
def test_tangents_of_a_trim_follow_its_helix(hand):
    # On a cylinder: the unit tangent of a helix at alpha to the axis is sin(alpha) round the hoop
    # and cos(alpha) along the axis; a left-hand one runs the other way round. Lines have no sense
    # of direction, so the sign is free.
    tube = Blank([0, 60], [19, 19])
    surface = Surface.bare(tube, Grid.even(0, 60, NZ, NT))
    line = constant_gap(tube, (-80, 140), 18.0, 20.0, hand=hand)
    alpha = float(line.angle_at(30.0))
    edge = StripEdge(line, 18.0, Edge.UPPER)
    laid = SeamTrim(edge, (TrimThread(0.9, 3),), 0.0, 0, 60).apply(surface)
    mesh = skin(laid)
    on_crest = grid_of(mesh.material, surface)[:, :NT] == 3
    on_crest &= np.abs(laid.row - 0.5) < 0.05
    # At the surface's own ends slopes are one-sided.
    on_crest[[0, -1]] = False
    tangents = grid_of(mesh.tangents, surface)[:, :NT][on_crest].astype(float)
    theta = np.broadcast_to(surface.theta, surface.shape)[on_crest]
    zero = np.zeros_like(theta)
    helix = np.sin(alpha) * np.stack((-np.sin(theta), np.cos(theta), zero), axis=1)
    helix += hand.sign * np.cos(alpha) * np.array([0, 0, 1])
    # Within a twentieth of the crest the tube leans by up to asin(0.1), 5.7 degrees, and the
    # tangent is laid into that plane: it leans from the helix by less than lean²/2 and the grid.
    along = np.abs((tangents * helix).sum(axis=1))
    assert np.rad2deg(np.arccos(np.minimum(along, 1))).max() < 6


def test_texture_runs_once_round_and_once_along():
    surface = wrap()
    uv = grid_of(skin(surface).uv, surface)
    np.testing.assert_allclose(uv[..., 0], np.arange(NT + 1) / NT + np.zeros((NZ, 1)), atol=1e-7)
    np.testing.assert_allclose(uv[..., 1], np.linspace(0, 1, NZ)[:, None] + np.zeros(NT + 1))


def test_thread_coordinates_run_on_over_the_seam():
    # The column at 2 pi stands one step beyond the last: wound thread has climbed on to the next
    # row there, and has run a whole turn's length.
    surface = Cover(4, 56, 0.2, 0.2, 2).apply(bare())
    mesh = skin(surface)
    on = surface.between(4, 56)
    for array in (mesh.row, mesh.along):
        columns = grid_of(array, surface)[on].astype(float)
        steps = np.diff(columns, axis=1)
        np.testing.assert_allclose(steps[:, -1], steps[:, 0], rtol=1e-2, atol=1e-4)
    bare_rows = grid_of(mesh.row, surface)[: on.start]
    assert not bare_rows.any()


def test_a_ring_is_one_thread_all_the_way_round():
    surface = SeamTrim(Ring(30, Edge.UPPER), (TrimThread(0.9, 3),), 0, 0, 60).apply(bare())
    mesh = skin(surface)
    on = (surface.material == 3).all(axis=1)
    assert on.any()
    row = grid_of(mesh.row, surface)[on]
    np.testing.assert_array_equal(row[:, NT], row[:, 0])
    along = grid_of(mesh.along, surface)[on].astype(float)
    np.testing.assert_allclose(along[:, NT], 2 * np.pi * BLANK.radius(30.45), rtol=1e-3)


@pytest.mark.parametrize("hand", Hand)
def test_a_left_hand_wrap_mirrors_a_right_hand_one_through_every_layer(hand):
    surface, mirrored = wrap(hand), wrap(Hand.LEFT if hand is Hand.RIGHT else Hand.RIGHT)
    mirror = -np.arange(NT)
    np.testing.assert_allclose(mirrored.radius, surface.radius[:, mirror], atol=1e-6)
    np.testing.assert_array_equal(mirrored.material, surface.material[:, mirror])
