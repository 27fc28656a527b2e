"""Mesh strips and cord lattices, measured on the unrolled blank."""

import numpy as np
import pytest
from scipy.ndimage import label

from geometry.blank import Blank
from geometry.grid import Grid
from geometry.layers.relief import CordLattice, MeshStrip
from geometry.surface import Surface
from geometry.winding import Hand, fixed_angle, pitch

RADIUS = 9.65
TUBE = Blank([0, 100], [2 * RADIUS, 2 * RADIUS])
CELL, YARN, TALL, CROSSING = 2.82, 0.6, 0.28, 0.5
WIDTH = 7 * CELL + YARN
ANGLE = np.deg2rad(45)


def strip(line=None, **changes):
    line = line or fixed_angle(TUBE, (-100, 200), ANGLE, origin=20)
    given = {
        "winding": line,
        "width": WIDTH,
        "cell": CELL,
        "yarn_width": YARN,
        "yarn_height": TALL,
        "crossing_height": CROSSING,
        "start": 12.0,
        "end": 77.0,
        "material": 4,
    }
    return MeshStrip(**given | changes)


def bare(stations=901, angles=240, end=90.0):
    return Surface.bare(TUBE, Grid.even(0, end, stations, angles))


# ---- The strip's own plane


def raised_runs(height, at):
    """Middle and length of each raised stretch of a line."""
    edge = np.flatnonzero(np.diff(np.concatenate(([False], height > 0, [False])).astype(int)))
    first, last = edge[::2], edge[1::2] - 1
    return (at[first] + at[last]) / 2, at[last] - at[first]


def test_yarns_stand_one_cell_apart_from_edge_to_edge():
    across = np.linspace(-WIDTH, WIDTH, 100_001)
    # Halfway between two yarns that run across.
    middle, length = raised_runs(strip().height(np.full(across.size, CELL / 2), across), across)
    step = across[1] - across[0]
    # A strip of 7 whole cells has 8 yarns along it, the outermost flush with its edges.
    assert middle.size == 8
    np.testing.assert_allclose(np.diff(middle), CELL, atol=2 * step)
    np.testing.assert_allclose(length, YARN, atol=2 * step)
    assert middle[0] - length[0] / 2 == pytest.approx(-WIDTH / 2, abs=2 * step)
    assert middle[-1] + length[-1] / 2 == pytest.approx(WIDTH / 2, abs=2 * step)


def test_yarns_across_the_strip_stand_one_cell_apart():
    along = np.linspace(0, 10 * CELL, 100_001)
    middle, _ = raised_runs(strip().height(along, np.zeros(along.size)), along)
    # Across 0 is the middle of the fourth open cell of seven: only yarns across are met there.
    np.testing.assert_allclose(np.diff(middle[1:-1]), CELL, atol=1e-3)


def test_yarns_are_as_tall_as_given_between_and_at_crossings():
    mesh = strip()
    first = -(WIDTH - YARN) / 2
    half = CELL / 2
    at = mesh.height(np.array([half, 0.0, 0.0]), np.array([first, first + half, first]))
    np.testing.assert_allclose(at, [TALL, TALL, CROSSING], rtol=1e-9)


def test_a_yarn_is_a_round_section_lying_on_the_blank():
    # Between crossings: the top of an ellipse, y = h/2 (1 + sqrt(1 - (2x/w)²)).
    x = np.linspace(-0.99, 0.99, 23) * YARN / 2
    first = -(WIDTH - YARN) / 2
    height = strip().height(np.full(x.size, CELL / 2), first + x)
    np.testing.assert_allclose(height, TALL / 2 * (1 + np.sqrt(1 - (2 * x / YARN) ** 2)))


def test_a_yarn_rises_to_a_crossing_without_a_kink():
    along = np.linspace(-CELL / 2, CELL / 2, 2001)
    first = -(WIDTH - YARN) / 2
    height = strip().height(along, np.full(along.size, first))
    assert height.max() == pytest.approx(CROSSING)
    assert height.min() == pytest.approx(TALL)
    assert height[0] == pytest.approx(height[-1])
    # Over the knot itself the cross yarn's own section can stand out; beside it all is smooth.
    beside = np.abs(along) > YARN / 2
    turn = np.abs(np.diff(height, 2))[beside[1:-1]]
    # A quartic bump of reach a bends by at most 8 rise / a².
    step = along[1] - along[0]
    assert turn.max() < 8 * (CROSSING - TALL) / (CELL / 2) ** 2 * step**2 * 1.01


