"""The taut skin: each cross-section against SciPy's Qhull and exact ridge formulas."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.spatial import ConvexHull

from geometry.blank import Blank
from geometry.grid import Grid
from geometry.layers.drape import (
    Drape,
    hull_radius,
    section_perimeter,
)
from geometry.layers.relief import CordLattice, MeshStrip
from geometry.surface import Surface
from geometry.winding import Hand, constant_gap, fixed_angle
from render.measure.surfaces.drape import reliefs

pytestmark = pytest.mark.usefixtures("each_way")

AGREES = 1e-6  # mm, as the project asks; a hundredth of the wavelength of light


def angles(nt):
    return np.arange(nt) * (2 * np.pi / nt)


def outline(radius):
    theta = angles(radius.size)
    return np.stack((radius * np.cos(theta), radius * np.sin(theta)), axis=1)


def qhull_radius(radius):
    """Distance from the axis to Qhull's hull along each ray: the nearest of its half planes."""
    faces = ConvexHull(outline(radius)).equations
    rays = outline(np.ones(radius.size))
    facing = rays @ faces[:, :2].T
    with np.errstate(divide="ignore"):
        reach = np.where(facing > 0, -faces[:, 2] / facing, np.inf)
    return reach.min(axis=1)


def largest_difference(sections):
    return max(np.abs(hull_radius(r[None])[0] - qhull_radius(r)).max() for r in sections)


def smooth_noise(rng, count, nt, waves=9):
    phase = rng.uniform(0, 2 * np.pi, (count, waves, 1))
    size = rng.uniform(-0.5, 0.5, (count, waves, 1)) / np.arange(1, waves + 1)[:, None]
    return (size * np.cos(np.arange(1, waves + 1)[:, None] * angles(nt) + phase)).sum(axis=1)


# ---- Against Qhull


@pytest.mark.parametrize("nt", [8, 61, 192, 1024])
def test_rough_star_shaped_sections_agree_with_qhull(nt, rng):
    assert largest_difference(5 + rng.random((12, nt))) < AGREES
    assert largest_difference(rng.uniform(0.3, 30, (12, nt))) < AGREES


@pytest.mark.parametrize("nt", [64, 512])
def test_smooth_star_shaped_sections_agree_with_qhull(nt, rng):
    assert largest_difference(6 + smooth_noise(rng, 20, nt)) < AGREES


def test_spiky_sections_agree_with_qhull(rng):
    # A few tall spikes on a low floor: chords far longer than those tried first.
    sections = np.full((30, 360), 1.0)
    for section in sections:
        section[rng.choice(360, rng.integers(1, 9), replace=False)] = rng.uniform(1, 20)
    assert largest_difference(sections) < AGREES


@pytest.mark.parametrize("relief", ["strip", "cords"])
def test_draped_reliefs_agree_with_qhull_at_every_thirtieth_station(relief):
    blank = Blank([0, 100], [19.6, 18.6])
    surface = Surface.bare(blank, Grid.even(10, 70, 601, 720))
    if relief == "strip":
        line = constant_gap(blank, (-20, 100), 7 * 2.82 + 0.6, 18)
        layer = MeshStrip(line, 7 * 2.82 + 0.6, 2.82, 0.6, 0.28, 0.5, 15, 65, 1)
    else:
        right, left = (
            fixed_angle(blank, (-20, 100), np.deg2rad(40), starts=8, hand=hand) for hand in Hand
        )
        layer = CordLattice(right, left, 0.8, 1.0, 15, 65, 1)
    raised = layer.apply(surface)
    draped = Drape(15, 65).apply(raised)
    for station in range(0, 601, 30):
        if 15 <= surface.z[station] <= 65:
            expected = qhull_radius(raised.radius[station])
        else:
            expected = raised.radius[station]
        assert np.abs(draped.radius[station] - expected).max() < AGREES


@pytest.mark.parametrize("relief", reliefs(2, 16))
def test_each_kind_of_relief_agrees_with_qhull_to_a_millionth_of_a_micrometre(relief):
    surface = reliefs(12, 1024)[relief]
    draped = Drape(0, 120).apply(surface)
    expected = np.array([qhull_radius(section) for section in surface.radius])
    np.testing.assert_allclose(draped.radius, expected, rtol=0, atol=1e-9)


