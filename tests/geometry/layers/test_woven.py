"""Woven panels against sizes and lengths by hand, and against the chart read off the surface."""

import numpy as np
import pytest

from geometry.blank import Blank
from geometry.grid import Grid
from geometry.layers.crossed import PRESSED
from geometry.layers.flat import BandRun, BlankRun, raised
from geometry.layers.woven import Chart, WovenPanel, floats, taken_up
from geometry.surface import Surface
from geometry.winding import Hand, fixed_angle

R, D = 6.0, 0.4
LENGTH = 40.0
WARP, GOLD, RED = 3, 7, 9


def tube(nt=1200, stations=1601, tip=R):
    blank = Blank([0, LENGTH], [2 * R, 2 * tip])
    return blank, Surface.bare(blank, Grid.even(0, LENGTH, stations, nt))


def run_of(blank, runs, around=1.0):
    if runs == "blank":
        return BlankRun(blank, 0.0, 20.0, around)
    winding = fixed_angle(blank, (0, LENGTH), np.pi / 4, hand=Hand(runs))
    return BandRun(raised(winding, blank, 0.0, 20.0, around), 20.0)


def chart(rng, rows=9, columns=12):
    return Chart(rng.integers(0, 3, (rows, columns)))


def panel(run, drawn):
    return WovenPanel(run, drawn, D, D, D, D, (WARP, GOLD, RED))


@pytest.mark.parametrize("around", [1.0, 0.0, -0.1])
@pytest.mark.parametrize("runs", ["blank", "right", "left"])
def test_each_crossing_shows_the_chart(runs, around, rng):
    """The middle of every pixel: rows from the top, columns from the left with the tip up."""
    blank, surface = tube()
    drawn = chart(rng)
    run = run_of(blank, runs, around)
    laid = panel(run, drawn).apply(surface)
    rows, columns = drawn.top.shape
    row, column = np.mgrid[:rows, :columns]
    s = (rows / 2 - row - 0.5) * D
    t = (columns / 2 - column - 0.5) * D
    theta, z = run.on_blank(s, t)
    i = np.rint((z - surface.z[0]) / surface.step).astype(int)
    j = np.rint(theta / (2 * np.pi) * surface.theta.size).astype(int) % surface.theta.size
    expected = np.array((WARP, GOLD, RED))[drawn.top]
    assert np.array_equal(laid.material[i, j], expected)
    # Threads of the warp run with the panel, picks a quarter turn from it.
    lay = laid.lay[i, j]
    run_lay = np.pi / 2 if runs == "blank" else Hand(runs).sign * np.pi / 4
    warp = drawn.top == 0
    assert np.abs(np.sin(lay[warp] - run_lay)).max() < 1e-3
    assert np.abs(np.cos(lay[~warp] - run_lay)).max() < 1e-3
    assert np.abs(lay).max() <= np.pi / 2 + 1e-6


def test_columns_run_to_the_right_with_the_tip_up():
    """With the tip up and the blank seen from outside, theta grows to the right."""
    blank, surface = tube()
    drawn = Chart(np.array([[1, 0, 0, 0], [2, 0, 0, 0]]))
    laid = panel(run_of(blank, "blank"), drawn).apply(surface)
    place = {m: np.argwhere(laid.material == m).mean(axis=0) for m in (WARP, GOLD, RED)}
    assert place[GOLD][1] < place[WARP][1]
    assert place[GOLD][0] > place[RED][0]


@pytest.mark.parametrize("runs", ["blank", "right", "left"])
def test_a_panel_is_as_large_as_its_threads(runs, rng):
    """12 warp threads and 9 picks of 0.4 mm: 4.8 by 3.6 mm, 17.28 mm²."""
    blank, surface = tube(nt=2400, stations=3201)
    made = panel(run_of(blank, runs), chart(rng))
    laid = made.apply(surface)
    assert (made.width, made.length) == (pytest.approx(4.8), pytest.approx(3.6))
    cells = laid.tube.sum() * surface.step * 2 * np.pi * R / surface.theta.size
    assert cells == pytest.approx(17.28, rel=0.02)


