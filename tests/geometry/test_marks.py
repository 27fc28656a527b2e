"""Strip marks, cord marks and steering against hand arithmetic and a walk on the mesh."""

import numpy as np
import pytest

from geometry.blank import Blank
from geometry.bodies.solid import solid
from geometry.grid import Grid
from geometry.layers.relief import MeshStrip
from geometry.marks import cord_marks, geodesic_curvature, strip_marks
from geometry.surface import Surface
from geometry.winding import Hand, constant_gap, fixed_angle, unsteered

CYLINDER = Blank(np.array([0.0, 400.0]), np.array([20.0, 20.0]))
CONE = Blank(np.array([0.0, 500.0]), np.array([22.0, 17.0]))
ALPHA = np.deg2rad(45)


def walk(blank: Blank, span: tuple[float, float], start: float, alpha: float) -> list[float]:
    """Walk round a triangle mesh of the blank at `alpha` to its meridians.

    Every step lies in the plane of the triangle underfoot; what the winding is integrated by is
    nowhere used. Returns where each whole turn comes out, mm from the butt.
    """
    grid = Grid.even(*span, 401, 720)
    mesh = solid(Surface.bare(blank, grid))
    points, (nz, nt) = np.asarray(mesh.vertices), (grid.z.size, grid.theta.size)
    dz, dt = grid.z[1] - grid.z[0], 2 * np.pi / nt
    theta, z, ds = 0.0, start, 0.05
    turns: list[float] = []
    while True:
        i, j = int((z - grid.z[0]) // dz), int(theta // dt)
        if i >= nz - 1:
            return turns
        u, v = theta / dt - j, (z - grid.z[0]) / dz - i
        j %= nt
        a, b = points[i * nt + j], points[i * nt + (j + 1) % nt]
        c, d = points[(i + 1) * nt + j], points[(i + 1) * nt + (j + 1) % nt]
        corner, one, two = (a, b - a, d - a) if u >= v else (a, d - a, c - a)
        normal = np.cross(one, two)
        outward = np.array([np.cos(theta), np.sin(theta), 0.0])
        here = outward * (normal @ (corner - [0, 0, z]) / (normal @ outward)) + [0, 0, z]
        hoop = np.array([-np.sin(theta), np.cos(theta), 0.0])
        meridian = np.cross(normal, hoop)
        meridian *= np.sign(meridian[2]) / np.linalg.norm(meridian)
        across = np.cross(normal, meridian)
        across *= np.sign(across @ hoop) / np.linalg.norm(across)
        there = here + ds * (np.cos(alpha) * meridian + np.sin(alpha) * across)
        turned = np.arctan2(there @ hoop, there @ outward)
        before, theta, last, z = theta, theta + turned, z, there[2]
        if theta // (2 * np.pi) > before // (2 * np.pi):
            part = (2 * np.pi * (theta // (2 * np.pi)) - before) / turned
            turns.append(last + part * (z - last))


def test_marks_agree_with_a_walk_on_the_mesh() -> None:
    winding = fixed_angle(CONE, (60, 340), ALPHA, origin=80.0)
    marks = strip_marks(winding, 10.0, 80, 320)
    walked = walk(CONE, (70.0, 330.0), 80.0, ALPHA)
    centres = (marks.lower + marks.upper) / 2
    assert len(walked) >= 3
    # The mesh's chords are short of the arc by (pi/720)²/6, and each step by ds² tan / 2 r.
    assert centres[1 : len(walked) + 1] == pytest.approx(walked[: len(centres) - 1], abs=0.05)


def test_marks_on_a_cylinder_by_hand() -> None:
    # r 10 at 45 degrees: p = 20 pi; a strip w wide is cut by a line along the blank over
    # w / sin 45; the first centre stands at the origin.
    winding = fixed_angle(CYLINDER, (50, 350), ALPHA, origin=100.0)
    marks = strip_marks(winding, 14.0, 100, 300)
    half = 7 * np.sqrt(2)
    centres = 100 + 20 * np.pi * np.arange(4)
    assert marks.lower == pytest.approx(centres - half)
    assert marks.upper == pytest.approx(centres + half)
    assert marks.gap == pytest.approx(np.full(4, 20 * np.pi - 2 * half))
    assert marks.turn.tolist() == [0, 1, 2, 3]


def test_two_starts_take_turns() -> None:
    winding = fixed_angle(CYLINDER, (50, 350), ALPHA, starts=2, origin=100.0)
    marks = strip_marks(winding, 8.0, 110, 250)
    assert marks.strip.tolist() == [1, 0, 1, 0]
    assert marks.turn.tolist() == [0, 0, 1, 1]
    assert np.diff(marks.lower) == pytest.approx(np.full(3, 10 * np.pi))


@pytest.mark.parametrize("hand", list(Hand))
def test_marks_are_where_the_laid_strip_has_its_edges(hand: Hand) -> None:
    """Read the built surface along the guide line: bare, relief, bare again."""
    winding = constant_gap(CONE, (20, 380), 20.0, 25.0, hand=hand, origin=100.0, start_angle=0.7)
    surface = Surface.bare(CONE, Grid.even(100, 300, 8001, 192))
    laid = MeshStrip(winding, 20.0, 0.7, 0.69, 0.3, 0.6, 100, 300, 1).apply(surface)
    column = laid.material[:, 0] == 1
    # Long yarns 0.7 apart and 0.69 wide leave slits that are no edges: close them.
    places = surface.z[np.flatnonzero(column)]
    ends = np.flatnonzero(np.diff(places) > 5)
    lower = np.concatenate(([places[0]], places[ends + 1]))
    upper = np.concatenate((places[ends], [places[-1]]))
    marks = strip_marks(winding, 20.0, 100, 300)
    inside = (marks.lower > 101) & (marks.upper < 299)
    assert inside.sum() >= 2
    for at in marks.lower[inside]:
        assert np.abs(lower - at).min() < 0.1
    # A cut between yarns: the upper edge ends in open cells.
    for at in marks.upper[inside]:
        assert np.abs(upper - at).min() < 0.1 + 0.02 / np.sin(np.deg2rad(40))


def test_a_constant_gap_is_constant() -> None:
    winding = constant_gap(CONE, (20, 480), 20.0, 25.0)
    gap = strip_marks(winding, 20.0, 80, 420).gap
    assert gap[np.isfinite(gap)] == pytest.approx(25.0, abs=0.02)


def test_a_geodesic_needs_no_steering() -> None:
    winding = unsteered(CONE, (50, 400), ALPHA, 200.0)
    assert np.abs(geodesic_curvature(winding, CONE)).max() < 1e-7


def test_steering_a_loxodrome() -> None:
    # At a fixed angle on a cone kappa_g = sin(gamma) sin(alpha) / r: Liouville with d(alpha) = 0.
    winding = fixed_angle(CONE, (50, 400), ALPHA)
    gamma = np.arctan(2.5 / 500)
    by_hand = -np.sin(gamma) * np.sin(ALPHA) / CONE.radius(winding.z)
    assert geodesic_curvature(winding, CONE) == pytest.approx(by_hand, rel=1e-6)


def test_cords_by_hand() -> None:
    # r 10 at 45 degrees: a cord turns by z / 10 rad; after 20 pi it is at its own mark again.
    for hand in Hand:
        winding = fixed_angle(CYLINDER, (50, 350), ALPHA, starts=8, hand=hand, origin=100.0)
        assert cord_marks(winding, 100.0) * 10 % (20 * np.pi) == pytest.approx(
            (hand.sign * np.arange(8) * 20 * np.pi / 8) % (20 * np.pi), abs=1e-6
        )
        quarter = cord_marks(winding, 100 + 5 * np.pi)
        assert quarter[0] == pytest.approx(np.pi / 2 if hand is Hand.RIGHT else 3 * np.pi / 2)
        whole = cord_marks(winding, 100 + 20 * np.pi)
        assert np.cos(whole) == pytest.approx(np.cos(cord_marks(winding, 100.0)), abs=1e-5)