SECTIONS = arrays(
    np.float64, st.tuples(st.integers(1, 3), st.integers(8, 48)), elements=st.floats(0.3, 30)
)


@given(SECTIONS)
def test_any_section_agrees_with_qhull(radius):
    assert largest_difference(radius) < AGREES


# ---- What a hull is

ROUNDING = 1e-9


@given(SECTIONS)
def test_hull_is_never_inside_the_section_and_hulling_again_changes_nothing(radius):
    hull = hull_radius(radius)
    assert (hull >= radius * (1 - ROUNDING)).all()
    np.testing.assert_allclose(hull_radius(hull), hull, rtol=ROUNDING)


@given(SECTIONS)
def test_hull_is_convex(radius):
    # Every corner turns left: the cross product of successive edges is never negative.
    for hull in hull_radius(radius):
        edges = np.roll(outline(hull), -1, axis=0) - outline(hull)
        on = np.roll(edges, -1, axis=0)
        cross = edges[:, 0] * on[:, 1] - edges[:, 1] * on[:, 0]
        assert cross.min() >= -ROUNDING * hull.max() ** 2


@given(SECTIONS, st.integers(0, 47), st.floats(0.1, 10))
def test_hull_turns_mirrors_and_scales_with_the_section(radius, turn, scale):
    hull = hull_radius(radius)
    np.testing.assert_allclose(
        hull_radius(np.roll(radius, turn, axis=1)), np.roll(hull, turn, axis=1), rtol=ROUNDING
    )
    np.testing.assert_allclose(hull_radius(radius[:, ::-1]), hull[:, ::-1], rtol=ROUNDING)
    np.testing.assert_allclose(hull_radius(scale * radius), scale * hull, rtol=ROUNDING)


@given(SECTIONS, st.data())
def test_a_larger_section_has_a_larger_hull(radius, data):
    more = data.draw(arrays(np.float64, radius.shape, elements=st.floats(0, 2)))
    assert (hull_radius(radius + more) >= hull_radius(radius) * (1 - ROUNDING)).all()


def test_a_round_section_is_its_own_hull_to_the_last_bit():
    radius = np.full((4, 1024), 9.65)
    np.testing.assert_array_equal(hull_radius(radius), radius)


def test_the_section_given_is_left_alone(rng):
    radius = rng.uniform(1, 2, (3, 64))
    before = radius.copy()
    hull_radius(radius)
    np.testing.assert_array_equal(radius, before)


# ---- Exact ridge formulas


def touches_floor(ridges: int, height: float, radius: float) -> bool:
    """Whether thread over `ridges` sharp ridges reaches the blank between them.

    It does where the chord's middle, (r + h) cos(pi/n), would lie below r.
    """
    return (radius + height) * np.cos(np.pi / ridges) < radius


def ridge_perimeter(ridges: int, height: float, radius: float) -> float:
    """Perimeter of the taut section over sharp ridges, mm.

    A regular polygon, 2 n (r + h) sin(pi/n), while the chords clear the blank; else two tangents
    and an arc for each ridge, 2 n [sqrt((r+h)² - r²) + r (pi/n - arccos(r / (r+h)))].

    Parameters
    ----------
    ridges : int
        Number of sharp ridges evenly round the blank, 3 or more.
    height, radius : float
        Ridge height and bare radius, mm.
    """
    top = radius + height
    if not touches_floor(ridges, height, radius):
        return float(2 * ridges * top * np.sin(np.pi / ridges))
    arc = np.pi / ridges - np.arccos(radius / top)
    return float(2 * ridges * (np.sqrt(top**2 - radius**2) + radius * arc))


def polygon_error(nt, perimeter):
    """What a polygon of nt corners lacks of a smooth perimeter: step²/24 of it."""
    return (2 * np.pi / nt) ** 2 / 24 * perimeter


