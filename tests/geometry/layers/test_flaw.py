"""Flaws shown on purpose: where they are, and only there."""

import numpy as np
import pytest

from geometry.blank import Blank
from geometry.grid import Grid
from geometry.layers.cover import Cover
from geometry.layers.flaw import CrossedRow, PartedRows
from geometry.layers.trim import SeamTrim, TrimThread
from geometry.surface import Surface

ROW = 0.2
GRID = Grid.even(0, 20, 401, 720)
BARE = Surface.bare(Blank([0, 20], [12, 12]), GRID)
COVERED = Cover(2, 18, ROW, ROW, 1).apply(BARE)


def test_gap_is_a_lens_that_shows_what_lies_beneath():
    width, length = 0.8, 6.0
    flawed = PartedRows(BARE, 10.0, 1.2, width, length).apply(COVERED)
    open_ = flawed.material == 0
    open_ &= COVERED.material == 1
    np.testing.assert_array_equal(flawed.radius[open_], BARE.radius[open_])
    np.testing.assert_array_equal(flawed.radius[~open_], COVERED.radius[~open_])
    # A lens between two parabolas has two thirds of its box (Archimedes, Quadrature of the
    # Parabola); here by counting grid points, to a row of them along its edge.
    cell = 0.05 * 6.2 * (2 * np.pi / 720)
    assert open_.sum() * cell == pytest.approx(2 / 3 * width * length, rel=0.1)
    z, column = np.nonzero(open_)
    assert abs(GRID.z[z].mean() - 10.0) < 0.03
    assert abs(GRID.theta[column].mean() - 1.2) < 0.01


def test_crossed_row_is_one_raised_thread_from_row_to_row():
    line = CrossedRow(10.0, 6.2, over=1.0, length=8.0)
    flawed = SeamTrim(line, (TrimThread(ROW, 2),), -ROW / 2, 2, 18).apply(COVERED)
    crossing = flawed.material == 2
    # It rides on the crests: its own crest is one diameter above theirs.
    height = flawed.radius[crossing] - COVERED.radius[crossing]
    assert height.max() == pytest.approx(ROW, abs=0.01)
    # It goes round the blank for its length and along it by its rise, and by no more.
    stations, columns = np.nonzero(crossing)
    away = (GRID.theta[columns] - 6.2 + np.pi) % (2 * np.pi) - np.pi
    assert np.ptp(away) * 6.2 == pytest.approx(8.0, abs=0.1)
    assert np.ptp(GRID.z[stations]) == pytest.approx(1.0 + ROW, abs=0.11)
    np.testing.assert_array_equal(flawed.radius[~crossing], COVERED.radius[~crossing])