# ---- The strip on the blank


@pytest.mark.parametrize("hand", Hand)
@pytest.mark.parametrize("starts", [1, 2])
def test_laid_strip_is_the_flat_one_rolled_up(hand, starts):
    # On a cylinder unrolled to (z, r theta) the run is a straight line at alpha to the axis: by
    # plane trigonometry a point lies z cos + s sin along it and z sin - s cos across it.
    width = (WIDTH - YARN) / starts
    line = fixed_angle(TUBE, (-100, 200), ANGLE, starts=starts, hand=hand, origin=20)
    mesh = strip(line, width=width, start=0, end=90)
    surface = bare()
    height = mesh.apply(surface).radius - RADIUS
    turn = np.arange(-6, 7)[:, None, None] * (2 * np.pi / starts)
    z = surface.z[:, None] - 20
    s = RADIUS * (hand.sign * surface.theta + turn)
    along = z * np.cos(ANGLE) + s * np.sin(ANGLE)
    across = z * np.sin(ANGLE) - s * np.cos(ANGLE)
    nearest = np.abs(across).argmin(axis=0)[None]
    along, across = (np.take_along_axis(a, nearest, axis=0)[0] for a in (along, across))
    flat = mesh.height(along, across)
    # A point within rounding of a yarn's side may fall on either side of it.
    differs = np.abs(height - flat) > 1e-6
    assert differs.mean() < 1e-4


def test_strip_is_cut_square_and_marks_its_material():
    laid = strip().apply(bare())
    raised = laid.radius > RADIUS
    inside = (laid.z >= 12 - 1e-9) & (laid.z <= 77 + 1e-9)
    assert not raised[~inside].any()
    assert raised[inside].any(axis=1).all()
    np.testing.assert_array_equal(laid.material == 4, raised)
    assert set(np.unique(laid.material)) == {0, 4}


def test_what_was_beneath_is_left_alone():
    surface = bare()
    before = surface.radius.copy()
    strip().apply(surface)
    np.testing.assert_array_equal(surface.radius, before)


@pytest.mark.parametrize("starts", [1, 3])
def test_a_left_hand_strip_mirrors_a_right_hand_one(starts):
    right, left = (
        strip(
            fixed_angle(TUBE, (-100, 200), ANGLE, starts=starts, hand=hand, origin=20.123),
            width=WIDTH / starts,
        ).apply(bare())
        for hand in Hand
    )
    mirror = -np.arange(right.theta.size)
    np.testing.assert_allclose(left.radius, right.radius[:, mirror], atol=1e-9)
    np.testing.assert_array_equal(left.material, right.material[:, mirror])


@pytest.mark.parametrize("hand", Hand)
def test_there_is_no_seam_at_the_guide_line(hand):
    # The same strip started some columns further round is the same relief turned by as many.
    still = fixed_angle(TUBE, (-100, 200), ANGLE, hand=hand, origin=20.123)
    turned = fixed_angle(
        TUBE, (-100, 200), ANGLE, hand=hand, origin=20.123, start_angle=2 * np.pi * 37 / 240
    )
    expected = np.roll(strip(still).apply(bare()).radius, 37, axis=1)
    np.testing.assert_allclose(strip(turned).apply(bare()).radius, expected, atol=1e-9)


# ---- Cords

COUNT, CORD = 8, 0.8
CORD_ANGLE = np.deg2rad(40)
HALF_DIAMOND = float(pitch(RADIUS, CORD_ANGLE)) / (2 * COUNT)


def lattice(count=COUNT, swap=False, **changes):
    right, left = (
        fixed_angle(TUBE, (-100, 200), CORD_ANGLE, starts=count, hand=hand, origin=0)
        for hand in Hand
    )
    given = {
        "right": left if swap else right,
        "left": right if swap else left,
        "diameter": CORD,
        "flatten": 1.0,
        "start": 0.0,
        "end": 90.0,
        "material": 2,
    }
    return CordLattice(**given | changes)


