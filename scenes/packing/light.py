"""The blurred maps of a light, packed as logarithms.

Radiance spans a factor of a thousand and is smooth between lamps. With ten bits of a logarithm the
steps are near 1 %, about the least visible difference, and the size is a tenth of that of half
floats. A map that is blurred over many texels is sent with fewer texels. Between them the logarithm
is interpolated by a cubic, which loses as little as linear interpolation between half as wide ones.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scenes.light.prefilter import IN_AIR, IN_FINISH

__all__ = ["CODES", "LOW_CODES", "PackedLight", "packed_light", "unpacked_light"]

_LOW_BITS = 2
LOW_CODES = (1 << _LOW_BITS) - 1
"""Greatest value of the lower bits."""

CODES = (1 << 8 + _LOW_BITS) - 1
"""Greatest code."""

_DARKEST = 2.0**-9
"""Least radiance; less is raised to it: a 500th of that of a white card in the same light."""

_SIDES = (256, 256, 128, 64)
"""Texels along a side of each map, the sharpest first; further maps have as many as the last."""

_EVEN_SIDE = 128
"""The same for the maps of light that is scattered evenly. They alone light a matt colour, whose
shading hides nothing."""


@dataclass(frozen=True, slots=True)
class PackedLight:
    """A packed radiance map.

    Parameters
    ----------
    high, low : (side, side, 3) uint8
        Upper eight and lower two bits of each code.
    darkest, brightest : float
        Binary logarithms of the radiances of the first and last codes.
    """

    high: NDArray[np.uint8]
    low: NDArray[np.uint8]
    darkest: float
    brightest: float


def packed_light(maps: NDArray[np.float32], first: int = 0) -> tuple[PackedLight, ...]:
    """Pack the maps of a light, blurred for each roughness.

    Parameters
    ----------
    maps : (levels, side + 2, side + 2, 3) float32
        Octahedral maps with a border of one texel, the sharpest first. The border is not packed.
    first : int
        Number of the first map among all maps of a light.
    """
    return tuple(
        _packed(radiance, _side(level)) for level, radiance in enumerate(maps[:, 1:-1, 1:-1], first)
    )


def unpacked_light(light: PackedLight) -> NDArray[np.float32]:
    """Unpack a radiance map.

    Parameters
    ----------
    light : PackedLight

    Returns
    -------
    (side, side, 3) float32
        Linear RGB.
    """
    codes = light.high.astype(np.uint16) * (LOW_CODES + 1) + light.low
    stops = light.darkest + codes * ((light.brightest - light.darkest) / CODES)
    return np.exp2(stops).astype(np.float32)


def _side(level: int) -> int:
    if level >= min(IN_AIR, IN_FINISH):
        return _EVEN_SIDE
    return _SIDES[min(level, len(_SIDES) - 1)]


def _packed(radiance: NDArray[np.float32], side: int) -> PackedLight:
    block = radiance.shape[0] // side
    if block > 1:
        # Radiance at the middle of a texel; the mean over it would be blurred once more.
        middle = slice(block // 2 - 1, block // 2 + 1)
        blocks = radiance.reshape(side, block, side, block, 3)
        radiance = blocks[:, middle, :, middle].mean(axis=(1, 3))
    stops = np.log2(np.maximum(radiance, np.float32(_DARKEST)))
    darkest, brightest = float(stops.min()), float(stops.max())
    room = max(brightest - darkest, 1e-6)
    codes = np.rint((stops - darkest) * (CODES / room)).astype(np.uint16)
    return PackedLight(
        (codes >> _LOW_BITS).astype(np.uint8),
        (codes & LOW_CODES).astype(np.uint8),
        darkest,
        darkest + room,
    )
