"""Packed light against the light itself, map by map."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.interpolate import CubicHermiteSpline

from scenes.light.lights import LightKind, radiance_map
from scenes.light.prefilter import IN_AIR, prefiltered
from scenes.packing.light import CODES, PackedLight, packed_light, unpacked_light
from tests.kept import kept

DARKEST = 2.0**-9
IOR = 1.5


@kept
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


def between(values: NDArray[np.floating], count: int, axis: int) -> NDArray[np.float64]:
    """Interpolate between texel centres as the browser does: the cubic of Catmull & Rom."""
    texels = np.arange(values.shape[axis])
    # Beyond an edge the map goes on elsewhere; the outermost texels are not compared.
    slopes = np.gradient(values, axis=axis)
    places = (np.arange(count) + 0.5) / count * len(texels) - 0.5
    return np.asarray(CubicHermiteSpline(texels, values, slopes, axis=axis)(places))


def interpolated(light: PackedLight, side: int) -> NDArray[np.float64]:
    """Radiance of a packed map with more texels, (side, side, 3)."""
    stops = np.log2(unpacked_light(light))
    return np.exp2(between(between(stops, side, 0), side, 1))


@pytest.mark.parametrize("kind", LightKind)
def test_blurred_maps_come_back_between_their_texels(kind: LightKind) -> None:
    maps = maps_of(kind)
    for level, (exact, light) in enumerate(zip(maps[2:], packed_light(maps)[2:], strict=True), 2):
        inner = np.maximum(exact[1:-1, 1:-1], DARKEST)
        block = inner.shape[0] // light.high.shape[0]
        assert block > 1
        off = (interpolated(light, inner.shape[0]) / inner - 1)[8:-8, 8:-8]
        # A just visible difference is 1 % (Weber). What scatters evenly is lit by the last maps
        # alone, on matt colours, which hide nothing.
        assert np.abs(off).mean() < 0.002 + half_step(light) * np.log(2) / 2
        assert np.sqrt((off**2).mean()) < (0.004 if level >= IN_AIR else 0.01)


def test_an_even_light_comes_back() -> None:
    (light,) = packed_light(np.full((1, 258, 258, 3), 0.5, np.float32))
    assert np.allclose(unpacked_light(light), 0.5)
