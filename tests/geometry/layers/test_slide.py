"""Where trims come to rest on a ramp: against closed forms, and mirrored."""

import numpy as np
import pytest

from geometry.blank import Blank
from geometry.grid import Grid
from geometry.layers.slide import slide_of
from geometry.layers.trim import Edge, Ring, SeamTrim, StripEdge, TrimThread
from geometry.surface import Surface
from geometry.winding import Hand, fixed_angle

RADIUS, LENGTH, FOOT = 10.0, 40.0, 20.0
HALF = 0.1
BLANK = Blank([0, LENGTH], [2 * RADIUS, 2 * RADIUS])


def ground(height, edge, step=0.02, nt=48):
    """A blank on which `height` says how high the ramp is at some distance inside its foot."""
    surface = Surface.bare(BLANK, Grid.even(0, LENGTH, round(LENGTH / step) + 1, nt))
    inside = np.clip((FOOT - surface.z) * edge.outward, 0, None)
    return surface.with_arrays(radius=surface.radius + height(inside)[:, None])


def ring(edge, before_the_foot, start=0.0, end=LENGTH):
    line = Ring(FOOT - edge.outward * before_the_foot, edge)
    return SeamTrim(line, (TrimThread(2 * HALF, 1),) * 3, 0.0, start, end)


def even(slope):
    return lambda inside: slope * np.minimum(inside, 3)


@pytest.mark.parametrize("edge", Edge)
@pytest.mark.parametrize("slope", [0.3, 0.6, 1.0])
def test_on_too_steep_a_ramp_it_slides_until_it_lies_against_its_foot(edge, slope):
    # A circle that touches the flat and a ramp that leans by a has its middle r tan(a/2) outside
    # the foot. It was laid with its middle r outside the ring. It is looked for every
    # 0.1 mm.
    slide = slide_of(ring(edge, 1.5), ground(even(slope), edge), 0.25)
    foot = 1.5 + HALF * np.tan(np.arctan(slope) / 2) - HALF
    assert slide.distance == pytest.approx(foot, abs=0.1)
    assert slide.fall == pytest.approx(slope, rel=1e-6)
    assert slide.held


@pytest.mark.parametrize("edge", Edge)
@pytest.mark.parametrize("friction", [0.1, 0.25, 0.5])
def test_on_a_ramp_that_flattens_it_slides_to_the_slope_that_friction_holds(edge, friction):
    # The ramp x²/2R falls by x/R at x inside its foot, and holds where that is the friction. The
    # thread's middle is r sin(a) further out than where it touches a slope of the angle a.
    bend = 4.0
    slide = slide_of(ring(edge, 2.4), ground(lambda x: x * x / (2 * bend), edge), friction)
    touches = 2.4 - friction * bend
    angle = np.arctan(friction)
    # Of seven places across the thread one touches, a sixth of its radius away at most.
    assert slide.distance == pytest.approx(touches + HALF * (np.sin(angle) - 1), abs=0.02)


@pytest.mark.parametrize("edge", Edge)
@pytest.mark.parametrize("slope", [0.0, 0.2, -0.6])
def test_on_what_friction_holds_it_stays(edge, slope):
    on = ground(even(slope), edge)
    trim = ring(edge, 1.5)
    slide = slide_of(trim, on, 0.25)
    assert slide.distance == 0
    assert slide.fall == pytest.approx(slope, abs=1e-9)


def test_where_nothing_holds_it_that_is_told():
    slope = ground(lambda inside: 0.6 * inside, Edge.UPPER)
    assert not slide_of(ring(Edge.UPPER, 15), slope, 0.25).held
    # The thread ends 1 mm further on, before the ramp does.
    ended = slide_of(ring(Edge.UPPER, 3, end=FOOT - 2), slope, 0.25)
    assert not ended.held
    assert ended.distance < 1


@pytest.mark.parametrize("hand", Hand)
@pytest.mark.parametrize("edge", Edge)
@pytest.mark.parametrize("angle", [35, 60])
def test_beside_a_strip_the_slope_across_its_run_counts(hand, edge, angle):
    """A ramp along the edge of a helical strip, the same all along it."""
    width, slope = 8.0, 0.5
    winding = fixed_angle(BLANK, (-60, 100), np.deg2rad(angle), starts=1, hand=hand, origin=20.0)
    surface = Surface.bare(BLANK, Grid.even(0, LENGTH, 501, 360))
    # Distance across the run from the nearest strip's middle, by plane trigonometry.
    turn = 2 * np.pi * np.arange(-4, 5)[:, None, None]
    s = RADIUS * (hand.sign * surface.theta + turn)
    sine, cosine = np.sin(np.deg2rad(angle)), np.cos(np.deg2rad(angle))
    away = ((surface.z[:, None] - 20.0) * sine - s * cosine) * edge.outward
    inside = np.where((away > -width / 2) & (away < width / 2 + 2), width / 2 + 2 - away, 0)
    rise = slope * np.minimum(inside.max(axis=0), 2)
    raised = surface.with_arrays(radius=surface.radius + rise)
    trim = SeamTrim(StripEdge(winding, width, edge), (TrimThread(0.2, 1),), 0.5, 2.0, 38.0)
    slide = slide_of(trim, raised, 0.25)
    assert slide.fall == pytest.approx(slope, rel=0.02)
    foot = 1.5 + HALF * np.tan(np.arctan(slope) / 2) - HALF
    assert slide.distance == pytest.approx(foot, abs=0.1)
    # Laid where it comes to rest it stays.
    rests = SeamTrim(trim.line.moved(slide.distance + 0.05), trim.threads, 0.5, 2.0, 38.0)
    assert slide_of(rests, raised, 0.25).distance == 0
