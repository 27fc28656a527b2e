"""Patterns of the ground: their mean, their seams, and their scale, by Fourier's transform."""

import numpy as np
import pytest

from materials.colour import linear_to_srgb
from materials.shelf import Shelf
from scenes.building.build import Plan
from scenes.design.document import with_changes
from scenes.files import samples
from scenes.parts.view import Ground
from scenes.problems import DesignProblem
from scenes.stage.backdrop import card_in_picture
from scenes.stage.ground import GroundPattern, ground_pattern
from scenes.stage.noise import tiled_noise
from scenes.stage.stage import camera_of, lighting

PATTERNED = [ground for ground in Ground if ground is not Ground.CARD]

STATED = {
    Ground.WORKBENCH: (131, 95, 62),
    Ground.SLATE: (54, 58, 63),
    Ground.LINEN: (156, 146, 128),
}
"""Mean colour of each, sRGB."""


def pattern_of(ground: Ground) -> GroundPattern:
    pattern = ground_pattern(ground)
    assert pattern is not None
    return pattern


def test_card_has_no_pattern() -> None:
    assert ground_pattern(Ground.CARD) is None
    assert set(STATED) == set(PATTERNED)


@pytest.mark.parametrize("ground", PATTERNED)
def test_the_mean_of_a_pattern_is_its_stated_colour(ground: Ground) -> None:
    pattern = pattern_of(ground)
    mean = pattern.reflectance.mean(axis=(0, 1), dtype=np.float64)
    np.testing.assert_allclose(mean, pattern.albedo, rtol=1e-5)
    np.testing.assert_allclose(255 * linear_to_srgb(mean), STATED[ground], atol=0.01)
    # What cannot be: a surface that sends back more than it gets. And nothing is cut off.
    assert 0 < pattern.reflectance.min() < pattern.reflectance.max() < 1
    assert np.mean((pattern.shares == 0) | (pattern.shares == 255)) < 0.01
    dark, light = np.multiply(pattern.relative, pattern.albedo)
    np.testing.assert_allclose((dark, light), (pattern.dark, pattern.light))


@pytest.mark.parametrize("cells", [(4, 4), (3, 7)])
def test_tiled_noise_goes_on_across_its_edges(cells: tuple[int, int]) -> None:
    noise = tiled_noise((256, 256), cells, 5)
    assert noise.std() > 0.2
    for axis in (0, 1):
        # A step between lattice values is 2 at most; smoothed, it is 1.5 times as steep midway.
        steepest = 3.0 * cells[axis] / 256
        step = np.abs(np.diff(noise, axis=axis, append=noise.take([0], axis)))
        assert step.max() < steepest
    other = tiled_noise((256, 256), cells, 6)
    assert abs(np.corrcoef(noise.ravel(), other.ravel())[0, 1]) < 0.8


@pytest.mark.parametrize("ground", PATTERNED)
@pytest.mark.parametrize("axis", [0, 1])
def test_a_tile_has_no_seam(ground: Ground, axis: int) -> None:
    shares = pattern_of(ground).shares.astype(float)
    steps = np.abs(np.diff(shares, axis=axis, append=shares.take([0], axis)))
    step = steps.mean(axis=1 - axis)
    assert step[-1] <= step[:-1].max()
    # A tile that is cut short does not fit itself.
    cut = shares.take(range(450), axis)
    seam = np.abs(cut.take(0, axis) - cut.take(-1, axis)).mean()
    assert seam > step[-1]


def test_linen_has_a_yarn_every_0_6_mm() -> None:
    pattern = pattern_of(Ground.LINEN)
    for axis, length in ((0, pattern.size[0]), (1, pattern.size[1])):
        profile = pattern.shares.astype(float).mean(axis=axis)
        power = np.abs(np.fft.rfft(profile - profile.mean()))
        strongest = int(power.argmax())
        assert length / strongest == pytest.approx(0.6)
    # Over and under by turns: the same again two yarns on, not one.
    tile = pattern.shares.astype(float) - pattern.shares.mean()
    yarn = tile.shape[1] // 64
    one, two = ((tile * np.roll(tile, n * yarn, axis=1)).mean() for n in (1, 2))
    assert two > one


def test_wood_grain_runs_along_the_rod() -> None:
    pattern = pattern_of(Ground.WORKBENCH)
    shares = pattern.shares.astype(float)
    height, width = shares.shape
    along = np.abs(np.diff(shares, axis=1)).mean() / (pattern.size[0] / width)
    across = np.abs(np.diff(shares, axis=0)).mean() / (pattern.size[1] / height)
    assert across > 4 * along


def test_the_light_is_that_of_a_card_of_the_mean_colour() -> None:
    design = samples.load("half-scale")
    linen = with_changes(design, {"light.ground": "linen"})
    plain = with_changes(design, {"light.backdrop": "#9c9280"})
    seen = [
        lighting(Plan(one, Shelf.shipped()), one.light, camera_of(Plan(one, Shelf.shipped()), 1), 1)
        for one in (linen, plain)
    ]
    assert np.array_equal(seen[0].card.radiance, seen[1].card.radiance)
    assert np.array_equal(seen[0].surroundings, seen[1].surroundings)
    assert seen[0].card.ground is pattern_of(Ground.LINEN)
    assert seen[1].card.ground is None


def test_a_pattern_stays_where_it_is_when_the_card_is_cut() -> None:
    design = with_changes(samples.load("half-scale"), {"light.ground": "slate"})
    plan = Plan(design, Shelf.shipped())
    camera = camera_of(plan, 16 / 9)
    card = lighting(plan, design.light, camera, 16 / 9).card
    level = card.points[:, 0, 1] == card.points[0, 0, 1]
    # On the level part, the place is how far behind the rod a point is.
    np.testing.assert_allclose(card.run[level], -card.points[level, 0, 2], atol=1e-3)
    cut = card_in_picture(card_in_picture(card, camera, 16 / 9), camera, 16 / 9)
    assert len(cut.points) < len(card.points)
    assert cut.ground is card.ground
    first = int(np.flatnonzero((card.points[:, 0, 1:] == cut.points[0, 0, 1:]).all(axis=1))[0])
    np.testing.assert_allclose(cut.run, card.run[first : first + len(cut.run)], atol=1e-6)


def test_an_unknown_ground_is_refused_with_those_there_are() -> None:
    with pytest.raises(DesignProblem) as told:
        with_changes(samples.load("half-scale"), {"light.ground": "marble"})
    sentence = str(told.value)
    assert sentence.startswith("light.ground: ")
    assert "marble" in sentence
    for ground in Ground:
        assert ground.value in sentence
