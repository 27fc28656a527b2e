"""Crossed patterns against closed forms, a painter worked by hand and measurement on the grid."""

import numpy as np
import pytest
from scipy.ndimage import label

from geometry.blank import Blank
from geometry.grid import Grid
from geometry.layers.bundles import Course, Side, bundle_width, passes
from geometry.layers.crossed import PRESSED, CrossedPattern, Pass, marks
from geometry.surface import Surface
from geometry.winding import Hand, even_marks, fixed_angle

R, D = 8.0, 0.2
LENGTH, SPACING = 60.0, 12.0


def tube(radius=R, length=LENGTH, stations=1201, nt=1080, tip=None):
    blank = Blank([0, length], [2 * radius, 2 * (tip or radius)])
    return blank, Surface.bare(blank, Grid.even(0, length, stations, nt))


def wound(blank, starts, spacing=SPACING, around=0.0):
    return tuple(
        even_marks(
            blank,
            (0, LENGTH),
            spacing,
            starts=starts,
            hand=hand,
            origin=LENGTH / 2,
            start_angle=around,
        )
        for hand in (Hand.RIGHT, Hand.LEFT)
    )


def courses(starts, *steps):
    every = tuple(range(starts))
    return passes(
        Course(every, hand, side, count, D, material) for hand, side, count, material in steps
    )


def diamond(starts, rings=4, ring=3):
    """A centre and rings of as many threads, each of its own material."""
    steps = [(hand, Side.CENTRE, ring, 1) for hand in Hand]
    for number in range(2, rings + 1):
        steps += [
            (hand, side, 1, number)
            for _ in range(ring)
            for hand in Hand
            for side in (Side.TIP, Side.BUTT)
        ]
    return courses(starts, *steps)


