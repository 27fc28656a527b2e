"""Seam trim: round threads beside the relief, measured in space."""

import numpy as np
import pytest
from scipy.ndimage import map_coordinates
from scipy.spatial import ConvexHull, cKDTree

from geometry.blank import Blank
from geometry.grid import Grid
from geometry.layers.cover import Cover
from geometry.layers.relief import MeshStrip
from geometry.layers.trim import Edge, Ring, SeamTrim, StripEdge, TrimThread
from geometry.surface import Surface
from geometry.winding import Hand, fixed_angle, pitch

RADIUS = 9.65
TUBE = Blank([0, 100], [2 * RADIUS, 2 * RADIUS])
ANGLE = np.deg2rad(45)
WIDTH = 20.0
THREADS = (TrimThread(0.5, 1), TrimThread(0.5, 2), TrimThread(0.36, 3))
START, END = 4.0, 66.0


def line(hand=Hand.RIGHT, starts=1, **changes):
    given = {"starts": starts, "hand": hand, "origin": 25.123}
    return fixed_angle(TUBE, (-100, 200), ANGLE, **given | changes)


def bare(stations=1401, angles=720):
    return Surface.bare(TUBE, Grid.even(0, 70, stations, angles))


def trim(edge=Edge.UPPER, threads=THREADS, offset=0.0, width=WIDTH, winding=None, **changes):
    return SeamTrim(
        StripEdge(winding or line(), width, edge),
        threads,
        offset,
        **{"start": START, "end": END} | changes,
    )


def beside(number, threads=THREADS):
    """Distance of a thread's middle from the relief's edge: they lie side by side."""
    return sum(t.diameter for t in threads[:number]) + threads[number].diameter / 2


def unrolled(surface, hand=Hand.RIGHT, starts=1):
    """Distance across the run from the nearest strip's middle, by plane trigonometry."""
    turn = np.arange(-8, 9)[:, None, None] * (2 * np.pi / starts)
    s = RADIUS * (hand.sign * surface.theta + turn)
    across = (surface.z[:, None] - 25.123) * np.sin(ANGLE) - s * np.cos(ANGLE)
    nearest = np.abs(across).argmin(axis=0)[None]
    return np.take_along_axis(across, nearest, axis=0)[0]


# ---- Round, raised, side by side


@pytest.mark.parametrize("number", [0, 1, 2])
@pytest.mark.parametrize("edge", Edge)
@pytest.mark.parametrize("hand", Hand)
def test_each_thread_is_a_round_tube_about_a_helix_in_space(number, edge, hand):
    # Its centre line lies half a thread above the blank on x = R cos t, y = R sin t,
    # z = p t / 2 pi: every point of the thread's outside is half a thread away from that curve.
    laid = trim(edge, winding=line(hand)).apply(bare())
    half = THREADS[number].diameter / 2
    t = np.linspace(-6 * np.pi, 6 * np.pi, 200_001)
    # The strip's edge and what lies beside it, along the axis.
    up = edge.outward * (WIDTH / 2 + beside(number)) / np.sin(ANGLE)
    z = 25.123 + up + t * float(pitch(RADIUS, ANGLE)) / (2 * np.pi)
    axis = np.stack(
        ((RADIUS + half) * np.cos(t), hand.sign * (RADIUS + half) * np.sin(t), z), axis=1
    )
    on = laid.material == THREADS[number].material
    station, column = np.nonzero(on)
    radius, theta = laid.radius[on], laid.theta[column]
    points = np.stack((radius * np.cos(theta), radius * np.sin(theta), laid.z[station]), axis=1)
    away = cKDTree(axis[(z > -5) & (z < 75)]).query(points)[0]
    # A thread is drawn square to the unrolled blank; bending that round the blank moves a point by
    # half²/2R. The helix is sampled every hundredth of a millimetre.
    bend = half**2 / (2 * RADIUS)
    assert np.abs(away - half).max() < bend + 0.002


@pytest.mark.parametrize("number", [0, 1])
def test_the_profile_square_to_a_thread_is_a_circle_of_its_diameter(number):
    laid = trim().apply(bare(stations=2801, angles=1440))
    half = THREADS[number].diameter / 2
    s = np.linspace(-0.8, 0.8, 41) * half
    away = WIDTH / 2 + beside(number) + s
    # Square to the run on the unrolled blank, from the strip's middle at 25.123 mm.
    station = (25.123 + away * np.sin(ANGLE)) / laid.step
    column = (-away * np.cos(ANGLE) / RADIUS) % (2 * np.pi) / (2 * np.pi / laid.theta.size)
    height = map_coordinates(laid.radius, (station, column), order=1, mode="grid-wrap") - RADIUS
    # Kasa's fit: s² + y² = 2 a s + 2 b y + c.
    system = np.stack((2 * s, 2 * height, np.ones(s.size)), axis=1)
    a, b, c = np.linalg.lstsq(system, s**2 + height**2)[0]
    # Linear interpolation over a step h misses h²/8 of the curvature, 4.6 / half at 0.8 half.
    step = max(laid.step, 2 * np.pi * RADIUS / laid.theta.size)
    miss = step**2 / 8 * 4.6 / half
    assert a == pytest.approx(0, abs=miss)
    assert b == pytest.approx(half, abs=2 * miss)
    assert np.sqrt(c + a * a + b * b) == pytest.approx(half, abs=2 * miss)


