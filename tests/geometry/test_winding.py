"""Pitch, gap, width and share: closed forms, and a ruler held to the built mesh."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from geometry import winding
from geometry.blank import Blank
from geometry.bodies.mesh import skin
from geometry.errors import GeometryError
from geometry.grid import Grid
from geometry.layers.relief import MeshStrip
from geometry.surface import Surface
from geometry.winding import Hand, Winding, constant_gap, constant_gap_angle, fixed_angle

STRIP_HEIGHT = 0.4
GRID_STEP = 0.02
RULER = 0.1  # mm: what a builder reads off a steel rule with a lens
SPAN = (-50.0, 250.0)  # the table; the strip is ruled between 0 and 200

RADIUS = st.floats(2, 15)
ANGLE = st.floats(np.deg2rad(15), np.deg2rad(80))
STARTS = st.integers(1, 3)


def cone(taper: float, middle: float = 9.65) -> Blank:
    """A straight taper that is `middle` mm in radius 100 mm up."""
    return Blank([0, 200], [2 * (middle + 100 * taper), 2 * (middle - 100 * taper)])


def strip_on(blank: Blank, line: Winding, width: float, columns: int = 24) -> Surface:
    """A strip without open cells: its yarns are as wide as a cell, so it is raised all over."""
    surface = Surface.bare(blank, Grid.even(0, 200, round(200 / GRID_STEP) + 1, columns))
    cell = width / 8
    return MeshStrip(line, width, cell, cell, STRIP_HEIGHT, STRIP_HEIGHT, 0, 200, 1).apply(surface)


def ruled_gaps(surface: Surface, bare, least: float = 0.0):
    """What a ruler laid along the axis reads on the built mesh.

    Parameters
    ----------
    surface : Surface
        Built strip.
    bare : callable
        Radius of the blank at z, mm; what stands above it is strip.
    least : float
        A shorter stretch of bare blank is an open cell of the mesh, not a gap, mm.

    Returns
    -------
    (m, 3) float
        Gap, its middle along the blank, and the column, for every gap between two strips.
    """
    nz, nt = surface.shape
    points = skin(surface).points.reshape(nz, nt + 1, 3).astype(float)
    raised = np.hypot(points[..., 0], points[..., 1]) - bare(points[..., 2]) > STRIP_HEIGHT / 8
    found = []
    for column in range(nt):
        z, up = points[:, column, 2], raised[:, column]
        edge = np.flatnonzero(up[1:] != up[:-1])
        at = (z[edge] + z[edge + 1]) / 2
        falls = at[up[edge]]
        for fall in falls:
            rise = at[(at > fall) & ~up[edge]]
            if rise.size and rise[0] - fall > least:
                found.append((rise[0] - fall, (rise[0] + fall) / 2, column))
    return np.array(found).reshape(-1, 3)


# ---- Closed forms


def test_helix_of_radius_5_and_pitch_10():
    # A turn is sqrt((2 pi 5)² + 10²) = 32.969083 long, at 72.343213 degrees to the axis.
    angle = np.deg2rad(72.343213)
    assert winding.pitch(5, angle) == pytest.approx(10, abs=1e-6)
    line = fixed_angle(Blank([0, 100], [10, 10]), (0, 100), angle)
    assert line.length_at(60.0) - line.length_at(50.0) == pytest.approx(32.969083, abs=1e-5)
    assert line.turns(50, 60) == pytest.approx(1, abs=1e-6)


def test_a_strip_without_a_gap():
    # r 5, w 12.7: 2 pi r cos(alpha) = w gives 66.155640 degrees and a pitch of 13.885139.
    angle = constant_gap_angle(5, 12.7, 0)
    assert np.rad2deg(angle) == pytest.approx(66.155640, abs=1e-6)
    assert winding.pitch(5, angle) == pytest.approx(13.885139, abs=1e-6)


@given(RADIUS, ANGLE, STARTS, st.floats(0.01, 0.99))
def test_gap_width_and_share_say_the_same(radius, angle, starts, share):
    width = winding.width_from_share(radius, angle, share, starts)
    gap = winding.gap_from_width(radius, angle, width, starts)
    each = winding.pitch(radius, angle) / starts
    assert winding.share_from_width(radius, angle, width, starts) == pytest.approx(share)
    assert winding.width_from_gap(radius, angle, gap, starts) == pytest.approx(width)
    assert gap == pytest.approx(each * (1 - share))
    assert width / np.sin(angle) + gap == pytest.approx(each)


@given(RADIUS, ANGLE, STARTS, st.floats(0.01, 0.99))
def test_constant_gap_angle_solves_the_gaps_equation(radius, angle, starts, share):
    # The equation is solved anew by Brent's method: gap_from_width(angle) falls from +inf to -w.
    width = float(winding.width_from_share(radius, angle, share, starts))
    gap = float(winding.gap_from_width(radius, angle, width, starts))
    root = brentq(
        lambda a: 2 * np.pi * radius / (starts * np.tan(a)) - width / np.sin(a) - gap,
        np.deg2rad(5),
        np.deg2rad(89.99),
        xtol=1e-13,
    )
    found = constant_gap_angle(radius, width, gap, starts)
    assert found == pytest.approx(root, abs=1e-9)
    assert found == pytest.approx(angle, abs=1e-9)


def test_the_trades_half_covered_blank():
    # Common practice, no source: a 25 mm strip and a 25.4 mm gap go together at 45 degrees on a
    # blank of 19.3 mm.
    radius, angle = 19.3 / 2, np.deg2rad(45)
    assert winding.gap_from_width(radius, angle, 25) == pytest.approx(25.4, abs=0.2)
    assert winding.width_from_gap(radius, angle, 25.4) == pytest.approx(25, abs=0.2)
    # Along the axis the strip takes w sqrt 2, so that pair covers 7/12; half is w = pi r / sqrt 2.
    assert winding.share_from_width(radius, angle, 25) == pytest.approx(0.583, abs=5e-4)
    half = np.pi * radius / np.sqrt(2)
    assert winding.share_from_width(radius, angle, half) == pytest.approx(0.5, rel=1e-12)
    assert half == pytest.approx(21.44, abs=0.005)


@pytest.mark.parametrize("shape", [(), (4,), (2, 3)])
def test_formulas_broadcast(shape):
    radius, angle = np.full(shape, 9.0), np.full(shape, 0.8)
    for value in (
        winding.pitch(radius, angle),
        winding.gap_from_width(radius, angle, 20),
        winding.width_from_gap(radius, angle, 20),
        winding.width_from_share(radius, angle, 0.5),
        winding.share_from_width(radius, angle, 20),
        constant_gap_angle(radius, 20, 20),
    ):
        assert np.shape(value) == shape


def test_formulas_carry_nan():
    assert np.isnan(winding.pitch(np.nan, 0.8))
    assert np.isnan(winding.gap_from_width(9.0, np.nan, 20))
    assert np.isnan(winding.share_from_width(9.0, 0.8, np.nan))


# ---- The table against other integrations


def test_fixed_angle_on_a_cone_is_the_loxodrome():
    # d(theta)/dz = tan(alpha) sqrt(1 + t²) / r integrates on r = r0 - t z to a logarithm, and the
    # meridian's length over cos(alpha) is the run's.
    taper, angle = 0.02, np.deg2rad(40)
    blank = cone(taper)
    line = fixed_angle(blank, (0, 200), angle)
    z = np.linspace(0, 200, 81)
    slant = np.hypot(1, taper)
    phase = np.tan(angle) * slant / taper * np.log(blank.radius(0) / (blank.radius(0) - taper * z))
    # What a straight line between two entries of the table leaves out: step²/8 of d²(theta)/dz².
    between = 0.05**2 / 8 * np.tan(angle) * taper / blank.radius(200.0) ** 2
    np.testing.assert_allclose(line.phase_at(z), phase, atol=2 * between)
    np.testing.assert_allclose(line.length_at(z), z * slant / np.cos(angle), rtol=1e-12)


def test_table_on_a_curved_blank_agrees_with_an_adaptive_ode():
    blank = Blank([0, 120, 260, 400], [21, 19.5, 18.9, 16.5])
    angle = np.deg2rad(55)
    line = fixed_angle(blank, (20, 380), angle)
    z = np.linspace(20, 380, 25)

    def rates(at, _):
        slant = np.hypot(1, blank.slope(at))
        return [np.tan(angle) * slant / blank.radius(at), slant / np.cos(angle)]

    expected = solve_ivp(rates, (20, 380), [0, 0], t_eval=z, rtol=1e-10, atol=1e-10, max_step=5).y
    np.testing.assert_allclose(line.phase_at(z), expected[0], atol=1e-6)
    np.testing.assert_allclose(line.length_at(z), expected[1], atol=1e-5)


@pytest.mark.parametrize("hand", Hand)
@pytest.mark.parametrize("starts", [1, 3])
def test_crossings_lie_on_the_run(hand, starts):
    blank = cone(0.01)
    line = fixed_angle(
        blank, (0, 200), np.deg2rad(50), starts=starts, hand=hand, origin=90, start_angle=0.7
    )
    theta = np.linspace(0, 2 * np.pi, 16, endpoint=False)
    z = line.crossings(theta)
    inside = (z > 0) & (z < 200)
    assert (np.diff(z, axis=1) > 0).all()
    # Through (90 mm, 0.7 rad), and the starts evenly beside it: the angle left over is a multiple.
    left_over = hand.sign * (theta[:, None] - 0.7) - (line.phase_at(z) - line.phase_at(90.0))
    parts = left_over * starts / (2 * np.pi)
    np.testing.assert_allclose(parts[inside], np.rint(parts[inside]), atol=1e-6)
    per_column = winding.pitch(blank.radius(100), np.deg2rad(50)) / starts
    assert inside.sum(axis=1) == pytest.approx(200 / per_column, abs=1.5)


def test_the_next_turn_begins_where_the_last_ended():
    for hand in Hand:
        line = fixed_angle(cone(0.01), (0, 200), np.deg2rad(50), starts=2, hand=hand)
        start, end = line.crossings(np.array([0.0, 2 * np.pi]))
        on = 2 * hand.sign
        np.testing.assert_allclose(
            end[max(0, -on) : end.size - max(0, on)],
            start[max(0, on) : start.size - max(0, -on)],
            atol=1e-9,
        )


def test_a_left_hand_run_mirrors_a_right_hand_one():
    theta = np.linspace(0, 2 * np.pi, 16, endpoint=False)
    right, left = (
        fixed_angle(cone(0.01), (0, 200), np.deg2rad(50), hand=hand, origin=40) for hand in Hand
    )
    z = [line.crossings(at) for line, at in ((right, theta), (left, -theta))]
    np.testing.assert_allclose(z[0], z[1], atol=1e-12)


# ---- The ruler


@pytest.mark.parametrize("hand", Hand)
@pytest.mark.parametrize("starts", [1, 2, 3])
@pytest.mark.parametrize("taper", [0.0, 0.004, 0.01, 0.02])
def test_a_ruler_reads_the_same_gap_every_turn(taper, starts, hand):
    width, gap = 24 / starts, 25.4 / starts
    blank = cone(taper)
    line = constant_gap(blank, SPAN, width, gap, starts=starts, hand=hand)
    bare = blank.radius(0) - taper * np.linspace(0, 200, round(200 / GRID_STEP) + 1)
    read = ruled_gaps(
        strip_on(blank, line, width), lambda z: np.interp(z, [0, 200], [bare[0], bare[-1]])
    )
    assert np.abs(read[:, 0] - gap).max() < RULER + GRID_STEP
    # Every turn was read at every angle: as many gaps as strips along the blank, less the ends.
    strips = starts * line.turns(0, 200)
    assert np.bincount(read[:, 2].astype(int)).min() >= strips - 2
    assert read[:, 1].min() < 1.5 * (width / np.sin(line.angle_at(0.0)) + gap)


@pytest.mark.parametrize("hand", Hand)
def test_a_ruler_reads_the_same_gap_on_open_mesh_up_a_curved_blank(hand):
    blank = Blank([-60, 40, 110, 260], [21.2, 19.6, 18.9, 15.1])
    cell, yarn = 2.82, 0.6
    width, gap = 7 * cell + yarn, 18.0
    line = constant_gap(blank, SPAN, width, gap, hand=hand, origin=31.4)
    surface = Surface.bare(blank, Grid.even(0, 200, 10_001, 16))
    strip = MeshStrip(line, width, cell, yarn, STRIP_HEIGHT, 2 * STRIP_HEIGHT, 0, 200, 1)
    # An open cell is never longer along the axis than its diagonal.
    read = ruled_gaps(strip.apply(surface), blank.radius, least=1.5 * cell)
    assert np.abs(read[:, 0] - gap).max() < RULER + GRID_STEP
    assert len(read) > 16 * 3


@pytest.mark.parametrize("starts", [1, 2])
def test_at_a_fixed_angle_the_ruler_reads_what_the_loxodrome_gives(starts):
    # On r = r0 - t z the run crosses a generator again where r has shrunk by exp(-2 pi t / (n c)),
    # c = tan(alpha) sqrt(1 + t²): successive gaps shrink by that ratio too.
    taper, angle, width = 0.02, np.deg2rad(45), 20 / starts
    blank = cone(taper)
    line = fixed_angle(blank, SPAN, angle, starts=starts)
    read = ruled_gaps(strip_on(blank, line, width, columns=8), lambda z: blank.radius(z))
    shrinks = np.exp(-2 * np.pi * taper / (starts * np.tan(angle) * np.hypot(1, taper)))
    for column in range(8):
        gap, middle = read[read[:, 2] == column, :2].T
        takes = width / np.sin(angle)
        each = (gap[:-1] + takes) * shrinks
        np.testing.assert_allclose(gap[1:] + takes, each, atol=2 * GRID_STEP)
        first = winding.gap_from_width(blank.radius(middle), angle, width, starts)
        # The closed form at the gap's middle, x = 2 pi t / (n c): tanh(x/2) for x/2, and the slant.
        second_order = (np.log(shrinks) ** 2 / 12 + taper**2 / 2) * (takes + gap.max())
        np.testing.assert_allclose(gap, first, atol=second_order + GRID_STEP)


def test_strips_that_almost_fill_a_turn_are_not_cut_short():
    # Halfway between two turns in phase is not halfway along a taper: with a gap this small the
    # strip would be cut there, and its neighbour's gap would open where they should all but meet.
    taper, angle = 0.005, np.deg2rad(45)
    blank = cone(taper)
    width = float(winding.width_from_gap(blank.radius(157.0), angle, 0.0))
    line = fixed_angle(blank, SPAN, angle)
    read = ruled_gaps(strip_on(blank, line, width, columns=8), blank.radius)
    crossings = line.crossings(np.arange(8) * np.pi / 4)
    expected = np.diff(crossings, axis=1) - width / np.sin(angle)
    middle = (crossings[:, 1:] + crossings[:, :-1]) / 2
    assert read[:, 0].min() < 0.3
    for gap, at, column in read:
        nearest = np.argmin(np.abs(middle[int(column)] - at))
        assert gap == pytest.approx(expected[int(column), nearest], abs=GRID_STEP)


@pytest.mark.parametrize("starts", [1, 2])
def test_the_share_of_the_blank_under_the_strip(starts):
    blank, angle, share = cone(0.0), np.deg2rad(45), 0.45
    width = float(winding.width_from_share(blank.radius(0), angle, share, starts))
    line = fixed_angle(blank, SPAN, angle, starts=starts)
    material = strip_on(blank, line, width).material
    turn = round(float(winding.pitch(blank.radius(0), angle)) / GRID_STEP)
    # Counting stations over one turn is good to a station at each edge.
    assert material[1000 : 1000 + turn].mean() == pytest.approx(share, abs=2 * starts / turn)


def test_the_laid_strip_is_as_wide_as_it_was_cut():
    # On the unrolled cone, where distances are true, every point of the lower edge is as far from
    # the upper edge as the strip is wide. Edges are placed along the axis from the centre line,
    # which is exact on a cylinder and of second order in the taper otherwise.
    taper, width, gap = 0.02, 25.0, 25.4
    blank = cone(taper)
    line = constant_gap(blank, SPAN, width, gap)
    phase = np.linspace(line.phase_at(30.0), line.phase_at(170.0), 4001)
    z = line.z_at(phase)
    half = width / 2 / np.sin(line.angle_at(z))
    sine = np.sin(np.arctan(taper))

    def unrolled(at):
        rho, angle = blank.radius(at) / sine, phase * sine
        return rho * np.exp(1j * angle)

    lower, upper = unrolled(z - half), unrolled(z + half)
    some = lower[1000:3000:40]
    across = np.abs(some[:, None] - upper[None, :]).min(axis=1)
    np.testing.assert_allclose(across, width, atol=0.01 * width)


# ---- What is refused


def test_a_strip_too_wide_for_the_blank_is_refused_with_what_fits():
    with pytest.raises(GeometryError, match=r"70 mm does not fit.*19\.3 mm.*less than 60\.6") as e:
        constant_gap_angle(9.65, 70, 5)
    assert e.value.quantity == "width"


@pytest.mark.parametrize("angle", [0.0, np.pi / 2, -0.3, np.nan])
def test_an_angle_that_cannot_be_wound_is_refused(angle):
    with pytest.raises(GeometryError, match="between 0 and 90") as e:
        fixed_angle(cone(0.01), (0, 100), angle)
    assert e.value.quantity == "angle"
