"""Light on the card, against closed forms, the map taken whole and rays followed one by one."""

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from materials.shelf import Shelf
from scenes.building.build import Plan
from scenes.files import samples
from scenes.light.lights import LightKind, directions, irradiance, radiance_map, solid_angles
from scenes.stage.backdrop import Backdrop, backdrop
from scenes.stage.outline import Outline
from scenes.stage.stage import camera_of, lighting

ALBEDO = (0.4, 0.3, 0.2)


DROP = 20.0
ENDLESS = 4000.0


def bare_card(light: np.ndarray, rod_radius: float = 1e-6) -> Backdrop:
    rod = Outline.tube(rod_radius, -ENDLESS, ENDLESS)
    return backdrop(light, ALBEDO, rod=rod, drop=DROP, behind=130.0, reach=1500.0)


@pytest.mark.parametrize("height", [32, 48, 100, 256])
def test_a_card_in_even_light_sends_back_its_own_share(height: int) -> None:
    # A matt body in even light of radiance 1 shows its reflectance (Lambert), whichever way it
    # faces and however finely the light is drawn.
    card = bare_card(np.ones((height, 2 * height, 3), np.float32))
    # Right under the rod, however thin it is, a source as wide as a texel is half hidden.
    assert np.allclose(np.median(card.radiance, axis=(0, 1)), ALBEDO, rtol=0.01)
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


@pytest.mark.parametrize("radius", [2.0, 8.0, 15.0])
def test_the_shadow_of_an_endless_rod_in_even_light(radius: float) -> None:
    # Hottel's rule of crossed strings for an element of a plane and a cylinder along it: the share
    # hidden is half the difference of the sines of the angles to both tangents from the normal.
    card = bare_card(np.ones((64, 128, 3), np.float32), radius)
    y, z = card.points[:, 0, 1:].astype(float).T
    floor = y == -DROP
    away = np.hypot(y, z)[floor]
    toward, half = np.arctan2(z, -y)[floor], np.arcsin(radius / away)
    lit = 1 - (np.sin(toward + half) - np.sin(toward - half)) / 2
    found = card.radiance[floor] / np.array(ALBEDO)
    assert found.min() < 0.95
    # The light is in steps of 3 degrees.
    np.testing.assert_allclose(found, np.broadcast_to(lit[:, None, None], found.shape), atol=3e-3)


GRIP = Outline(-300.0, 2.0, (0.0, *(6.0,) * 129, *(13.0,) * 21, *(6.0,) * 149, 0.0))
"""A grip from -40 mm to 0 on a thin blank."""


def shaded_by_rays(light: np.ndarray, rod: Outline, point: np.ndarray) -> np.ndarray:
    """Irradiance of a level place: a ray from each texel is followed in steps of half a mm."""
    toward, power = directions(light.shape[0]), light * solid_angles(light.shape[0])[..., None]
    up = (toward[..., 1] > 0) & (light.max(axis=-1) > 0)
    toward, power = toward[up], power[up]
    seen = np.ones(len(toward), bool)
    for far in np.arange(0.0, 300.0, 0.5):
        x, y, z = point[:, None] + far * toward.T
        seen &= np.hypot(y, z) > np.interp(x, rod.places, rod.radius)
    return np.asarray((power * (toward[:, 1] * seen)[:, None]).sum(axis=0))


@pytest.mark.parametrize("kind", [LightKind.SOFT_BOXES, LightKind.NORTH_WINDOW])
def test_a_grip_casts_its_own_shadow(kind: LightKind) -> None:
    light = radiance_map(kind, 64, 0.4)
    card = backdrop(light, (1.0, 1.0, 1.0), rod=GRIP, drop=DROP, behind=130.0, reach=1500.0)
    points = card.points[:, 0, 1:]
    floor = np.flatnonzero(points[:, 0] == -DROP)
    full = irradiance(light, np.array([[0.0, 1.0, 0.0]]))[0]
    off, shaded = [], []
    for z in (-40.0, -15.0, 0.0, 12.0):
        row = floor[np.argmin(np.abs(points[floor, 1] - z))]
        for column in np.flatnonzero(np.abs(card.columns) < 90)[::5]:
            place = np.array([card.columns[column], *points[row]], float)
            wanted = shaded_by_rays(light, GRIP, place)
            off.append(np.pi * card.radiance[row, column] / full - wanted / full)
            shaded.append(wanted / full)
    # The map about the rod blurs each texel of the light over 3 degrees.
    assert np.ptp(shaded) > 0.3
    assert np.abs(off).max() < 0.03
    assert np.abs(np.mean(off)) < 0.005


def test_zooming_in_leaves_the_light_as_it_is() -> None:
    design = samples.load("half-scale")
    near = design.camera.model_copy(update={"zoom": 5.0})
    plans = [Plan(d, Shelf.shipped()) for d in (design, design.model_copy(update={"camera": near}))]
    seen = [lighting(p, design.light, camera_of(p, 16 / 9), 16 / 9) for p in plans]
    assert_array_equal(seen[0].surroundings, seen[1].surroundings)
    assert_array_equal(seen[0].in_picture.points, seen[1].in_picture.points)