def crossing_grid(diamonds=2, per_half=40, angles=320):
    """A grid with stations exactly at the crossings, half a diamond apart."""
    halves = 2 * diamonds
    return Surface.bare(TUBE, Grid.even(0, halves * HALF_DIAMOND, halves * per_half + 1, angles))


@pytest.mark.parametrize("flatten", [1.0, 0.6])
def test_cords_stack_to_twice_their_height_where_they_cross(flatten):
    # Lines theta = ± z tan(alpha) / r + 2 pi i / n meet every p / 2n, turned by pi / n each time.
    laid = lattice(flatten=flatten).apply(crossing_grid())
    height = laid.radius - RADIUS
    for half in range(5):
        columns = (np.arange(COUNT) * 40 + 20 * (half % 2)) % 320
        np.testing.assert_allclose(height[half * 40, columns], 2 * flatten * CORD, rtol=1e-6)
    assert height.max() == pytest.approx(2 * flatten * CORD, rel=1e-6)


@pytest.mark.parametrize("count", [5, 8])
def test_there_are_as_many_diamonds_round_as_cords_each_way_each_p_over_n_long(count):
    every = float(pitch(RADIUS, CORD_ANGLE)) / count
    surface = Surface.bare(TUBE, Grid.even(0, every, 401, 40 * count))
    # Turned by half a diamond, so that no whole cell lies across the grid's first column.
    raised = np.roll(lattice(count).apply(surface).material == 2, 20, axis=1)
    cells, found = label(~raised)
    at_ends = np.unique(cells[[0, -1]])
    whole = [number for number in range(1, found + 1) if number not in at_ends]
    wide = [np.ptp(np.nonzero(cells == number)[1]) for number in whole]
    columns_cut = np.unique(cells[:, [0, -1]])
    assert not np.isin(whole, columns_cut).any()
    assert len(whole) == count
    # Along the axis a diamond is open for p/n less a cord's own d / sin(alpha).
    for number in whole:
        stations = np.nonzero((cells == number).any(axis=1))[0]
        length = np.ptp(stations) * every / 400
        assert length == pytest.approx(every - CORD / np.sin(CORD_ANGLE), abs=3 * every / 400)
    assert np.ptp(wide) <= 1


def test_a_round_cord_is_round():
    # The lower cord a quarter of a diamond up, far from crossings: a circle lying on the blank.
    laid = lattice(count=3).apply(Surface.bare(TUBE, Grid.even(0, 30, 6001, 96)))
    period = float(pitch(RADIUS, CORD_ANGLE)) / 6
    column = 8  # a quarter of the way between two crossings, 2 pi / 12 of a turn
    z_c = laid.theta[column] * RADIUS / np.tan(CORD_ANGLE)
    assert 0.4 * period < z_c < 0.6 * period
    across = (laid.z - z_c) * np.sin(CORD_ANGLE)
    on = np.abs(across) < 0.95 * CORD / 2
    expected = CORD / 2 + np.sqrt(CORD**2 / 4 - across[on] ** 2)
    np.testing.assert_allclose(laid.radius[on, column] - RADIUS, expected, atol=1e-4)


def test_the_upper_cord_never_cuts_into_the_lower_one_nor_the_blank():
    laid = lattice().apply(crossing_grid(per_half=80, angles=640))
    height = laid.radius - RADIUS
    raised = height > 0
    assert height[raised].min() >= CORD / 2 - 1e-9
    assert (height >= 0).all()


def test_a_lattice_laid_the_other_way_round_is_the_mirror():
    first, second = (lattice(swap=swap).apply(crossing_grid(per_half=33)) for swap in (0, 1))
    mirror = -np.arange(first.theta.size)
    np.testing.assert_allclose(second.radius, first.radius[:, mirror], atol=1e-6)


def test_cords_close_round_the_blank():
    # The lattice repeats after every cord: a turn by 2 pi / n changes nothing.
    radius = lattice().apply(crossing_grid(per_half=33)).radius
    np.testing.assert_allclose(radius, np.roll(radius, 320 // COUNT, axis=1), atol=1e-6)


def test_cords_are_cut_square():
    laid = lattice(start=5, end=9).apply(bare(end=20.0, stations=401))
    raised = laid.radius > RADIUS
    inside = (laid.z >= 5 - 1e-9) & (laid.z <= 9 + 1e-9)
    assert not raised[~inside].any()
    assert raised[inside].any(axis=1).all()
