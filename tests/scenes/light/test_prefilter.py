"""The blurred light against sums over every direction, closed forms and published values."""

import numpy as np
import pytest
from numpy.typing import NDArray

from materials.finish import FINISH
from materials.metal import diffuse_dielectric_reflectance
from scenes.light.lights import LightKind, directions, irradiance, radiance_map, solid_angles
from scenes.light.prefilter import IN_AIR, IN_FINISH, LEVELS, SIDE, octahedral, prefiltered
from tests.materials.fresnel import dielectric_reflectance

Array = NDArray[np.float64]

RANDOM = np.random.default_rng(7).normal(size=(60, 3))
TOWARD = np.concatenate(
    (RANDOM / np.linalg.norm(RANDOM, axis=1, keepdims=True), np.eye(3), -np.eye(3))
)


def looked_up(maps: NDArray[np.float32], toward: Array) -> Array:
    """Read an octahedral map as a renderer does: bilinearly, in a border of one texel.

    maps: (SIDE + 2, SIDE + 2, 3). toward: (n, 3). Returns (n, 3).
    """
    place = (octahedral(toward) + 1) / 2 * SIDE + 0.5
    corner = np.floor(place).astype(int)
    share = place - corner
    (x, y), (fx, fy) = corner.T, share.T[..., None]
    low = maps[y, x] * (1 - fx) + maps[y, x + 1] * fx
    high = maps[y + 1, x] * (1 - fx) + maps[y + 1, x + 1] * fx
    return np.asarray(low * (1 - fy) + high * fy)


@pytest.fixture(
    scope="module", params=[LightKind.SOFT_BOXES, LightKind.LOW_SUN], ids=lambda k: k.name
)
def light(request: pytest.FixtureRequest) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """A radiance map, (256, 512, 3), and its blurred maps."""
    radiance = radiance_map(request.param)
    return radiance, prefiltered(radiance, FINISH.ior)


@pytest.mark.parametrize("level", [1, 2, 4, LEVELS - 1])
def test_a_rough_mirror_averages_over_the_lobe_of_ggx(
    light: tuple[NDArray[np.float32], NDArray[np.float32]], level: int
) -> None:
    """Against the sum over every pixel.

    GGX after Walter et al. 2007, "Microfacet models for refraction", eq. 33, weighted by the cosine
    to the light as in Karis 2013, "Real shading in Unreal Engine 4".
    """
    radiance, maps = light
    toward = directions(256).reshape(-1, 3)
    alpha = (level / (LEVELS - 1)) ** 2
    cosine = TOWARD @ toward.T
    half = np.cos(np.arccos(np.clip(cosine, -1, 1)) / 2)
    density = alpha**2 / (np.pi * (half**2 * (alpha**2 - 1) + 1) ** 2)
    share = density * np.maximum(cosine, 0) * solid_angles(256).reshape(-1)
    expected = share @ radiance.reshape(-1, 3) / share.sum(axis=1, keepdims=True)
    error = np.abs(looked_up(maps[level], TOWARD) / expected - 1)
    # The narrowest lobe is about as wide as the pixels in which it is worked out.
    assert np.median(error) < 0.01
    assert error.max() < (0.12 if level == 1 else 0.05)


def test_a_white_scatterer_sends_its_irradiance(
    light: tuple[NDArray[np.float32], NDArray[np.float32]],
) -> None:
    """Lambert's law: irradiance over pi, as the quadrature of `scenes.light.lights` has it."""
    radiance, maps = light
    expected = irradiance(radiance, TOWARD) / np.pi
    # A small sun is moved by up to half a pixel of the map that is averaged, 1.4 degrees.
    np.testing.assert_allclose(looked_up(maps[IN_AIR], TOWARD), expected, rtol=0.05)


def test_under_finish_it_sends_what_the_outside_lets_in(
    light: tuple[NDArray[np.float32], NDArray[np.float32]],
) -> None:
    """Against the sum over every pixel with Fresnel's transmittance.

    Its share in even light by Duntley 1942's closed form, which has tests of its own.
    """
    radiance, maps = light
    cosine = np.clip(TOWARD @ directions(256).reshape(-1, 3).T, 0, 1)
    enters = cosine * (1 - dielectric_reflectance(np.arccos(cosine), FINISH.ior))
    entered = (enters * solid_angles(256).reshape(-1)) @ radiance.reshape(-1, 3) / np.pi
    expected = entered / (1 - float(diffuse_dielectric_reflectance(FINISH.ior)))
    np.testing.assert_allclose(looked_up(maps[IN_FINISH], TOWARD), expected, rtol=0.05)


def test_an_even_light_stays_even() -> None:
    maps = prefiltered(np.full((64, 128, 3), 0.25, np.float32), 1.5)
    assert maps.shape == (LEVELS + 2, SIDE + 2, SIDE + 2, 3)
    np.testing.assert_allclose(maps, 0.25, rtol=1e-3)


def test_the_underside_is_not_lit_by_the_ceiling() -> None:
    """A light in the upper half alone: nothing of it is mirrored downwards."""
    radiance = np.zeros((128, 256, 3), np.float32)
    radiance[:40] = 5
    maps = prefiltered(radiance, 1.5)
    down = np.array([[0.0, -1.0, 0.0]])
    assert float(looked_up(maps[3], down).max()) < 1e-5 * 5


def test_the_border_repeats_what_lies_beyond_each_edge() -> None:
    """Looked up along the edges, a smooth light goes on without a step."""
    smooth = (2 + directions(128)).astype(np.float32)
    maps = prefiltered(smooth, 1.5)
    angle = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    horizon = np.stack((np.cos(angle), np.full_like(angle, -1e-9), np.sin(angle)), axis=1)
    below = np.stack((np.cos(angle), np.full_like(angle, -0.6), np.sin(angle)), axis=1)
    for ring in (horizon, below / np.linalg.norm(below, axis=1, keepdims=True)):
        np.testing.assert_allclose(looked_up(maps[0], ring), 2 + ring, atol=0.012)


def test_the_octahedron_is_unfolded_as_published() -> None:
    """Engelhardt & Dachsbacher 2008: poles in the middle and at the corners, the horizon a diamond.

    Inside the diamond lies what is above the horizon.
    """
    axes = np.array(((0, 1, 0), (1, 0, 0), (0, 0, 1), (-1, 0, 0)), float)
    np.testing.assert_allclose(octahedral(axes), ((0, 0), (1, 0), (0, 1), (-1, 0)))
    np.testing.assert_allclose(np.abs(octahedral(np.array((1e-9, -1.0, 1e-9)))), (1, 1))
    place = octahedral(TOWARD)
    assert np.all(np.abs(place) <= 1)
    upper = TOWARD[:, 1] >= 0
    np.testing.assert_array_equal(np.abs(place).sum(axis=1) <= 1 + 1e-12, upper)
