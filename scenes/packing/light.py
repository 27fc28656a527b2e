"""A light as it is sent: its blurred maps in logarithms.

A light spans a thousandfold and is smooth between its lamps: ten bits of a logarithm keep steps
near 1 %, about what an eye tells apart, and take a tenth of the room of half floats. A map that is
blurred over many texels is sent with fewer.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["CODES", "LOW_CODES", "PackedLight", "packed_light", "unpacked_light"]

_LOW_BITS = 2
LOW_CODES = (1 << _LOW_BITS) - 1
"""Last code of the lower bits."""

CODES = (1 << 8 + _LOW_BITS) - 1
"""Last code."""

_DARKEST = 2.0**-9
"""Radiance below this is sent as this: a 500th of what white card sends in the same light."""

_SIDES = (256, 256, 128, 64)
"""Texels along a side of the maps, the sharpest first; further ones have as few as the last."""


@dataclass(frozen=True, slots=True)
class PackedLight:
    """One map of radiance.

    Parameters
    ----------
    high, low : (side, side, 3) uint8
        Upper eight and lower two bits of each code.
    darkest, brightest : float
        Binary logarithms of the radiance of the first and the last code.
    """

    high: NDArray[np.uint8]
    low: NDArray[np.uint8]
    darkest: float
    brightest: float


def packed_light(maps: NDArray[np.float32]) -> tuple[PackedLight, ...]:
    """Pack a light, blurred for each roughness.

    Parameters
    ----------
    maps : (levels, side + 2, side + 2, 3) float32
        Octahedral maps with a border of one texel, the sharpest first. The border is not sent.
    """
    return tuple(_packed(one, _side(level)) for level, one in enumerate(maps[:, 1:-1, 1:-1]))


def unpacked_light(light: PackedLight) -> NDArray[np.float32]:
    """The map of radiance, (side, side, 3) float32."""
    codes = light.high.astype(np.uint16) * (LOW_CODES + 1) + light.low
    stops = light.darkest + codes * ((light.brightest - light.darkest) / CODES)
    return np.exp2(stops).astype(np.float32)


def _side(level: int) -> int:
    return _SIDES[min(level, len(_SIDES) - 1)]


def _packed(radiance: NDArray[np.float32], side: int) -> PackedLight:
    block = radiance.shape[0] // side
    if block > 1:
        radiance = radiance.reshape(side, block, side, block, 3).mean(axis=(1, 3))
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
