"""The close-wound cover: one thread thick over the hull, and as long as in theory."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.spatial import ConvexHull

from geometry.blank import Blank
from geometry.grid import Grid
from geometry.layers.cover import Cover, steiner_length, wound_length
from geometry.layers.drape import hull_radius
from geometry.layers.relief import MeshStrip
from geometry.surface import Surface
from geometry.winding import Hand, fixed_angle

THREAD = 0.16


def tube(radius=9.65, nt=360, length=20.0, stations=101):
    return Surface.bare(
        Blank([0, length], [2 * radius, 2 * radius]), Grid.even(0, length, stations, nt)
    )


def cover(**changes):
    given = {"start": 2.0, "end": 18.0, "diameter": THREAD, "laid_width": THREAD, "material": 7}
    return Cover(**given | changes)


# ---- Shape


def test_on_the_bare_blank_it_adds_its_own_thickness():
    beneath = tube()
    wound = cover().apply(beneath)
    inside = (beneath.z >= 2 - 1e-9) & (beneath.z <= 18 + 1e-9)
    np.testing.assert_allclose(wound.radius[inside], 9.65 + THREAD, rtol=1e-14)
    assert (wound.material[inside] == 7).all()
    np.testing.assert_array_equal(wound.radius[~inside], beneath.radius[~inside])
    assert (wound.material[~inside] == 0).all()
    assert not wound.row[~inside].any()


def distance_to_polygon(points, corners):
    """Distance of each point to the nearest side of a closed polygon."""
    a, b = corners, np.roll(corners, -1, axis=0)
    side = b - a
    t = ((points[:, None] - a) * side).sum(-1) / (side**2).sum(-1)
    foot = a + np.clip(t, 0, 1)[..., None] * side
    return np.hypot(*np.moveaxis(points[:, None] - foot, -1, 0)).min(axis=1)


@pytest.mark.parametrize(("ridges", "height"), [(6, 2.0), (8, 1.0), (12, 0.6)])
def test_over_facets_it_lies_one_thread_outside_qhulls_polygon(ridges, height):
    nt = 2880
    beneath = tube(nt=nt, stations=3, length=1.0)
    radius = beneath.radius.copy()
    radius[:, :: nt // ridges] += height
    wound = cover(start=0, end=1).apply(beneath.with_arrays(radius=radius)).radius[1]
    turn = np.stack((np.cos(beneath.theta), np.sin(beneath.theta)), axis=1)
    sharp = radius[1, :, None] * turn
    corners = sharp[ConvexHull(sharp).vertices]
    away = distance_to_polygon(wound[:, None] * turn, corners)
    # The lean is a central difference: its error is a third of the step squared, of d; at a
    # corner the two facets' offsets meet in a mitre, d / cos(pi / n).
    step = 2 * np.pi / nt
    assert away.min() > THREAD * (1 - step**2)
    assert away.max() < THREAD / np.cos(np.pi / ridges) * (1 + step)
    facet = np.abs(np.arange(nt) % (nt // ridges) - nt // ridges / 2) < nt / ridges * 0.4
    np.testing.assert_allclose(away[facet], THREAD, rtol=step**2)


def test_it_spans_between_ridges_and_never_sinks_below_one_thread(rng):
    beneath = tube(stations=41, nt=180)
    rough = beneath.with_arrays(radius=beneath.radius + 0.5 * rng.random(beneath.shape))
    wound = cover(start=0, end=20).apply(rough)
    assert (wound.radius >= hull_radius(rough.radius) + THREAD - 1e-12).all()


# ---- Thread coordinates


@pytest.mark.parametrize("laid", [THREAD, 0.9 * THREAD])
def test_rows_climb_one_laid_width_a_turn(laid):
    wound = cover(laid_width=laid).apply(tube())
    inside = wound.between(2, 18)
    z, theta = wound.z[inside, None], wound.theta[None, :]
    # A thread wound right-handed from (start, guide line): its crest at z = start + laid · turns.
    crest = 2 + laid * (wound.row[inside] - 0.5 + theta / (2 * np.pi))
    np.testing.assert_allclose(crest, np.broadcast_to(z, crest.shape), atol=1e-4)
    assert not wound.lay.any()
    np.testing.assert_allclose(
        wound.along[inside], np.broadcast_to(9.65 * theta, crest.shape), atol=1e-4
    )


def test_number_of_rows():
    wound = cover(start=0, end=100, laid_width=0.16)
    level = tube(length=110.0)
    assert wound.level_rows() == wound.kept(wound.draped(level)).size == 625


def cone(slope, nt=96):
    """A blank of 20 mm that swells by `slope` and falls again, with its top at 10 mm."""
    level = tube(nt=nt, stations=2001)
    return level.with_arrays(radius=level.radius + slope * (10 - np.abs(level.z - 10))[:, None])


@pytest.mark.parametrize("slope", [0.0, 0.2, 0.45])
def test_packed_rows_touch_along_the_slope_and_spread_rows_do_not(slope):
    # By Pythagoras the slope is sqrt(1 + t²) times as long as the blank below it.
    packed, spread = (cover(packed=packed) for packed in (True, False))
    on = cone(slope)
    longer = np.sqrt(1 + slope**2)
    assert packed.kept(packed.draped(on)).size == pytest.approx(100 * longer, abs=1)
    assert spread.kept(spread.draped(on)).size == 100
    for one, apart in ((packed, THREAD / longer), (spread, THREAD)):
        row = one.apply(on).row[on.between(3, 9)].astype(float)
        step = np.diff(row, axis=0)
        np.testing.assert_allclose(on.step / step, apart, rtol=0.01)
        # Rows climb by one in a turn, whatever they lie on.
        np.testing.assert_allclose(row[:, -1] - row[:, 0], -95 / 96, atol=1e-3)
    # More rows, more thread.
    lengths = [wound_length(on, one) for one in (packed, spread)]
    assert lengths[0] / lengths[1] == pytest.approx(longer, rel=0.012)


def test_packed_rows_end_level_though_slopes_differ_round_the_blank():
    level = tube(nt=96, stations=2001)
    bumps = np.sin(level.z[:, None] * 2) * (0.15 + 0.1 * np.cos(3 * level.theta))
    on = level.with_arrays(radius=level.radius + bumps)
    wound = cover(packed=True, steepest_slope=np.inf)
    turns = wound.turns(wound.draped(on))
    assert np.ptp(turns[-1]) < 1e-9
    assert np.ptp(turns[0]) < 1e-9
    assert (np.diff(turns, axis=0) > 0).all()


# ---- Length


@given(
    corners=st.lists(
        st.tuples(st.floats(1, 9), st.floats(0, 2 * np.pi)), min_size=5, max_size=12, unique=True
    ),
    diameter=st.floats(0.05, 1),
)
def test_steiners_formula_against_the_hull_of_the_thickened_section(corners, diameter):
    # Steiner 1840: the outer parallel of a convex section, d/2 away, is pi d longer. Built here
    # as Qhull's hull of the section's corners with a circle round each.
    radius, turn = np.array(corners).T
    points = np.stack((radius * np.cos(turn), radius * np.sin(turn)), axis=1)
    if np.linalg.svd(points - points.mean(axis=0), compute_uv=False)[-1] < 1e-3:
        return
    circle = np.arange(720) * np.pi / 360
    ring = diameter / 2 * np.stack((np.cos(circle), np.sin(circle)), axis=1)
    perimeter = ConvexHull(points).area
    parallel = ConvexHull((points[:, None] + ring).reshape(-1, 2)).area
    # The circle is a polygon of 720 corners: step²/24 short.
    slack = np.pi * diameter * (np.pi / 360) ** 2 / 24 + 1e-6
    expected = np.hypot(parallel, diameter)
    assert steiner_length(perimeter, diameter) == pytest.approx(expected, abs=slack)


def test_steiner_length_of_a_belt():
    # Six discs of radius 0.2 on a circle of radius 1: 7.256637 round, hexagon side 1 plus 0.4 pi.
    assert steiner_length(6.0, 0.4) == pytest.approx(np.hypot(7.256637, 0.4), abs=1e-6)


@pytest.mark.parametrize("shape", [(), (3,), (2, 4)])
def test_steiner_length_broadcasts_and_carries_nan(shape):
    assert np.shape(steiner_length(np.full(shape, 60.0), 0.2)) == shape
    assert np.isnan(steiner_length(np.nan, 0.2))


def wound_on_a_cone(r1, r2, length, row):
    """Length of a thread wound with a constant pitch on a cone: the closed form."""
    t = abs(r1 - r2) / length
    q = row / (2 * np.pi) * np.sqrt(1 + t * t)

    def F(u):
        return (u * np.sqrt(u * u + q * q) + q * q * np.arcsinh(u / q)) / 2

    return (F(r1) - F(r2)) / (t * row / (2 * np.pi))


def test_the_closed_form_itself():
    # Two published figures, and the arc length by QUADPACK over the angle: r 5 to 4 over 100.
    assert wound_on_a_cone(5, 4, 100, 0.15) == pytest.approx(18_849.8223, abs=5e-5)
    assert wound_on_a_cone(5, 4, 100, 10) == pytest.approx(299.969312, abs=5e-7)
    climb = 10 / (2 * np.pi)
    by_quad = quad(
        lambda turn: np.sqrt((5 - 0.01 * climb * turn) ** 2 + climb**2 * (1 + 0.01**2)),
        0,
        20 * np.pi,
    )[0]
    assert by_quad == pytest.approx(299.969312, abs=5e-7)


@pytest.mark.parametrize(("row", "length"), [(0.15, 100.05), (0.15, 99.9), (0.16, 100)])
def test_thread_on_a_bare_cone(row, length):
    # The thread's centre line runs on the cone of the closed form, half a thread above the blank.
    # Lengths of whole rows are taken: on the blank, rows are counted.
    nt = 720
    blank = Blank([0, 100], [10 - row, 8 - row])
    beneath = Surface.bare(blank, Grid.even(0, 101, 405, nt))
    wound = cover(start=0, end=length, diameter=row, laid_width=row)
    exact = wound_on_a_cone(5, 5 - 0.01 * length, length, row)
    # The polygon of nt sides is (pi/nt)²/6 short.
    slack = exact * (np.pi / nt) ** 2 / 6 * 1.1 + 0.01
    assert wound_length(beneath, wound) == pytest.approx(exact, abs=slack)


def test_thread_over_a_relief_is_as_long_as_qhulls_perimeters():
    beneath = tube(stations=401, nt=512)
    line = fixed_angle(Blank([0, 20], [19.3, 19.3]), (-60, 80), np.deg2rad(45), hand=Hand.LEFT)
    beneath = MeshStrip(line, 15, 2.5, 0.6, 0.3, 0.5, 3, 17, 1).apply(beneath)
    turn = np.stack((np.cos(beneath.theta), np.sin(beneath.theta)), axis=1)
    perimeter = [ConvexHull(r[:, None] * turn).area for r in beneath.radius[::8]]
    rows = 2 + (np.arange(100) + 0.5) * THREAD
    by_hand = np.hypot(np.interp(rows, beneath.z[::8], perimeter) + np.pi * THREAD, THREAD).sum()
    # Every eighth station is looked at: the perimeter in between changes by what a yarn adds.
    assert wound_length(beneath, cover()) == pytest.approx(by_hand, rel=1e-3)
    assert wound_length(beneath, cover()) > wound_length(tube(), cover())
