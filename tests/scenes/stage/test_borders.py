"""Sides of round threads between grid points, from the thread coordinates of grid points."""

from dataclasses import dataclass

import numpy as np
import pytest

from geometry.blank import Blank
from geometry.grid import Grid
from geometry.layers.cover import Cover
from geometry.layers.flaw import CrossedRow
from geometry.layers.overlay import Overlay, Strand
from geometry.layers.trim import Run, SeamTrim, TrimThread
from geometry.surface import Surface
from materials.appearance import Appearance
from scenes.stage.borders import ON_TUBE, border_codes, shown_at
from scenes.stage.maps import ROW_STEPS, crests, surface_maps

PALETTE = tuple(Appearance(name, (0.5, 0.5, 0.5)) for name in ("blank", "cover", "trim"))
THREAD = 0.2
AT = 6.013

ROUNDED = THREAD * (0.5 / 256 + 2.5 * (0.5 + 0.5) / ROW_STEPS)
"""Error of a side, mm: what the map of rows rounds, the place and both its changes, two and a half
steps away."""


@dataclass(frozen=True)
class Slanted:
    """A line that climbs half a millimetre for each millimetre round the blank."""

    def run(self, surface: Surface, beside: float) -> Run:
        """Give the line beside this one."""
        around = 10 * (surface.theta - np.pi)[None, :]
        lay = np.full_like(around, np.arctan(0.5))
        sine = np.cos(lay)
        return Run(AT + beside / sine + 0.5 * around, sine, lay, around)


def covered(step: float) -> Surface:
    """Make a cylinder wound with thread."""
    blank = Blank(np.array([0.0, 12.0]), np.array([20.0, 20.0]))
    angles = round(20 * np.pi / step / 16) * 16
    surface = Surface.bare(blank, Grid.even(0.0, 12.0, round(12 / step) + 1, angles))
    return Cover(1.0, 11.0, THREAD, THREAD, 1).apply(surface)


@pytest.mark.parametrize("step", [0.08, 0.05, 0.03])
@pytest.mark.parametrize("over", [3.0, -3.0, 1.0])
def test_a_place_shows_the_thread_exactly_up_to_its_sides(step: float, over: float) -> None:
    surface = covered(step)
    line = CrossedRow(AT, np.pi, over=over, length=6.0)
    trim = SeamTrim(line, (TrimThread(THREAD, 2),), -THREAD / 2, 1.0, 11.0).apply(surface)
    rows = surface_maps(trim, trim, None, PALETTE, THREAD).rows
    # The middle half of the thread; its line is known without a grid.
    rng = np.random.default_rng(1)
    run = line.run(surface, 0.0)
    near = np.flatnonzero(np.abs(surface.theta - np.pi) < 0.15)
    column = rng.choice(near, 20_000)
    z = run.z[0, column] + rng.uniform(-0.5, 0.5, column.size)
    inwards = THREAD / 2 - np.abs(z - run.z[0, column]) * run.sine[0, column]
    shown = shown_at(rows, ROW_STEPS, (z / step).astype(np.float32), column)
    on_thread = trim.tube[shown.station, shown.column]
    sure = np.abs(inwards) > ROUNDED
    assert (on_thread == (inwards > 0))[sure].all()
    # Nearest points alone would be wrong in many places.
    nearest = trim.tube[np.rint(z / step).astype(int), column]
    assert (nearest != (inwards > 0))[sure].mean() > 0.001
    close = np.abs(inwards) < 0.5 * step
    np.testing.assert_allclose(shown.off[close] * step, np.abs(inwards[close]), atol=2 * ROUNDED)
    other = trim.tube[shown.other_station, shown.other_column]
    assert (other != on_thread)[close].all()


def test_threads_that_touch_part_at_their_common_side() -> None:
    step = 0.08
    line = Slanted()
    threads = (TrimThread(THREAD, 1), TrimThread(THREAD, 2))
    trim = SeamTrim(line, threads, -THREAD, 1.0, 11.0).apply(covered(step))
    rows = surface_maps(trim, trim, None, PALETTE, THREAD).rows
    rng = np.random.default_rng(2)
    column = rng.choice(np.flatnonzero(np.abs(trim.theta - np.pi) < 0.1), 10_000)
    middle = line.run(trim, 0.0)
    z = middle.z[0, column] + rng.uniform(-0.15, 0.15, column.size)
    across = (z - middle.z[0, column]) * middle.sine[0, column]
    shown = shown_at(rows, ROW_STEPS, (z / step).astype(np.float32), column)
    material = trim.material[shown.station, shown.column]
    sure = np.abs(across) > ROUNDED
    assert (material == np.where(across > 0, 2, 1))[sure].all()


@pytest.mark.parametrize("step", [0.06, 0.03])
def test_of_a_thread_below_another_as_much_is_shown_as_is_not_covered(step: float) -> None:
    # Every other thread is pulled out again. Where the next ones lie is known without a grid; those
    # below are covered at any place across them, for the pitches differ.
    surface = covered(step)
    stripes = Overlay(1.0, 11.0, (Strand(THREAD, 1), Strand(THREAD, 1)), 2 * THREAD)
    pitch = 2.07 * THREAD
    over = Overlay(1.0, 11.0, (Strand(THREAD, 2), Strand(THREAD, 2, removed=True)), pitch)
    laid = over.apply(stripes.apply(surface))
    maps = surface_maps(laid, laid, None, PALETTE, THREAD)
    rng = np.random.default_rng(3)
    column = rng.integers(0, laid.theta.size, 40_000)
    z = rng.uniform(2.0, 10.0, column.size)
    turns = (z - 1.0) / pitch - laid.theta[column] / (2 * np.pi)
    inwards = THREAD / 2 - np.abs((turns - np.floor(turns)) * pitch - pitch / 4)
    shown = shown_at(maps.rows, ROW_STEPS, (z / step).astype(np.float32), column)
    upper = laid.material[shown.station, shown.column] == 2
    sure = np.abs(inwards) > ROUNDED
    assert (upper == (inwards > 0))[sure].all()
    assert upper.mean() == pytest.approx(THREAD / pitch, rel=0.01)


def test_without_round_threads_nothing_has_a_code() -> None:
    surface = covered(0.08)
    rows = surface_maps(surface, surface, None, PALETTE, THREAD).rows
    assert not rows[..., 3].any()
    assert border_codes(surface, crests(surface), rows, ROW_STEPS, THREAD).max() < ON_TUBE
