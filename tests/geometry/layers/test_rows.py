"""Single threads read back from a surface: round threads on cylinders, by hand."""

import numpy as np
import pytest

from geometry.blank import Blank
from geometry.grid import Grid
from geometry.layers.bundles import Course, Side, passes
from geometry.layers.cover import Cover
from geometry.layers.crossed import PRESSED, CrossedPattern
from geometry.layers.flat import BandRun, BlankRun, raised
from geometry.layers.overlay import Overlay, Strand
from geometry.layers.rows import Rows, thread_numbers
from geometry.layers.trim import Edge, SeamTrim, StripEdge, TrimThread
from geometry.layers.woven import Chart, WovenPanel
from geometry.surface import Layer, Surface
from geometry.winding import Hand, fixed_angle

RADIUS, D, LENGTH = 6.0, 0.2, 16.0
TUBE = Blank([0, LENGTH], [2 * RADIUS, 2 * RADIUS])
BARE = Surface.bare(TUBE, Grid.even(0, LENGTH, 641, 1440))
OVERLAY = Overlay(2.0, 14.0, (Strand(D, 5), Strand(D, 6)), 2 * D)


def line(hand: Hand):
    return fixed_angle(TUBE, (-20, 40), np.deg2rad(40), hand=hand, origin=8.0)


def trim(hand: Hand) -> Layer:
    return SeamTrim(StripEdge(line(hand), 2.0, Edge.UPPER), (TrimThread(D, 1),) * 3, 0.0, 2.0, 14.0)


def crossed() -> Layer:
    sequence = passes(Course((0,), hand, Side.CENTRE, 3, D, 1) for hand in Hand)
    return CrossedPattern(line(Hand.RIGHT), line(Hand.LEFT), sequence, 2.0, 14.0)


def panel(runs: str, top: np.ndarray | None = None) -> WovenPanel:
    run = (
        BlankRun(TUBE, 0.0, 8.0, 1.0)
        if runs == "blank"
        else BandRun(raised(line(Hand(runs)), TUBE, 0.0, 8.0, 1.0), 8.0)
    )
    chart = np.indices((16, 12)).sum(axis=0) // 3 % 2 if top is None else top
    return WovenPanel(run, Chart(chart), D, D, D, D, (3, 7))


LAYERS = {
    "overlay": OVERLAY,
    "crossed": crossed(),
    **{f"trim, {hand}": trim(hand) for hand in Hand},
    **{f"panel, {runs}": panel(runs) for runs in ("blank", *Hand)},
}


@pytest.mark.parametrize("layer", LAYERS.values(), ids=LAYERS)
def test_rows_climb_to_the_left_of_the_thread(layer: Layer) -> None:
    """Whatever lays threads, or light would take their rounds for grooves.

    With the tip up and the blank seen from outside, theta grows to the right: a thread at the angle
    lay runs cos(lay) to the right and sin(lay) up, and its left is cos(lay) up, sin(lay) left.
    """
    laid = layer.apply(BARE)
    numbers = thread_numbers(laid)
    left = {0: np.cos(laid.lay) * laid.step, 1: -np.sin(laid.lay) * laid.radius * laid.theta[1]}
    for axis, wanted in left.items():
        climb = np.diff(laid.row, axis=axis) * D
        here = np.s_[:-1] if axis == 0 else np.s_[:, :-1]
        same = (np.diff(numbers, axis=axis) == 0) & laid.tube[here]
        assert same.sum() > 1000
        # To a tenth of the grid's step, 0.025 mm: where on the thread's round a step is measured,
        # and the climb of an overlay in a turn, are left out.
        np.testing.assert_allclose(climb[same], wanted[here][same], atol=0.1 * laid.step)


@pytest.mark.parametrize("layer", LAYERS.values(), ids=LAYERS)
def test_no_crest_stands_more_than_half_a_thread_over_its_flank(layer: Layer) -> None:
    laid = layer.apply(BARE)
    above = Rows.of(laid).crest - laid.radius
    assert above[laid.tube].max() == pytest.approx(D / 2, rel=0.05)
    assert above[laid.tube].min() >= 0
    assert not above[~laid.tube].any()


def test_crests_are_read_back_from_round_threads() -> None:
    laid = OVERLAY.apply(BARE)
    rows = Rows.of(laid)
    inside = laid.between(2.5, 13.5)
    np.testing.assert_allclose(rows.crest[inside], RADIUS + D, atol=2e-3)
    np.testing.assert_allclose(rows.pitch[inside], D, rtol=5e-3)


def test_crests_of_threads_along_the_blank() -> None:
    """A warp over a long float of one pick: level, one pressed thread up, and its own width."""
    top = np.ones((6, 12), int)
    top[1:5] = 0
    laid = panel("blank", top).apply(BARE)
    middle = laid.between(7.9, 8.1)
    on = (laid.material == 3)[middle]
    assert on.sum() > 500
    crest = Rows.of(laid).crest[middle][on]
    # Its width is read where it lies, and it was given flat, on 6 mm: a twentieth more at 6.3.
    np.testing.assert_allclose(crest, RADIUS + D * (1 - PRESSED) + D, atol=D / 2 * 0.05)


def test_what_lies_beside_a_thread_may_number_its_rows_as_it_likes() -> None:
    """A layer whose rows happen to go on by next to nothing from those of the thread before it."""
    under = Cover(1.0, 15.0, D, D, 1).apply(BARE)
    laid = OVERLAY.apply(under)
    last = laid.between(2.0, 14.0).stop - 1
    row = laid.row.copy()
    row[last + 1 :] = row[last] + np.float32(1e-3)
    laid = laid.with_arrays(row=row)
    assert laid.tube[last].any()
    assert not laid.tube[last + 1 :].any()
    crest = Rows.of(laid).crest[laid.tube]
    assert crest.max() == pytest.approx(RADIUS + 2 * D, abs=2e-3)


def test_a_sliver_is_as_wide_as_its_like() -> None:
    """One place on the flank of a thread, seen between others, does not show its own width."""
    laid = OVERLAY.apply(BARE)
    row, material = laid.row.copy(), laid.material.copy()
    at = (laid.between(8.0, 8.0).start, 7)
    row[at], material[at] = np.floor(row[at]) + 300.9, 5
    crest = Rows.of(laid.with_arrays(row=row, material=material)).crest
    # The flank of a circle of radius 0.1 at 0.08 of its middle lies 0.1 - 0.06 below its crest.
    assert crest[at] - laid.radius[at] == pytest.approx(0.04, abs=1e-3)