def spots(on, surface):
    """Centres of the connected places of a mask: angle, rad, and distance, mm."""
    nt = surface.theta.size
    rolled = np.roll(on, nt // 7, axis=1)  # the cut must not go through one on axis 0
    named, count = label(rolled, np.ones((3, 3)))
    found = []
    for number in range(1, count + 1):
        i, j = np.nonzero(named == number)
        found.append(((j.mean() - nt // 7) % nt * 2 * np.pi / nt, surface.z[i].mean(), i.size))
    return found


def nearest(found, place):
    """How far the nearest of some spots is from a place, mm."""
    angle, z = place
    return min(
        np.hypot(R * ((a - angle + np.pi) % (2 * np.pi) - np.pi), y - z) for a, y, _ in found
    )


@pytest.mark.parametrize("starts", [1, 2, 3])
def test_crossings_of_two_helix_families(starts):
    # theta = 2 pi (z / p + i / n) and theta = -2 pi (z / p - j / n) with p = n s meet where
    # theta = pi m / n: n meetings a spacing on each of 2 n axes in a pitch, that is at every whole
    # spacing on even axes and half-way between on odd ones. By hand; the middle is on axis 0.
    blank, surface = tube()
    lines = wound(blank, starts)
    sequence = courses(starts, *((hand, Side.CENTRE, 1, 1) for hand in Hand))
    laid = CrossedPattern(*lines, sequence, 2, LENGTH - 2).lay(surface)
    assert laid.layers.max() == 2
    expected = sorted(
        (np.pi * axis / starts, LENGTH / 2 + (k + axis % 2 / 2) * SPACING)
        for axis in range(2 * starts)
        for k in range(-3, 3)
        if 2 < LENGTH / 2 + (k + axis % 2 / 2) * SPACING < LENGTH - 2
    )
    found = spots(laid.layers == 2, surface)
    assert len(found) == len(expected)
    for place in expected:
        assert nearest(found, place) < surface.step


def test_marks_are_where_the_threads_cross():
    blank, surface = tube()
    lines = wound(blank, 2, around=0.3)
    sequence = courses(2, *((hand, Side.CENTRE, 1, 1) for hand in Hand))
    laid = CrossedPattern(*lines, sequence, 2, LENGTH - 2).lay(surface)
    found = spots(laid.layers == 2, surface)
    expected = [
        (0.3 + np.pi * axis / 2, z)
        for axis in range(4)
        for z in marks(lines[0], axis, 2, LENGTH - 2, 0.3)
    ]
    assert len(expected) == len(found)
    for angle, z in expected:
        near = min(
            np.hypot(R * ((a - angle + np.pi) % (2 * np.pi) - np.pi), y - z) for a, y, _ in found
        )
        assert near < 2 * surface.step


def test_marks_by_hand():
    # n 2, s 12, from the middle of 60 mm: 6, 18, 30, 42, 54 on axes 0 and 2; 12, 24, 36, 48 else.
    blank, _ = tube()
    right, _ = wound(blank, 2)
    for axis, expected in (
        (0, [6, 18, 30, 42, 54]),
        (1, [12, 24, 36, 48]),
        (2, [6, 18, 30, 42, 54]),
    ):
        np.testing.assert_allclose(marks(right, axis, 2, 58), expected, atol=1e-6)


@pytest.mark.parametrize("tip", [None, 7.0])
def test_diamonds_are_equal_and_close(tip):
    # A ring of w to either side of a centre line is the rhombus |a| < w, |b| < w of the two runs:
    # 2 w / sin(alpha) along the blank and 2 w / cos(alpha) round it, tan(alpha) = 2 pi r / (n s).
    starts = 2
    blank, surface = tube(tip=tip)
    laid = CrossedPattern(*wound(blank, starts), diamond(starts), 2, LENGTH - 2).lay(surface)
    shown = laid.surface.material
    for rings in (1, 2, 3, 4):
        inside = (shown >= 1) & (shown <= rings) & (laid.layers == 2)
        width = D * (3 + 6 * (rings - 1))
        lengths, widths, areas = [], [], []
        for axis in range(2 * starts):
            column = round(surface.theta.size * axis / (2 * starts))
            for mark in marks(wound(blank, starts)[0], axis, 8, LENGTH - 8):
                station = round(mark / surface.step)
                angle = np.arctan(2 * np.pi * float(blank.radius(mark)) / (starts * SPACING))
                long = _run_through(inside[:, column], station) * surface.step
                turned = np.roll(inside[station], -column + inside.shape[1] // 2)
                step = 2 * np.pi * float(blank.radius(mark)) / inside.shape[1]
                wide = _run_through(turned, inside.shape[1] // 2) * step
                lengths.append(long - width / np.sin(angle))
                widths.append(wide - width / np.cos(angle))
                areas.append(long * wide)
        # A grid step at either end.
        assert np.abs(lengths).max() < 2.5 * surface.step
        assert np.abs(widths).max() < 2.5 * step
        if tip is None:
            assert np.ptp(areas) < 4 * surface.step * (max(areas) ** 0.5)


def _run_through(line, at):
    """How many places in a row are set round one."""
    unset = np.flatnonzero(~line)
    return int(unset[unset > at].min() - unset[unset < at].max() - 1)


def test_the_pattern_comes_round_without_a_seam():
    # n-fold: turned by 2 pi / n it is the same pattern, over theta = 0 too.
    starts = 3
    blank, surface = tube()
    laid = CrossedPattern(*wound(blank, starts), diamond(starts), 2, LENGTH - 2).apply(surface)
    turned = np.roll(laid.material, surface.theta.size // starts, axis=1)
    assert (turned == laid.material).mean() > 0.999
    np.testing.assert_allclose(
        np.roll(laid.radius, surface.theta.size // starts, axis=1), laid.radius, atol=1e-9
    )


def test_it_is_mirrored_for_the_other_hand():
    # theta -> -theta turns right into left; laid with the hands changed it is the mirror image.
    blank, surface = tube()
    right, left = wound(blank, 1)
    sequence = diamond(1)
    mirrored = tuple(
        tuple(
            Pass(
                one.start,
                Hand.LEFT if one.hand is Hand.RIGHT else Hand.RIGHT,
                one.across,
                one.diameter,
                one.material,
            )
            for one in part
        )
        for part in sequence
    )
    one = CrossedPattern(right, left, sequence, 2, LENGTH - 2).apply(surface)
    other = CrossedPattern(right, left, mirrored, 2, LENGTH - 2).apply(surface)
    back = np.roll(other.radius[:, ::-1], 1, axis=1)
    np.testing.assert_allclose(back, one.radius, atol=1e-9)
    np.testing.assert_allclose(
        np.roll(other.lay[:, ::-1], 1, axis=1), np.where(one.tube, -one.lay, one.lay), atol=1e-6
    )


# ---- Over and under


def test_over_and_under_on_a_tiny_grid():
    # Eight columns of 1 mm, nine stations of 1 mm, helices at 45 degrees, threads so thin that
    # each covers one place in every column. A runs right-hand through column 0 at 4 mm, b
    # left-hand through the same place, laid after it; C beside A, 1 mm towards the tip, laid
    # third; d beside b, 1 mm towards the butt, laid last. So in column j A is at 4 + j, b at
    # 4 - j, C at 5 + j and d at 3 - j, all modulo 8 (0 and 8 mm are a turn apart), and d covers
    # C, C covers b, b covers A. Painted by hand, the tip above:
    by_hand = [
        "...db...",
        "..CAdb..",
        ".CA..db.",
        "CA....db",
        "b......d",
        "db....CA",
        ".db..CA.",
        "..dbCA..",
        "...db...",
    ]
    radius = 8 / (2 * np.pi)
    blank = Blank([0, 8], [2 * radius, 2 * radius])
    surface = Surface.bare(blank, Grid.even(0, 8, 9, 8))
    lines = tuple(
        even_marks(blank, (0, 8), 8.0, starts=1, hand=hand, origin=4.0)
        for hand in (Hand.RIGHT, Hand.LEFT)
    )
    beside = np.sin(np.pi / 4)
    sequence = (
        (Pass(0, Hand.RIGHT, 0.0, 0.4, 1),),
        (Pass(0, Hand.LEFT, 0.0, 0.4, 2),),
        (Pass(0, Hand.RIGHT, beside, 0.4, 3),),
        (Pass(0, Hand.LEFT, -beside, 0.4, 4),),
    )
    laid = CrossedPattern(*lines, sequence, 0, 8).apply(surface)
    names = np.array(list(".AbCd"))
    assert ["".join(names[row]) for row in laid.material[::-1]] == by_hand


def test_over_and_under_as_a_painter_has_it(rng):
    # Brute force: every thread in turn over every place nearer to it than its half width.
    blank, surface = tube(length=20, stations=201, nt=252)
    lines = tuple(
        even_marks(blank, (0, 20), 10.0, starts=2, hand=hand, origin=10.0)
        for hand in (Hand.RIGHT, Hand.LEFT)
    )
    sequence = tuple(
        (
            Pass(
                int(rng.integers(2)),
                Hand.RIGHT if rng.random() < 0.5 else Hand.LEFT,
                float(rng.uniform(-3, 3)),
                float(rng.uniform(0.3, 0.9)),
                number,
            ),
        )
        for number in range(1, 13)
    )
    laid = CrossedPattern(*lines, sequence, 0, 20).lay(surface)
    angle = np.arctan(2 * np.pi * R / 20)
    shown, count = np.zeros(surface.shape, int), np.zeros(surface.shape, int)
    for (one,) in sequence:
        sign = 1 if one.hand is Hand.RIGHT else -1
        z = surface.z[:, None] - one.across / np.sin(angle)
        turned = sign * (z - 10) * 2 * np.pi / 20 + np.pi * one.start - surface.theta
        away = ((turned + np.pi) % (2 * np.pi) - np.pi) * R * np.cos(angle)
        inside = np.abs(away) < one.diameter / 2
        shown[inside], count[inside] = one.material, count[inside] + 1
    # Places on the very edge of a thread may fall to either side.
    assert (laid.surface.material == shown).mean() > 0.999
    assert (laid.layers == count).mean() > 0.998
    assert laid.layers.max() == count.max()


# ---- Heights, lengths and what a renderer reads


def test_heights_on_the_blank_and_where_two_cross():
    # One thread on the blank stands d high, a second across it d (1 - pressed) higher.
    blank, surface = tube(nt=2160, stations=2401)
    sequence = courses(1, *((hand, Side.CENTRE, 1, 1) for hand in Hand))
    laid = CrossedPattern(*wound(blank, 1), sequence, 2, LENGTH - 2).lay(surface)
    high = laid.surface.radius - R
    assert high.max() == pytest.approx(D + D * (1 - PRESSED), abs=0.004)
    lone = laid.surface.tube & (laid.surface.lay > 0) & (laid.layers == 1)
    assert high[lone].max() == pytest.approx(D, abs=0.002)
    assert high[~laid.surface.tube].max() == 0


def test_a_bundle_stands_no_higher_than_two_threads():
    # Threads of one hand lie side by side, so however many are laid no place has more than two.
    blank, surface = tube()
    laid = CrossedPattern(*wound(blank, 2), diamond(2, 6, 4), 2, LENGTH - 2).lay(surface)
    assert laid.layers.max() == 2
    assert (laid.surface.radius - R).max() < D * (2 - PRESSED) + 0.01


def test_threads_stacked_on_purpose_stand_higher():
    # Three bundles over one another: the centre again, right-hand on right-hand.
    blank, surface = tube()
    steps = ((Hand.RIGHT, Side.CENTRE, 5, 1), (Hand.LEFT, Side.CENTRE, 5, 2))
    sequence = courses(1, *steps, (Hand.RIGHT, Side.CENTRE, 1, 3))
    laid = CrossedPattern(*wound(blank, 1), sequence, 2, LENGTH - 2).lay(surface)
    assert laid.layers.max() == 3
    assert (laid.surface.radius - R).max() == pytest.approx(D + 2 * D * (1 - PRESSED), abs=0.02)
    over = laid.surface.material == 3
    assert set(np.unique(laid.beneath.material[over])) == {1, 2}


def test_length_of_a_helix():
    # sqrt(L² + (2 pi (r + d/2) L / p)²), by hand for L 56, p 12, r 8, d 0.2: 244.017 mm.
    blank, surface = tube()
    sequence = courses(1, (Hand.RIGHT, Side.CENTRE, 1, 1))
    laid = CrossedPattern(*wound(blank, 1), sequence, 2, LENGTH - 2).lay(surface)
    exact = np.hypot(56, 2 * np.pi * 8.1 * 56 / 12)
    assert exact == pytest.approx(244.017, abs=0.01)
    assert laid.lengths[0] == pytest.approx(exact, abs=0.2)


def test_thread_coordinates_and_direction():
    blank, surface = tube()
    sequence = courses(2, *((hand, Side.CENTRE, 3, 1) for hand in Hand))
    laid = CrossedPattern(*wound(blank, 2), sequence, 2, LENGTH - 2).apply(surface)
    angle = np.arctan(2 * np.pi * R / (2 * SPACING))
    lay = laid.lay[laid.tube]
    np.testing.assert_allclose(np.abs(lay), np.pi / 2 - angle, atol=1e-3)
    assert (lay > 0).any()
    assert (lay < 0).any()
    # Twelve threads, each with its own number; across each from side to side.
    assert set(np.floor(laid.row[laid.tube]).astype(int)) == set(range(12))
    crest = laid.radius - R
    middle = laid.tube & (np.abs(laid.row % 1 - 0.5) < 0.1)
    side = laid.tube & (np.abs(laid.row % 1 - 0.5) > 0.45)
    assert crest[middle].mean() > crest[side].mean() + 0.25 * D
    # Along a thread the coordinate grows as fast as the thread is long.
    on = laid.tube & (np.floor(laid.row) == 1) & (np.abs(laid.row % 1 - 0.5) < 0.1)
    i, j = np.nonzero(on)
    order = np.argsort(surface.z[i])
    run = np.diff(laid.along[i, j][order].astype(float)[[0, -1]])[0]
    rise = np.diff(surface.z[i][order][[0, -1]])[0]
    assert run == pytest.approx(rise / np.cos(angle), rel=0.01)


def test_it_ends_where_it_should():
    blank, surface = tube()
    laid = CrossedPattern(*wound(blank, 2), diamond(2), 10, 45).apply(surface)
    on = np.flatnonzero(laid.tube.any(axis=1))
    assert surface.z[on[[0, -1]]] == pytest.approx([10, 45], abs=1e-6)
    off = (surface.z < 10 - 1e-6) | (surface.z > 45 + 1e-6)
    for name in ("radius", "material", "lay", "row", "along"):
        np.testing.assert_array_equal(getattr(laid, name)[off], getattr(surface, name)[off])


@pytest.mark.parametrize("tip", [None, 7.2])
def test_packed_bundles_meet_all_along_the_taper(tip):
    # tan(alpha) = 2 pi r / (n s): the room s sin(alpha) shrinks with the blank, and the threads
    # with it.
    starts = 2
    blank, surface = tube(tip=tip)
    room = SPACING * np.sin(np.arctan(2 * np.pi * 7.6 / (starts * SPACING)))
    count = round(room / D)
    sequence = courses(starts, *((hand, Side.CENTRE, count, 1) for hand in Hand))
    packed = bundle_width(sequence)
    laid = CrossedPattern(*wound(blank, starts), sequence, 2, LENGTH - 2, packed).lay(surface)
    within = surface.between(2, LENGTH - 2)
    assert laid.layers.max() == 2
    assert (laid.layers[within] == 2).mean() > 0.999
    assert laid.surface.tube[within].all()


def test_a_thread_spans_a_valley_and_climbs_a_ridge():
    # A ridge 0.5 mm high along the blank: a straight line off it touches the round r 8 again
    # 2 r sin(alpha) sqrt(2 h r) / ... after theta = sqrt(2 h / r) = 0.354 rad, whatever the angle.
    blank, surface = tube()
    theta = surface.theta
    ridge = np.abs(theta - np.pi) < 0.05
    raised = surface.with_arrays(radius=surface.radius + 0.5 * ridge[None, :])
    sequence = courses(1, (Hand.RIGHT, Side.CENTRE, 1, 1))
    lines = tuple(
        fixed_angle(blank, (0, LENGTH), np.radians(60), hand=hand, origin=30.0)
        for hand in (Hand.RIGHT, Hand.LEFT)
    )
    laid = CrossedPattern(*lines, sequence, 2, LENGTH - 2).apply(raised)
    crest = laid.tube & (np.abs(laid.row % 1 - 0.5) < 0.15)
    high = laid.radius - surface.radius
    on_ridge = crest & ridge[None, :]
    assert high[on_ridge].max() == pytest.approx(0.5 + D, abs=0.01)
    far = crest & (np.abs(theta - np.pi) > 0.05 + 0.354 + 0.06)[None, :]
    assert high[far].max() == pytest.approx(D, abs=0.01)
    half = crest & (np.abs(np.abs(theta - np.pi) - 0.05 - 0.177) < 0.02)[None, :]
    # Half-way in angle the line stands a quarter as high.
    assert high[half].mean() == pytest.approx(0.125 + D, abs=0.05)


# ---- Bundles


def test_bundles_grow_by_hand():
    # Three in the middle: -0.2, 0, 0.2. Two towards the tip: 0.4, 0.6; one to the butt: -0.4.
    part = courses(
        1,
        (Hand.RIGHT, Side.CENTRE, 3, 1),
        (Hand.RIGHT, Side.TIP, 2, 2),
        (Hand.RIGHT, Side.BUTT, 1, 3),
        (Hand.LEFT, Side.TIP, 1, 4),
    )
    assert [[round(one.across, 9) for one in laid] for laid in part] == [
        [-0.2, 0.0, 0.2],
        [0.4, 0.6],
        [-0.4],
        [0.1],
    ]
    assert bundle_width(part) == pytest.approx(1.2)
    assert bundle_width(()) == 0


def test_each_axis_has_bundles_of_its_own():
    course = Course((0,), Hand.RIGHT, Side.TIP, 1, D, 1)
    both = Course((1, 0), Hand.RIGHT, Side.TIP, 1, D, 1)
    first, second = passes((course, both))
    assert [(one.start, one.across) for one in second] == [
        (1, pytest.approx(D / 2)),
        (0, pytest.approx(3 * D / 2)),
    ]
    assert first[0].start == 0
