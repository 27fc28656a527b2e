"""A marbled coat on a grid: areas, places and mirror images by closed forms, and that it closes."""

from typing import Any

import numpy as np
import pytest

from geometry.blank import Blank
from geometry.grid import Grid
from geometry.layers.finish import Coat
from geometry.layers.marbled_coat import SAMPLES, MarbledCoat, Unrolled, painted
from geometry.layers.marbling import Drop, Stroke, equal_area_along, scattered
from geometry.surface import Surface

L = 50.0
"""Circumference where drops stay round, mm."""
BLANK = Blank(np.array((0.0, 80.0)), np.array((L / np.pi + 1.6, L / np.pi - 1.6)))
"""A cone, twice as steep as most blanks."""
COAT = Coat(0.15, 1.0, 0.035, 1500.0)


def flat() -> Unrolled:
    z = np.linspace(0, 80, 401)
    along = equal_area_along(z, BLANK.radius(z), L)
    return Unrolled(L, tuple(z.tolist()), tuple(along.tolist()))


def counted(steps: Any, pigments: int, angles: int = 480) -> Any:
    return painted(flat(), tuple(steps), np.linspace(0, 80, 801), angles, pigments)


def mirrored(step: Drop | Stroke) -> Drop | Stroke:
    """The same seen in a mirror along the blank."""
    if isinstance(step, Drop):
        return Drop(-step.around, step.along, step.area, step.pigment)
    back = step.direction == 0
    return Stroke(
        -step.around,
        step.along,
        0.0 if back else np.pi - step.direction,
        -step.shift if back else step.shift,
        step.softness,
        step.tines,
        step.spacing,
    )


ROUND = Stroke(0.0, 5.0, 0.0, 6.0, 1.5, 7, 10.0)
ALONG = Stroke(4.0, 0.0, np.pi / 2, 9.0, 2.0)
SPIRAL = Stroke(7.0, 0.0, 0.6, 5.0, 2.0)


def test_area_of_each_drop_is_kept_on_the_laid_grid_under_strokes() -> None:
    """Both maps keep areas [Lu2012]. Here over the skin of a cone.

    The error is what a quarter of a grid step along the outline is worth.
    """
    areas = (30.0, 22.0, 40.0, 12.0)
    drops = [
        Drop(6.0, 25.0, areas[0], 1),
        Drop(20.0, 35.0, areas[1], 2),
        Drop(34.0, 45.0, areas[2], 3),
        Drop(48.0, 52.0, areas[3], 4),
    ]
    counts = counted([*drops, ROUND, ALONG, SPIRAL], 5)
    z = np.linspace(0, 80, 801)
    radius = BLANK.radius(z)
    ring = radius * np.sqrt(1 + np.gradient(radius, z) ** 2) * 0.1 * 2 * np.pi / 480
    for number, area in enumerate(areas, 1):
        laid = float((counts[..., number].sum(axis=1) / SAMPLES * ring).sum())
        assert laid == pytest.approx(area, rel=0.02), number


def place(counts: Any) -> tuple[float, float]:
    """Middle of the first pigment, mm round and along the flat coat."""
    share = counts[..., 1].astype(float)
    theta = np.arange(share.shape[1]) * 2 * np.pi / share.shape[1]
    angle = np.angle((share.sum(axis=0) * np.exp(1j * theta)).sum())
    z = np.linspace(0, 80, 801)
    weight = share.sum(axis=1)
    along = np.interp((weight * z).sum() / weight.sum(), flat().z, flat().along)
    return float(angle % (2 * np.pi) * L / (2 * np.pi)), float(along)


def test_drop_goes_where_the_closed_form_of_a_tine_says() -> None:
    """A tine drags what is d from its path by z u^d [Lu2012]."""
    drop = Drop(10.0, 40.0, 0.8, 1)
    tine = Stroke(0.0, 43.0, 0.0, 7.0, 6.0)
    around, along = place(counted([drop, tine], 2))
    assert around == pytest.approx(10.0 + 7.0 * 2 ** (-3.0 / 6.0), abs=0.05)
    assert along == pytest.approx(40.0, abs=0.05)


