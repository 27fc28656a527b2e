"""Marbling: maps against the paper's, an integrated flow and areas measured by counting."""

from collections.abc import Callable

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from geometry.errors import GeometryError
from geometry.layers.marbling import (
    Drop,
    Stroke,
    equal_area_along,
    moved,
    outlines,
    scattered,
)
from tests.geometry.layers.marbling_backwards import backward, covers, pigment_at

L = 30.0
COMB = Stroke(3.0, 5.0, np.radians(90), 4.0, 1.5, tines=3, spacing=4.0)
SPIRAL = Stroke(0.0, 2.0, np.radians(35), -3.0, 2.0)
RING = Stroke(0.0, 10.0, 0.0, 6.0, 1.0)


def places(count: int = 400, seed: int = 3) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    return rng.uniform(0, L, count), rng.uniform(-20, 20, count)


def test_small_drop_is_that_of_the_paper() -> None:
    """[Lu2012]: P' = C + (P - C) √(1 + r²/|P - C|²); the cylinder differs by (d/L)²."""
    wide = 1e4
    drop = Drop(10.0, 0.0, np.pi * 2.0**2, 1)
    x, y = np.random.default_rng(1).uniform(-6, 6, (2, 300))
    grown = np.sqrt(1 + 4 / (x**2 + y**2))
    around, along = drop.forward(x + 10, y, wide)
    assert np.allclose(around, 10 + x * grown, atol=1e-5)
    assert np.allclose(along, y * grown, atol=1e-5)


def test_drop_is_the_flow_of_a_source_on_a_cylinder() -> None:
    """Integrated by SciPy: speed is the gradient of the potential log|sin(πζ/L)|, A = 2πmt."""
    drop = Drop(0.0, 0.0, 60.0, 1)

    def speed(_: float, at: np.ndarray) -> np.ndarray:
        zeta = at[0] + 1j * at[1]
        flow = np.conj(np.pi / L / np.tan(np.pi * zeta / L))
        return np.array([flow.real, flow.imag])

    for start in [(1.0, 0.5), (-4.0, 2.0), (14.0, -0.2), (0.3, -9.0), (-14.9, 0.01)]:
        run = solve_ivp(speed, (0, 60.0 / (2 * np.pi)), start, rtol=1e-10, atol=1e-12)
        found = drop.forward(np.array(start[0]), np.array(start[1]), L)
        assert np.allclose(found, run.y[:, -1], atol=1e-6)


@pytest.mark.parametrize("area", [2.0, 40.0, 400.0])
def test_drop_covers_its_area(area: float) -> None:
    drop = Drop(29.0, 1.0, area, 1)
    n, length = 1200, 4 * np.sqrt(area)
    around = (np.arange(n) + 0.5) * L / n
    along = 1.0 + ((np.arange(n) + 0.5) / n - 0.5) * length
    share = covers(drop, around[:, None], along[None, :], L).mean()
    assert share * L * length == pytest.approx(area, rel=6e-3)


def test_area_of_each_drop_is_kept_under_later_drops_and_strokes() -> None:
    """Counted on a grid, whose error is a cell's width along the outline."""
    areas = {1: 50.0, 2: 30.0, 3: 20.0}
    steps = [
        Drop(5.0, 0.0, areas[1], 1),
        Drop(6.0, 2.0, areas[2], 2),
        COMB,
        Drop(20.0, -3.0, areas[3], 3),
        SPIRAL,
        RING,
    ]
    n = 1500
    around = (np.arange(n) + 0.5) * L / n
    along = (np.arange(n) + 0.5) * 80.0 / n - 40.0
    found = pigment_at(around[:, None], along[None, :], L, steps)
    for pigment, area in areas.items():
        assert (found == pigment).mean() * L * 80.0 == pytest.approx(area, rel=0.01)