@pytest.mark.parametrize("edge", Edge)
@pytest.mark.parametrize("starts", [1, 2])
def test_threads_lie_on_the_flat_one_diameter_high_and_separate(edge, starts):
    width = WIDTH / starts
    surface = bare()
    laid = trim(edge, width=width, winding=line(starts=starts)).apply(surface)
    out = edge.outward * unrolled(surface, starts=starts) - width / 2
    inside = ((surface.z > START) & (surface.z < END))[:, None] & np.ones(laid.shape, bool)
    height = laid.radius - RADIUS
    step = max(surface.step, 2 * np.pi * RADIUS / surface.theta.size)
    for number, thread in enumerate(THREADS):
        half = thread.diameter / 2
        crest = inside & (np.abs(out - beside(number)) < step / 2)
        # A point within half a step of the crest is at most h²/8 half below it.
        np.testing.assert_allclose(height[crest], thread.diameter, atol=step**2 / (8 * half) * 1.1)
        assert (laid.material[crest] == thread.material).all()
    for number in (1, 2):
        half = max(THREADS[number - 1].diameter, THREADS[number].diameter) / 2
        valley = inside & (np.abs(out - beside(number) + THREADS[number].diameter / 2) < step / 2)
        # The valley's floor is half a thread up; within half a step of it the circle rises by
        # sqrt(half · step).
        assert height[valley].max() < half + np.sqrt(half * step) + 1e-9
        assert height[valley].min() < 0.6 * THREADS[number - 1].diameter


def test_threads_lie_on_the_flat_side_of_the_edge_and_nowhere_else():
    for edge in Edge:
        surface = bare()
        laid = trim(edge).apply(surface)
        out = edge.outward * unrolled(surface) - WIDTH / 2
        total = sum(t.diameter for t in THREADS)
        raised = laid.radius > RADIUS
        assert not raised[(out < -1e-9) | (out > total + 1e-9)].any()
        np.testing.assert_array_equal(laid.tube, raised)
        np.testing.assert_array_equal(laid.material != 0, raised)


def test_width_is_that_of_all_threads():
    assert trim().width() == pytest.approx(0.5 + 0.5 + 0.36)


def test_an_offset_moves_the_threads_off_the_edge():
    surface = bare()
    out = unrolled(surface) - WIDTH / 2
    raised = trim(offset=1.5).apply(surface).radius > RADIUS
    assert out[raised].min() == pytest.approx(1.5, abs=0.05)


# ---- Cut and closed


@pytest.mark.parametrize("make", [trim, lambda: SeamTrim(Ring(66, Edge.UPPER), THREADS, 0, 0, 70)])
def test_nothing_lies_beyond_the_cuts(make):
    layer = make()
    laid = layer.apply(bare())
    raised = laid.radius > RADIUS
    inside = (laid.z >= layer.start) & (laid.z <= layer.end)
    assert raised[inside].any()
    assert not raised[~inside].any()


def test_threads_are_cut_square_at_both_marks():
    laid = trim().apply(bare())
    raised = (laid.radius > RADIUS).any(axis=1)
    inside = (laid.z >= START) & (laid.z <= END)
    # The edge line passes both marks somewhere round the blank, so every station has thread on it.
    np.testing.assert_array_equal(raised, inside)


@pytest.mark.parametrize("hand", Hand)
@pytest.mark.parametrize("edge", Edge)
@pytest.mark.parametrize("starts", [1, 3])
def test_threads_close_round_the_blank(hand, edge, starts):
    laid = trim(edge, winding=line(hand, starts), width=WIDTH / starts).apply(bare(angles=480))
    jump = np.abs(np.diff(laid.radius, axis=1, append=laid.radius[:, :1])).max(axis=0)
    assert jump[-1] <= jump[:-1].max() + 1e-12
    # And the stronger check: started some columns further round, it is the same trim turned.
    turned = line(hand, starts, start_angle=2 * np.pi * 113 / 480)
    again = trim(edge, winding=turned, width=WIDTH / starts).apply(bare(angles=480))
    np.testing.assert_allclose(again.radius, np.roll(laid.radius, 113, axis=1), atol=1e-6)
    np.testing.assert_array_equal(again.material, np.roll(laid.material, 113, axis=1))