def test_tine_along_the_blank_is_felt_from_every_turn() -> None:
    """Summed term by term over 41 turns, where the code has the sum of the series."""
    drop = Drop(10.0, 40.0, 0.8, 1)
    tine = Stroke(12.0, 0.0, np.pi / 2, 6.0, 10.0)
    # Left of its path, so at 2 mm + kL.
    felt = sum(2 ** (-abs(2.0 + turn * L) / 10.0) for turn in range(-20, 21))
    around, along = place(counted([drop, tine], 2))
    assert along == pytest.approx(40.0 + 6.0 * felt, abs=0.05)
    assert around == pytest.approx(10.0, abs=0.05)


def test_earlier_drop_is_pushed_by_a_later_one_as_by_a_source() -> None:
    """Small beside L: r' = sqrt(r² + A/π) [Lu2012]."""
    drops = [Drop(10.0, 40.0, 0.5, 1), Drop(10.0, 43.0, 9.0, 2)]
    around, along = place(counted(drops, 3))
    assert along == pytest.approx(43.0 - np.sqrt(9.0 + 9.0 / np.pi), abs=0.05)
    assert around == pytest.approx(10.0, abs=0.05)


def scene() -> list[Drop | Stroke]:
    drops = scattered(30, L, 80.0, (28.0, 18.0), (1, 2, 3), 5)
    return [*drops, ALONG, ROUND]


def test_coat_closes_round_the_blank() -> None:
    """Turned half round, it is the same coat: whatever crosses the guide line is whole."""
    half = [
        Drop(step.around + L / 2, step.along, step.area, step.pigment)
        if isinstance(step, Drop)
        else Stroke(
            step.around + L / 2,
            step.along,
            step.direction,
            step.shift,
            step.softness,
            step.tines,
            step.spacing,
        )
        for step in scene()
    ]
    here, there = (counted(steps, 4).astype(int) for steps in (scene(), half))
    apart = np.abs(np.roll(here, 240, axis=1) - there)
    assert (apart.max(axis=2) > 1).mean() < 0.002
    # Between the last column and the first there is no more than between any two others.
    steps = np.abs(here - np.roll(here, 1, axis=1)).sum(axis=(0, 2))
    assert steps[0] <= steps[1:].max()
    assert steps[0] > 0


def test_mirrored_steps_give_the_mirrored_coat() -> None:
    steps = [*scene(), SPIRAL]
    here = counted(steps, 4).astype(int)
    there = counted([mirrored(step) for step in steps], 4).astype(int)
    apart = np.abs(np.roll(here[:, ::-1], 1, axis=1) - there)
    # Pillow rounds corners of polygons to one side, which is not mirrored.
    assert (apart.max(axis=2) > 2).mean() < 0.002


def test_samples_of_every_place_add_up() -> None:
    counts = counted(scene(), 4)
    assert (counts.sum(axis=2) == SAMPLES).all()
    assert all((counts[..., pigment] == SAMPLES).any() for pigment in range(4))


def test_coat_lies_level_and_hides_the_thread_beneath() -> None:
    surface = Surface.bare(BLANK, Grid.even(0, 80, 401, 240), 0)
    wound = surface.with_arrays(
        row=np.full(surface.shape, 3.5, np.float32), tube=np.ones(surface.shape, np.bool_)
    )
    coat = MarbledCoat(20.0, 60.0, COAT, flat(), tuple(scene()), 4)
    counts = coat.counts(wound)
    laid = coat.apply(wound, np.full(counts.shape[:2], 7, np.int16))
    on = wound.between(20.0, 60.0)
    assert (laid.material[on] == 7).all()
    assert (laid.row[on] == 0).all()
    assert not laid.tube[on].any()
    middle = wound.between(30.0, 50.0)
    # Levelled, and with the hundredth that a ridge keeps (`geometry.layers.finish`).
    assert laid.radius[middle] - wound.radius[middle] == pytest.approx(0.15, abs=0.01)
    for off in (slice(0, on.start), slice(on.stop, None)):
        assert (laid.material[off] == 0).all()
        assert (laid.row[off] == 3.5).all()
        assert np.array_equal(laid.radius[off], wound.radius[off])