def ridged(ridges, height, radius, nt):
    section = np.full((1, nt), float(radius))
    section[0, :: nt // ridges] += height
    return section


@pytest.mark.parametrize(
    ("ridges", "height", "radius"),
    [(3, 0.5, 5), (6, 0.05, 9.65), (8, 0.8, 9.65), (12, 2, 5), (24, 0.02, 9.65), (36, 0.3, 9)],
)
def test_perimeter_over_ridges_is_that_of_the_hull(ridges, height, radius):
    nt = 3600
    section = ridged(ridges, height, radius, nt)
    corners = ConvexHull(outline(section[0]))
    exact = ridge_perimeter(ridges, height, radius)
    slack = 2 * polygon_error(nt, exact) + 1e-9
    # In the plane Qhull's "area" is the perimeter.
    assert corners.area == pytest.approx(exact, abs=slack)
    assert section_perimeter(hull_radius(section))[0] == pytest.approx(corners.area, abs=AGREES)
    middle = hull_radius(section)[0, nt // ridges // 2]
    assert touches_floor(ridges, height, radius) == (middle < radius + 1e-9)


def test_perimeter_over_ridges_joins_smoothly_where_the_floor_is_first_touched():
    radius, ridges = 9.65, 8
    height = radius / np.cos(np.pi / ridges) - radius
    below, above = (ridge_perimeter(ridges, height * f, radius) for f in (1 - 1e-9, 1 + 1e-9))
    assert below == pytest.approx(above, rel=1e-7)
    assert above == pytest.approx(2 * ridges * radius * np.tan(np.pi / ridges), rel=1e-7)


def test_perimeter_over_low_ridges_tends_to_the_circle():
    assert ridge_perimeter(8, 0.0, 9.65) == pytest.approx(2 * np.pi * 9.65, rel=1e-12)


def test_string_over_one_ridge():
    # 2 sqrt((R + b)² - R²) + 2 R (pi - arccos(R / (R + b))) = 31.519042 for R 5, b 0.25.
    nt = 20_000
    length = section_perimeter(hull_radius(ridged(1, 0.25, 5, nt)))[0]
    assert length == pytest.approx(31.519042, abs=2 * polygon_error(nt, length) + 1e-6)


def discs(distance, size, count, nt, floor=0.0):
    """Outline seen from the axis of `count` round discs, or of the floor between them."""
    off = angles(nt)[:, None] - 2 * np.pi * np.arange(count) / count
    within = size**2 - (distance * np.sin(off)) ** 2
    far = distance * np.cos(off) + np.sqrt(np.maximum(within, 0))
    return np.maximum(np.where((within > 0) & (np.cos(off) > 0), far, 0).max(axis=1), floor)[None]


# Belts round discs of radius a with centres on a circle Rc, 2 n Rc sin(pi/n) + 2 pi a, computed
# with shapely as well; the last is two circles, R 5 and a 0.5, with centres 5.5 apart.
@pytest.mark.parametrize(
    ("count", "distance", "size", "floor", "belt"),
    [
        (6, 1, 0.2, 0.3, 7.256637),
        (3, 1, 0.5, 0.3, 8.337745),
        (12, 5, 0.1, 2.0, 31.686604),
        (1, 5.5, 0.5, 5.0, 32.227489),
    ],
)
def test_belt_round_discs(count, distance, size, floor, belt):
    nt = 24_000
    length = section_perimeter(hull_radius(discs(distance, size, count, nt, floor)))[0]
    # A disc's arc is cut into chords of about (distance + size) · step, whose ends may miss the
    # points where the belt leaves it by as much: chord²/24 a² of the arcs, twice for the ends.
    chord = (distance + size) * 2 * np.pi / nt
    slack = 2 * (chord / size) ** 2 / 24 * belt
    assert length == pytest.approx(belt, abs=slack + 1e-6)
    assert length <= belt + 1e-6


# ---- The layer


def test_the_layer_hulls_from_start_to_end_and_nowhere_else(rng):
    grid = Grid.even(0, 10, 101, 64)
    bare = Surface.bare(Blank([0, 10], [10, 9]), grid)
    rough = bare.with_arrays(radius=bare.radius + rng.random(bare.shape))
    draped = Drape(2, 7.5).apply(rough)
    inside = (grid.z > 2 - 1e-9) & (grid.z < 7.5 + 1e-9)
    np.testing.assert_array_equal(draped.radius[inside], hull_radius(rough.radius[inside]))
    np.testing.assert_array_equal(draped.radius[~inside], rough.radius[~inside])
    np.testing.assert_array_equal(draped.material, rough.material)