def test_heights_of_a_plain_weave():
    """Crests stand on the pressed thread below, 0.4 (1 - PRESSED) + 0.4 mm over the ground."""
    blank, surface = tube(nt=3000, stations=4001)
    drawn = Chart(np.indices((8, 8)).sum(axis=0) % 2)
    laid = panel(run_of(blank, "blank"), drawn).lay(surface)
    on = laid.surface.tube
    high = (laid.surface.radius - surface.radius)[on]
    assert high.max() == pytest.approx(D * (1 - PRESSED) + D, abs=0.01)
    assert high.min() > D / 2
    assert (laid.beneath.radius <= laid.surface.radius + 1e-12).all()


def test_a_float_lies_level():
    """A pick over three warp threads: level over the middle one, dived at both its ends."""
    blank, surface = tube(nt=3000, stations=4001)
    laid = panel(run_of(blank, "blank"), Chart(np.array([[0, 1, 1, 1, 0]]))).apply(surface)
    row = np.argmin(np.abs(surface.z - 20.0))
    away = (surface.theta - 1.0) * R
    high = laid.radius[row] - R
    over = np.abs(away) < 0.45 * D
    assert np.ptp(high[over]) < 1e-3
    end = np.argmin(np.abs(away - 1.49 * D))
    assert high[end] < high[over].mean() - 0.25 * D * (1 - PRESSED)


@pytest.mark.parametrize("around", [0.0, 2.0])
def test_a_closed_panel_meets_itself(around):
    """36 warp threads round the blank, each of one 36th of a turn, with no gap anywhere."""
    blank, surface = tube(nt=1440, tip=5.2)
    top = np.tile(np.array([[0, 1, 2]]), (5, 12))
    run = run_of(blank, "blank", around)
    made = WovenPanel(run, Chart(top), 1.0, D, 1.0, D, (WARP, GOLD, RED), closed=True)
    laid = made.apply(surface)
    rows = np.flatnonzero(laid.tube.any(axis=1))
    assert rows.size * surface.step == pytest.approx(5 * D, abs=2 * surface.step)
    for row in rows[[0, rows.size // 2, -1]]:
        assert laid.tube[row].all()
        line = laid.material[row]
        changes = (line != np.roll(line, 1)).sum()
        assert changes == 36
        assert np.bincount(line)[[WARP, GOLD, RED]] == pytest.approx(1440 / 3, abs=24)


def test_nothing_is_laid_beside_the_panel(rng):
    blank, surface = tube()
    laid = panel(run_of(blank, "right"), chart(rng)).apply(surface)
    assert np.array_equal(laid.radius[~laid.tube], surface.radius[~laid.tube])
    assert (laid.material[~laid.tube] == surface.material[~laid.tube]).all()


def test_threads_apart_show_what_lies_below():
    """At twice its diameter a pick covers half of a row; the warp is seen in the other half."""
    blank, surface = tube(nt=2400, stations=3201)
    made = WovenPanel(
        run_of(blank, "blank"), Chart(np.ones((6, 6), int)), D, D, D, 2 * D, (WARP, GOLD, RED)
    )
    laid = made.apply(surface)
    gold, warp = (laid.material == GOLD).sum(), (laid.material == WARP).sum()
    assert gold == pytest.approx(warp, rel=0.06)


def test_floats_of_a_chart_counted_by_hand():
    drawn = Chart(
        np.array(
            [
                [0, 1, 1, 1, 2],
                [0, 1, 0, 2, 2],
                [0, 0, 0, 0, 1],
            ]
        )
    )
    assert floats(drawn) == (3, 3)
    assert floats(Chart(np.zeros((4, 2), int))) == (4, 0)


def test_what_weaving_takes_up_is_the_arc_of_a_cosine():
    """Against the arc of z = A cos(pi x / p), summed numerically."""
    pitch = 0.5
    x = np.linspace(0, pitch, 20001)
    z = 0.1 * (1 - PRESSED) / 2 * np.cos(np.pi * x / pitch)
    arc = np.hypot(np.diff(x), np.diff(z)).sum()
    assert taken_up(10, 0.1, pitch) == pytest.approx(10 * (arc - pitch), rel=0.02)
