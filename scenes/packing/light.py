"""A light as it is sent: its map in logarithms.

A light spans a thousandfold and is smooth between its lamps: 12 bits of a logarithm keep steps
under what an eye tells apart, and take a quarter of the room of half floats.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["PackedLight", "packed_light", "unpacked_light"]

_CODES = (1 << 12) - 1

_DARKEST = 2.0**-12
"""Radiance below this is sent as this; white card in the light sends 1."""


@dataclass(frozen=True, slots=True)
class PackedLight:
    """A map of radiance.

    Parameters
    ----------
    high, low : (height, width, 3) uint8
        Upper eight and lower four bits of each code.
    darkest, brightest : float
        Binary logarithms of the radiance of the first and the last code.
    """

    high: NDArray[np.uint8]
    low: NDArray[np.uint8]
    darkest: float
    brightest: float


def packed_light(radiance: NDArray[np.float32]) -> PackedLight:
    """Pack a map of radiance, (height, width, 3) float32, whatever way it is laid out."""
    stops = np.log2(np.maximum(radiance, np.float32(_DARKEST)))
    darkest, brightest = float(stops.min()), float(stops.max())
    room = max(brightest - darkest, 1e-6)
    codes = np.rint((stops - darkest) * (_CODES / room)).astype(np.uint16)
    return PackedLight(
        (codes >> 4).astype(np.uint8),
        (codes & 15).astype(np.uint8),
        darkest,
        darkest + room,
    )


def unpacked_light(light: PackedLight) -> NDArray[np.float32]:
    """The map of radiance, (height, width, 3) float32."""
    codes = (light.high.astype(np.uint16) << 4) + light.low
    stops = light.darkest + codes * ((light.brightest - light.darkest) / _CODES)
    return np.exp2(stops).astype(np.float32)
