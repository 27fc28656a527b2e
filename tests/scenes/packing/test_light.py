"""Packed light against the light itself, map by map."""

from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import zoom

from scenes.light.lights import LightKind, radiance_map
from scenes.light.prefilter import IN_AIR, prefiltered
from scenes.packing.light import CODES, PackedLight, packed_light, unpacked_light

DARKEST = 2.0**-9
IOR = 1.5


@cache
def maps_of(kind: LightKind) -> NDArray[np.float32]:
    return prefiltered(radiance_map(kind, 256), IOR)


def half_step(light: PackedLight) -> float:
    """Half a step of the codes, stops."""
    return (light.brightest - light.darkest) / CODES / 2


@pytest.mark.parametrize("kind", LightKind)
def test_sharp_maps_come_back_within_half_a_step(kind: LightKind) -> None:
    maps = maps_of(kind)
    packed = packed_light(maps)
    assert len(packed) == len(maps)
    for exact, light in zip(maps[:2], packed[:2], strict=True):
        wanted = np.log2(np.maximum(exact[1:-1, 1:-1], DARKEST))
        assert np.abs(np.log2(unpacked_light(light)) - wanted).max() <= half_step(light) + 1e-5
        # A just visible difference of luminance is near 1 % (Weber): a step is not much more.
        assert 2 * half_step(light) < np.log2(1.015)


@pytest.mark.parametrize("kind", LightKind)
def test_blurred_maps_keep_their_light_in_fewer_texels(kind: LightKind) -> None:
    maps = maps_of(kind)
    for exact, light in zip(maps[2:], packed_light(maps)[2:], strict=True):
        inner = exact[1:-1, 1:-1]
        block = inner.shape[0] // light.high.shape[0]
        assert block > 1
        back = unpacked_light(light).repeat(block, axis=0).repeat(block, axis=1)
        # A texel stands for its block: its mean is the block's, but for half a step.
        means = [
            one.reshape(-1, block, one.shape[1] // block, block, 3).mean(axis=(1, 3))
            for one in (back, inner)
        ]
        means[1] = np.maximum(means[1], DARKEST)
        assert np.abs(np.log2(means[0]) - np.log2(means[1])).max() <= half_step(light) + 1e-4
        # What it hides within the block is little: these maps are smooth.
        assert np.abs(back / np.maximum(inner, DARKEST) - 1).mean() < 0.06


@pytest.mark.parametrize("kind", LightKind)
def test_smooth_maps_come_back_between_their_texels(kind: LightKind) -> None:
    # Interpolated linearly, as a browser does. What scatters evenly is lit by the last maps alone,
    # and its shading shows a difference of 1 %.
    maps = maps_of(kind)
    for exact, light in zip(maps[IN_AIR:], packed_light(maps)[IN_AIR:], strict=True):
        inner = exact[1:-1, 1:-1]
        back = zoom(
            unpacked_light(light),
            (*np.array(inner.shape[:2]) / light.high.shape[:2], 1),
            order=1,
            mode="nearest",
            grid_mode=True,
        )
        # Beyond an edge the map goes on elsewhere; here its own texel is repeated.
        off = (back / np.maximum(inner, DARKEST) - 1)[4:-4, 4:-4]
        assert np.sqrt((off**2).mean()) < 0.006


def test_an_even_light_comes_back() -> None:
    (light,) = packed_light(np.full((1, 258, 258, 3), 0.5, np.float32))
    assert np.allclose(unpacked_light(light), 0.5)