@pytest.mark.parametrize("edge", Edge)
def test_a_left_hand_trim_mirrors_a_right_hand_one(edge):
    right, left = (trim(edge, winding=line(hand)).apply(bare(angles=480)) for hand in Hand)
    mirror = -np.arange(480)
    np.testing.assert_allclose(left.radius, right.radius[:, mirror], atol=1e-6)
    np.testing.assert_array_equal(left.material, right.material[:, mirror])


# ---- Thread coordinates


@pytest.mark.parametrize("hand", Hand)
def test_thread_direction_and_coordinates(hand):
    surface = bare()
    laid = trim(winding=line(hand)).apply(surface)
    out = unrolled(surface, hand) - WIDTH / 2
    for number, thread in enumerate(THREADS):
        on = laid.material == thread.material
        np.testing.assert_allclose(laid.lay[on], hand.sign * (np.pi / 2 - ANGLE), atol=1e-6)
        assert (np.floor(laid.row[on]) == number).all()
        fraction = (out[on] - beside(number)) / thread.diameter + 0.5
        np.testing.assert_allclose(laid.row[on] - number, fraction, atol=1e-4)
    # Length is counted along the strip's middle, which crosses the same generator this far down.
    on = laid.material != 0
    middle = surface.z[np.nonzero(on)[0]] - (out[on] + WIDTH / 2) / np.sin(ANGLE)
    np.testing.assert_allclose(laid.along[on], (middle - 25.123) / np.cos(ANGLE), atol=1e-3)


# ---- Over a relief


def strip():
    # A strip without open cells, the ground a cover makes of a mesh.
    return MeshStrip(line(), WIDTH, 2.0, 2.0, 0.4, 0.4, 0, 70, 9)


def test_threads_climb_where_the_relief_is_in_the_way():
    surface = bare()
    ground = Cover(0, 70, 0.16, 0.16, 8).apply(strip().apply(surface))
    laid = trim(offset=-1.0, threads=THREADS[:2]).apply(ground)
    out = unrolled(surface) - WIDTH / 2
    inside = (surface.z > START + 1) & (surface.z < END - 1)
    step = surface.step
    crest = inside[:, None] & (np.abs(out + 0.75) < step / 2)
    # Nowhere inside what it lies on, and a whole thread above it at the crest.
    assert (laid.radius >= ground.radius).all()
    assert (laid.radius - ground.radius)[crest].min() > 0.5 - step**2
    assert (laid.radius[crest] - RADIUS).min() > 0.16 + 0.2 + 0.5 - step**2


def test_a_thread_beside_the_relief_does_not_sink_into_its_flank():
    surface = bare()
    ground = strip().apply(surface)
    laid = trim(threads=THREADS[:1]).apply(ground)
    out = unrolled(surface) - WIDTH / 2
    inside = (surface.z > START + 1) & (surface.z < END - 1)
    on = inside[:, None] & (laid.material == 1) & (out > 0) & (out < 0.5)
    # The flank ends where the thread begins, so the thread lies on the flat.
    top = laid.radius[on & (np.abs(out - 0.25) < 0.02)]
    assert top.min() >= RADIUS + 0.5 - 1e-3
    elsewhere = laid.material != 1
    np.testing.assert_array_equal(laid.radius[elsewhere], ground.radius[elsewhere])


def projected_hull(radius, step):
    """Distance of Qhull's hull of points of a run, seen along the axis, within half a turn."""
    angle = np.arange(radius.size) * step
    rays = np.stack((np.cos(angle), np.sin(angle)), axis=1)
    # A point on the axis closes the hull below the run.
    faces = ConvexHull(np.concatenate((radius[:, None] * rays, [[0.0, 0.0]]))).equations
    facing = rays @ faces[:, :2].T
    ahead = facing > 1e-9
    return np.where(ahead, -faces[:, 2] / np.where(ahead, facing, 1), np.inf).min(axis=1)


def crests(laid, hand, starts, number=0):
    """Height of a thread's middle along each start of the upper edge, cut to the trim."""
    run = StripEdge(line(hand, starts), WIDTH / starts, Edge.UPPER).run(laid, beside(number))
    station = (run.z - laid.z[0]) / laid.step
    column = np.broadcast_to(np.arange(laid.theta.size), station.shape)
    high = map_coordinates(laid.radius, (station, column), order=1, mode="nearest")
    on = run.joined((run.z > START) & (run.z < END))
    return run.joined(high), on


