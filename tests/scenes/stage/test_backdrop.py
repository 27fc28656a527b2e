"""Light on the card, against Lambert and against the map taken whole."""

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from materials.shelf import Shelf
from scenes.building.build import Plan
from scenes.files import samples
from scenes.light.lights import LightKind, irradiance, radiance_map
from scenes.stage.backdrop import Backdrop, backdrop
from scenes.stage.stage import camera_of, lighting

ALBEDO = (0.4, 0.3, 0.2)


def bare_card(light: np.ndarray, rod_radius: float = 1e-6) -> Backdrop:
    return backdrop(light, ALBEDO, rod_radius=rod_radius, drop=20.0, behind=130.0, reach=1500.0)


@pytest.mark.parametrize("height", [32, 48, 100, 256])
def test_a_card_in_even_light_sends_back_its_own_share(height: int) -> None:
    # A matt body in even light of radiance 1 shows its reflectance (Lambert), whichever way it
    # faces and however finely the light is drawn.
    card = bare_card(np.ones((height, 2 * height, 3), np.float32))
    # Right under the rod, however thin it is, a source as wide as a texel is half hidden.
    assert np.allclose(np.median(card.radiance, axis=0), ALBEDO, rtol=0.01)
    assert np.allclose(card.radiance[[0, -1]], ALBEDO, rtol=0.01)


@pytest.mark.parametrize("kind", list(LightKind))
@pytest.mark.parametrize("turn", [0.0, 0.3, 2.0])
def test_a_card_gets_all_of_a_light(kind: LightKind, turn: float) -> None:
    # Irradiance by Lambert's cosine over every texel of the map, not over blocks of them.
    light = radiance_map(kind, 256, turn)
    card = bare_card(light)
    for end, normal in ((0, (0.0, 1.0, 0.0)), (-1, (0.0, 0.0, 1.0))):  # floor, wall behind
        wanted = irradiance(light, np.array([normal]))[0] / np.pi * ALBEDO
        assert np.allclose(card.radiance[end], wanted, rtol=0.02)


def test_the_rod_casts_a_shadow() -> None:
    light = radiance_map(LightKind.SOFT_BOXES, 256, 0.0)
    lit, shaded = (bare_card(light, radius).radiance.min() for radius in (1e-6, 8.0))
    assert shaded < 0.8 * lit


def test_zooming_in_leaves_the_light_as_it_is() -> None:
    design = samples.load("half-scale")
    near = design.camera.model_copy(update={"zoom": 5.0})
    plans = [Plan(d, Shelf.shipped()) for d in (design, design.model_copy(update={"camera": near}))]
    seen = [lighting(p, design.light, camera_of(p, 16 / 9), 16 / 9) for p in plans]
    assert_array_equal(seen[0].surroundings, seen[1].surroundings)
    assert_array_equal(seen[0].in_picture.points, seen[1].in_picture.points)
