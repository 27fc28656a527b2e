"""Rings inlaid in a cover: widths, rows, heights and lengths by hand on a cylinder."""

import numpy as np
import pytest

from geometry.blank import Blank
from geometry.grid import Grid
from geometry.layers.cover import Cover, wound_length
from geometry.layers.inlay import Inlay
from geometry.layers.trim import TrimThread
from geometry.surface import Surface

BLANK = Blank(np.array([0.0, 60.0]), np.array([20.0, 20.0]))
COVER = Cover(5.0, 25.0, 0.2, 0.2, 1)
STEP = 0.01


def covered(angles: int = 192) -> Surface:
    grid = Grid.even(0.0, 30.0, 3001, angles)
    return COVER.apply(Surface.bare(BLANK, grid))


def widths(surface: Surface, material: int) -> np.ndarray:
    """Length along the blank of what has a material, at every angle, mm."""
    return (surface.material == material).sum(axis=0) * STEP


def test_bands_are_as_wide_as_their_threads() -> None:
    threads = (TrimThread(0.2, 2),) * 3 + (TrimThread(0.3, 3),) * 4
    laid = Inlay(COVER, 10.0, threads).apply(covered())
    # 3 x 0.2 and 4 x 0.3 by hand; where they meet each climbs by its own row in a turn.
    assert widths(laid, 2).mean() == pytest.approx(0.6, abs=STEP)
    assert widths(laid, 3).mean() == pytest.approx(1.2, abs=STEP)
    assert np.ptp(widths(laid, 3)) < 0.06
    # What they take is the cover's loss.
    assert widths(laid, 1).mean() == pytest.approx(20.0 - 1.8, abs=2 * STEP)


def test_rows_climb_by_one_and_step_opposite_the_guide_line() -> None:
    surface = covered()
    laid = Inlay(COVER, 10.0, (TrimThread(0.2, 2),) * 3).apply(surface)
    lower = surface.z[np.argmax(laid.material == 2, axis=0)]
    turn = (surface.theta / (2 * np.pi) + 0.5) % 1
    np.testing.assert_allclose(lower, 10.0 + 0.2 * (turn - 0.5), atol=1.01 * STEP)
    # Closed at 2 pi: no step at the guide line.
    assert abs(lower[0] - lower[-1]) < 1.5 * STEP
    half = surface.theta.size // 2
    assert lower[half] - lower[half - 1] == pytest.approx(-0.2, abs=1.5 * STEP)


def test_rows_are_numbered_thread_by_thread() -> None:
    surface = covered()
    laid = Inlay(COVER, 10.0, (TrimThread(0.2, 2),) * 3).apply(surface)
    inside = laid.material == 2
    rows = np.unique(np.floor(laid.row[inside]))
    assert rows.size == 3
    # Across each thread the number runs once from 0 to 1.
    part = laid.row[:, 30][inside[:, 30]]
    np.testing.assert_allclose(np.diff(part), STEP / 0.2, atol=1e-3)


@pytest.mark.parametrize("start", [10.0, 10.07, 10.13])
def test_a_whole_row_of_the_cover_ends_where_the_rings_begin(start: float) -> None:
    laid = Inlay(COVER, start, (TrimThread(0.2, 2),) * 3).apply(covered())
    for column in (0, 40, 150):
        first = int(np.argmax(laid.material[:, column] == 2))
        after = first + int((laid.material[:, column] == 2).sum())
        edge = laid.row[first - 1, column] % 1
        assert min(edge, 1 - edge) < 1.5 * STEP / 0.2
        edge = laid.row[after, column] % 1
        assert min(edge, 1 - edge) < 1.5 * STEP / 0.2


def test_a_thread_of_another_size_stands_as_much_higher() -> None:
    surface = covered()
    laid = Inlay(COVER, 10.0, (TrimThread(0.2, 2), TrimThread(0.3, 3))).apply(surface)
    # On a cylinder r + d: 10.2 and 10.3 by hand.
    np.testing.assert_allclose(laid.radius[laid.material == 2], 10.2, atol=1e-9)
    np.testing.assert_allclose(laid.radius[laid.material == 3], 10.3, atol=1e-9)
    outside = (laid.material != 2) & (laid.material != 3)
    np.testing.assert_array_equal(laid.radius[outside], surface.radius[outside])


def test_rings_at_the_very_end_are_its_end() -> None:
    threads = (TrimThread(0.2, 2), TrimThread(0.2, 3))
    surface = Inlay(COVER, 5.0, threads).apply(covered())
    surface = Inlay(COVER, 25.0 - 0.4, threads[::-1]).apply(surface)
    inside = surface.between(5.0, 25.0)
    assert (surface.material[inside][0] == 2).all()
    assert (surface.material[inside][-1] == 2).all()
    # The two ends are mirror images: as much of each thread at both, round the blank.
    middle = surface.z.size // 2
    for material in (2, 3):
        one = (surface.material[:middle] == material).sum()
        other = (surface.material[middle:] == material).sum()
        assert one == pytest.approx(other, rel=0.02)


def test_lengths_of_rings_and_of_the_rows_left() -> None:
    surface = covered(768)
    inlay = Inlay(COVER, 10.0, (TrimThread(0.2, 2), TrimThread(0.3, 3)))
    # sqrt((2 pi (10 + d/2))² + d²) by hand; 768 chords are short of the circle by 3e-6.
    exact = [np.hypot(2 * np.pi * 10.1, 0.2), np.hypot(2 * np.pi * 10.15, 0.3)]
    np.testing.assert_allclose(inlay.lengths(surface), exact, rtol=1e-5)
    bare = Surface.bare(BLANK, Grid.even(0.0, 30.0, 3001, 768))
    given_up = ((10.0, 10.0 + 20 * 0.2),)
    whole, left = wound_length(bare, COVER), wound_length(bare, COVER, given_up)
    # 100 rows, of which 20 give way.
    assert COVER.kept(COVER.draped(bare), given_up).size == 80
    assert COVER.level_rows(given_up) == 80
    assert left / whole == pytest.approx(0.8)