@pytest.mark.parametrize("hand", Hand)
@pytest.mark.parametrize("starts", [1, 2])
def test_a_thread_along_a_bumpy_edge_is_the_hull_of_the_bumps(hand, starts):
    """Seen along the axis a straight line in space is straight: against SciPy's Qhull."""
    surface = bare(stations=2801)
    bumps = hand.sign * surface.theta[None, :] * 24 + surface.z[:, None] * 1.7
    ground = surface.with_arrays(radius=surface.radius + 0.3 * np.maximum(np.sin(bumps), 0) ** 8)
    one = THREADS[:1]
    layer = trim(width=WIDTH / starts, winding=line(hand, starts), threads=one)
    high, on = crests(layer.apply(ground), hand, starts)
    # Where the middle of a thread would rest: a circle of its radius let down on the ground.
    edge = StripEdge(line(hand, starts), WIDTH / starts, Edge.UPPER)
    run = edge.run(ground, beside(0))
    half = THREADS[0].diameter / 2
    rest = np.full(run.z.shape, -np.inf)
    column = np.broadcast_to(np.arange(surface.theta.size), run.z.shape)
    for x in np.linspace(-0.9, 0.9, 7) * half:
        station = (run.z + x / np.sin(ANGLE) - surface.z[0]) / surface.step
        below = map_coordinates(ground.radius, (station, column), order=1, mode="nearest")
        rest = np.maximum(rest, below + np.sqrt(half**2 - x**2))
    middle = run.joined(rest)
    swing = 0.0
    for row in range(starts):
        places = np.flatnonzero(on[row])
        half_turn = places[100:440]  # well inside its ends, and less than half a turn
        exact = projected_hull(middle[row, half_turn], 2 * np.pi / surface.theta.size)
        inner = slice(60, -60)
        # Off by what the tube stands aslant on a chord, and by the grid beside its crest.
        np.testing.assert_allclose(high[row, half_turn][inner], exact[inner] + half, atol=0.012)
        swing = max(swing, np.ptp((middle[row, half_turn] - exact)[inner]))
    # The bumps would swing it by far more than that.
    assert swing > 0.2


# ---- Rings


@pytest.mark.parametrize("edge", Edge)
def test_a_ring_of_threads_round_the_end_of_a_lattice(edge):
    laid = SeamTrim(Ring(35, edge), THREADS, 0, 0, 70).apply(bare(angles=96))
    np.testing.assert_allclose(laid.radius, laid.radius[:, :1] + np.zeros(96), rtol=1e-14)
    profile = laid.radius[:, 0] - RADIUS
    for number, thread in enumerate(THREADS):
        half = thread.diameter / 2
        x = laid.z - (35 + edge.outward * beside(number))
        on = np.abs(x) < 0.95 * half
        np.testing.assert_allclose(profile[on], half + np.sqrt(half**2 - x[on] ** 2), atol=1e-9)
        assert (laid.material[on] == thread.material).all()
        assert not laid.lay[on].any()
        # Along the ring, the arc's length from the guide line.
        np.testing.assert_allclose(
            laid.along[on], np.broadcast_to(RADIUS * laid.theta, laid.along[on].shape), rtol=1e-6
        )


def test_a_ring_spans_from_ridge_to_ridge():
    """Over four lone rods a taut thread is straight, as far out as a common tangent of theirs.

    Circles of radius a with their centres on one of radius R: their belt's straight parts lie
    R cos(pi/n) + a from the axis, and the outside of a thread on it by its diameter further.
    """
    surface = bare(angles=2880)
    ridge, out, wide = 0.4, RADIUS + 5, 0.5
    across = (surface.theta + np.pi / 4) % (np.pi / 2) - np.pi / 4
    inside = ridge**2 - (out * np.sin(across)) ** 2
    rod = out * np.cos(across) + np.sqrt(np.maximum(inside, 0))
    radius = np.where(inside > 0, rod, surface.radius)
    laid = SeamTrim(Ring(35, Edge.UPPER), (TrimThread(wide, 1),), 0, 0, 70).apply(
        surface.with_arrays(radius=radius)
    )
    crest = laid.radius[np.abs(laid.z - 35 - wide / 2).argmin()]
    from_middle = surface.theta % (np.pi / 2) - np.pi / 4
    straight = np.abs(from_middle) < 0.65
    high = (crest * np.cos(from_middle))[straight]
    belt = out * np.cos(np.pi / 4) + ridge + wide
    # The station may lie half a step beside the crest; rods are located to half a column.
    drop = wide / 2 - np.sqrt((wide / 2) ** 2 - (surface.step / 2) ** 2)
    column = out * np.pi / surface.theta.size
    np.testing.assert_allclose(high, belt, atol=drop + column**2 / ridge + 1e-3)