@pytest.mark.parametrize("step", [Drop(5.0, 1.0, 40.0, 1), COMB, SPIRAL, RING])
def test_map_keeps_areas(step: Drop | Stroke) -> None:
    """The Jacobian's determinant is 1, by central differences off the path's crease."""
    around, along = places()
    h = 1e-5
    x1, y1 = (
        a - b
        for a, b in zip(
            step.forward(around + h, along, L), step.forward(around - h, along, L), strict=True
        )
    )
    x2, y2 = (
        a - b
        for a, b in zip(
            step.forward(around, along + h, L), step.forward(around, along - h, L), strict=True
        )
    )
    determinant = (x1 * y2 - x2 * y1) / (4 * h * h)
    assert np.allclose(determinant, 1, atol=1e-5)


@pytest.mark.parametrize("step", [Drop(5.0, 1.0, 40.0, 1), COMB, SPIRAL, RING])
def test_way_back(step: Drop | Stroke) -> None:
    around, along = places()
    there = step.forward(around, along, L)
    back = backward(step, *there, L)
    assert np.allclose(back[0], around, atol=1e-7)
    assert np.allclose(back[1], along, atol=1e-7)


@pytest.mark.parametrize("step", [Drop(5.0, 1.0, 40.0, 1), COMB, SPIRAL, RING])
def test_pattern_closes_round_the_blank(step: Drop | Stroke) -> None:
    around, along = places()
    once, again = step.forward(around, along, L), step.forward(around + L, along, L)
    assert np.allclose(again[0] - once[0], L)
    assert np.allclose(again[1], once[1])


def test_single_tine_along_a_wide_coat_is_that_of_the_paper() -> None:
    """[Lu2012], tine lines: (x, y + z u^|x - x0|), u = 2^(-1/c)."""
    stroke = Stroke(7.0, 0.0, np.pi / 2, 5.0, 2.0)
    x = np.array([7.0, 9.0, 5.0, 11.0])
    _, y = stroke.forward(x, np.zeros(4), 1e4)
    assert np.allclose(y, [5.0, 2.5, 2.5, 1.25])


def test_turns_of_a_spiral_are_summed() -> None:
    """Against the series term by term."""
    around, along = places(50)
    sine, cosine = np.sin(SPIRAL.direction), np.cos(SPIRAL.direction)
    across = (along - SPIRAL.along) * cosine - (around - SPIRAL.around) * sine
    turns = np.arange(-60, 61)[:, None] * L * sine
    series = SPIRAL.shift * 2.0 ** (-np.abs(across - turns) / SPIRAL.softness)
    assert np.allclose(SPIRAL.drag(around, along, L), series.sum(axis=0))


def test_last_drop_lies_on_top_and_the_coat_is_pigment_0() -> None:
    steps = [Drop(5.0, 0.0, 30.0, 1), Drop(5.0, 0.0, 3.0, 2)]
    assert pigment_at([5.0, 5.0, 20.0], [0.0, 2.0, 0.0], L, steps).tolist() == [2, 1, 0]


def test_drop_on_another_moves_it_outwards_whole() -> None:
    """A ring of the first remains: its inner radius is the second's, area for area."""
    wide = 1e4
    steps = [Drop(0.0, 0.0, 30.0, 1), Drop(0.0, 0.0, 3.0, 2)]
    inner, outer = np.sqrt(3 / np.pi), np.sqrt(33 / np.pi)
    r = np.array([inner - 1e-3, inner + 1e-3, outer - 1e-3, outer + 1e-3])
    assert pigment_at(r, np.zeros(4), wide, steps).tolist() == [2, 1, 1, 0]


def shoelace(points: np.ndarray) -> float:
    x, y = points.T
    return float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2


def test_outlines_keep_the_area_of_their_drops() -> None:
    """What lies within an outline: the drop and those let fall into it later (shoelace formula)."""
    first, inner, beside = (
        Drop(5.0, 0.0, 50.0, 1),
        Drop(5.2, 0.3, 30.0, 2),
        Drop(20.0, -3.0, 20.0, 3),
    )
    found = outlines(L, [first, inner, COMB, beside, SPIRAL, RING], 0.02)
    areas = [shoelace(points) for _, points in found]
    assert areas == pytest.approx([80.0, 30.0, 20.0], rel=1e-4)
    for _, points in found:
        steps = np.hypot(*(np.roll(points, -1, axis=0) - points).T)
        assert steps.max() <= 0.02


