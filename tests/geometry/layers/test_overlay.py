"""Interrupted overlays: places and heights of rows by hand, on cylinder, cone and ridges."""

import numpy as np
import pytest
from scipy.spatial import ConvexHull

from geometry.blank import Blank
from geometry.grid import Grid
from geometry.layers.cover import Cover
from geometry.layers.overlay import Overlay, Strand, nested
from geometry.layers.rows import Rows
from geometry.surface import Surface

STEP = 0.005
KEPT, REMOVED = Strand(0.2, 5), Strand(0.2, 6, removed=True)


def bare(start: float = 20.0, end: float = 20.0, angles: int = 192) -> Surface:
    blank = Blank(np.array([0.0, 30.0]), np.array([start, end]))
    return Surface.bare(blank, Grid.even(0.0, 16.0, 3201, angles))


def crests_at(surface: Surface, column: int, material: int) -> np.ndarray:
    """Where the middles of threads of a material cross a generator, mm."""
    on = surface.material[:, column] == material
    edges = np.flatnonzero(np.diff(on.astype(int)))
    return (surface.z[edges[::2] + 1] + surface.z[edges[1::2]]) / 2


def test_places_of_rows_by_hand() -> None:
    laid = Overlay(2.0, 14.0, (KEPT, REMOVED), 0.44).apply(bare())
    # At the guide line: 2 + 0.44 m + 0.11, for each of 27 repeats in 12 mm.
    np.testing.assert_allclose(
        crests_at(laid, 0, 5)[:27], 2.11 + 0.44 * np.arange(27), atol=1.01 * STEP
    )
    assert 6 not in laid.material
    # A quarter of a turn on, a quarter of a repeat up the blank: threads are wound together.
    quarter = crests_at(laid, 48, 5)
    wanted = 2.11 + 0.11 + 0.44 * np.arange(-1, 30)
    assert all(np.abs(wanted - at).min() < 1.5 * STEP for at in quarter[1:-1])


def test_closed_at_two_pi() -> None:
    laid = Overlay(2.0, 14.0, (KEPT, REMOVED), 0.44).apply(bare(angles=960))
    first, last = crests_at(laid, 0, 5)[2:-2], crests_at(laid, 959, 5)
    assert all(np.abs(last - at).min() < 2 * STEP for at in first)


def test_what_is_pulled_out_leaves_what_lies_beneath() -> None:
    under = Cover(1.0, 15.0, 0.2, 0.2, 1).apply(bare())
    laid = Overlay(2.0, 14.0, (KEPT, REMOVED), 0.4).apply(under)
    free = laid.material == 1
    for name in ("radius", "row", "lay", "along", "tube"):
        np.testing.assert_array_equal(getattr(laid, name)[free], getattr(under, name)[free])
    inside = laid.between(2.0, 14.0)
    assert free[inside].mean() == pytest.approx(0.5, abs=0.01)
    assert laid.tube[laid.material == 5].all()


def test_a_thread_lies_lower_in_a_cleft_than_on_a_crest() -> None:
    # Two circles of one radius a on a row of such: 2a over a crest, sqrt(3) a over a cleft.
    pitch, half = np.full(3, 0.2), np.full(3, 0.1)
    low = nested(np.array([0.0, 0.1, 0.3]), pitch, half)
    np.testing.assert_allclose(low, [0, 0.1 * np.sqrt(3) - 0.2, 0.1 * np.sqrt(3) - 0.2])
    assert nested(np.array(0.05), np.array(np.inf), np.array(0.1)) == 0


def test_height_of_rows_over_rows() -> None:
    under = Cover(1.0, 15.0, 0.2, 0.2, 1).apply(bare())
    laid = Overlay(2.0, 14.0, (KEPT, REMOVED), 0.41).apply(under)
    top = np.array(
        [laid.radius[np.abs(laid.z - at) < 0.05, 0].max() for at in crests_at(laid, 0, 5)[:-1]]
    )
    # From a crest (r + 2 d) to a cleft (r + d + sqrt(3)/2 d), and every height between as the
    # pitch brings it: row k is 0.41 k from the first, the rows beneath 0.2 apart, from 1.0 on.
    x = (crests_at(laid, 0, 5)[:-1] - 1.0) % 0.2
    x = np.minimum(x, 0.2 - x)
    wanted = 10.2 + np.sqrt(0.2**2 - x**2)
    np.testing.assert_allclose(top, wanted, atol=0.003)
    assert top.max() - top.min() == pytest.approx(0.2 * (1 - np.sqrt(3) / 2), abs=0.003)


def test_on_a_cone_a_row_stands_square_to_it() -> None:
    # Slope t: the middle of a thread that touches at z stands a sin(angle) nearer the thick end.
    cone = bare(24.0, 18.0)
    laid = Overlay(2.0, 14.0, (KEPT, REMOVED), 0.44).apply(cone)
    tangent = -0.1
    shift = -0.1 * tangent / np.hypot(1, tangent)
    found = crests_at(laid, 0, 5)
    wanted = 2.11 + shift + 0.44 * np.arange(27)
    np.testing.assert_allclose(found[:27], wanted, atol=1.01 * STEP)


def test_threads_are_taut_over_ridges() -> None:
    # The middle of a thread follows the convex hull of the section (SciPy's Qhull).
    surface = bare()
    angle = surface.theta
    radius = surface.radius + 0.6 * (np.arange(angle.size) % 48 == 0)
    laid = Overlay(2.0, 14.0, (KEPT,), 0.2).apply(surface.with_arrays(radius=radius))
    points = radius[1600][:, None] * np.column_stack((np.cos(angle), np.sin(angle)))
    corners = points[ConvexHull(points).vertices]
    rows = Rows.of(laid)
    over = rows.crest[1600] - 0.2
    for theta, found in zip(angle, over, strict=True):
        across = corners @ np.array((np.cos(theta), np.sin(theta)))
        assert found <= across.max() + 1e-3
    np.testing.assert_allclose(over[::48], 10.6, atol=2e-3)
    # Half-way between ridges 90 degrees apart: the chord's middle, (r + h) cos 45, is inside.
    assert over[24] == pytest.approx(10.0, abs=2e-3)


def test_length_of_a_strand() -> None:
    # n sqrt((2 pi (r + d/2))² + p²), n = 12 / 0.44, by hand; 768 chords for the round.
    surface = bare(angles=768)
    kept, removed = Overlay(2.0, 14.0, (KEPT, REMOVED), 0.44).lengths(surface)
    exact = 12 / 0.44 * np.hypot(2 * np.pi * 10.1, 0.44)
    assert kept == pytest.approx(exact, rel=1e-5)
    assert removed == kept


def test_the_other_way_round_is_the_mirror_image() -> None:
    # Kept and removed in the other order: the same stripes, half a repeat on.
    one = Overlay(2.0, 14.0, (KEPT, REMOVED), 0.4).apply(bare())
    other = Overlay(2.2, 14.2, (REMOVED, KEPT), 0.4).apply(bare())
    inside = one.between(3.0, 13.0)
    same = (one.material == 5)[inside] == (other.material == 5)[inside]
    assert same.mean() > 0.97