def test_outlines_that_strokes_lengthen_without_bound_have_a_bounded_number_of_points() -> None:
    """Eight combs across one another: with a point every 0.3 mm there would be millions."""
    drops = scattered(20, L, 60.0, (80.0,), (1, 2), 3)
    combs = [
        Stroke(0.0, 0.5, 0.0, 60.0, 0.2, 40, 1.5),
        Stroke(0.0, 0.0, np.pi / 2, 60.0, 0.2, 30, 1.5),
    ]
    points = sum(len(found) for _, found in outlines(L, [*drops, *combs * 4], 0.3))
    assert points < 2 * 2**17


def test_outlines_bound_the_pigments() -> None:
    """Just within an outline lies its drop, just without something else."""
    steps = [*scattered(12, L, 30.0, [6.0, 3.0], [1, 2], seed=2), COMB, SPIRAL]
    drop, points = outlines(L, steps, 0.05)[-1]
    along_it = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
    normal = np.stack((along_it[:, 1], -along_it[:, 0]), axis=1)
    normal /= np.hypot(*normal.T)[:, None]
    only = [drop, COMB, SPIRAL]
    within, without = points - 1e-4 * normal, points + 1e-4 * normal
    assert (pigment_at(*within.T, L, only) == drop.pigment).mean() > 0.999
    assert (pigment_at(*without.T, L, only) == 0).mean() > 0.999


def test_far_away_a_drop_shifts_the_coat_by_half_its_share() -> None:
    """The area goes to both sides: A/(2L) each."""
    drop = Drop(0.0, 0.0, 60.0, 1)
    for far in (200.0, 1000.0):
        _, along = drop.forward(np.array([3.0, 3.0]), np.array([far, -far]), L)
        assert np.allclose(along, [far + 1, -far - 1])


def test_steps_in_order() -> None:
    around, along = places(20)
    first = RING.forward(around, along, L)
    assert np.allclose(moved(around, along, L, [RING, COMB]), COMB.forward(*first, L))


def test_taper_keeps_the_area_of_its_skin() -> None:
    """A cone's lateral area, π (r₁ + r₂) s (reference values: frustum R 5, r 2, h 4: 35π)."""
    z = np.linspace(0, 4, 2001)
    along = equal_area_along(z, 5 - 0.75 * z, L)
    assert along[-1] * L == pytest.approx(35 * np.pi, rel=1e-6)


def test_scattered_drops_are_the_same_everywhere_and_evenly_spread() -> None:
    drops = scattered(60, L, 90.0, [4.0, 2.0], [1, 2, 3], seed=7)
    assert drops == scattered(60, L, 90.0, [4.0, 2.0], [1, 2, 3], seed=7)
    assert drops != scattered(60, L, 90.0, [4.0, 2.0], [1, 2, 3], seed=8)
    assert len(drops) == 60
    assert {drop.pigment for drop in drops} == {1, 2, 3}
    thirds = np.histogram([drop.along for drop in drops], bins=3, range=(0, 90))[0]
    assert thirds.min() >= 15


@pytest.mark.parametrize(
    ("make", "word"),
    [
        (lambda: Drop(0, 0, 0, 1), "area"),
        (lambda: Drop(0, 0, float("nan"), 1), "area"),
        (lambda: Stroke(0, 0, 0, 1, 0), "softness"),
        (lambda: Stroke(0, 0, 0, 1, 1, tines=0), "tines"),
        (lambda: Stroke(0, 0, 0, 1, 1, tines=2), "spacing"),
        (lambda: moved(0.0, 0.0, 0.0, []), "circumference"),
    ],
)
def test_refusals(make: Callable[[], object], word: str) -> None:
    with pytest.raises(GeometryError, match=word):
        make()
