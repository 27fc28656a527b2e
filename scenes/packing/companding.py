"""Companding of slopes to 8 bits: fine steps near 0, coarse steps for steep slopes.

A code stands for v = s / (|s| + k), -1 to 1, in steps of 1 / 127. At a slope s the steps of s are
(|s| + k)² / k times as wide; at the knee, s = k, they are four times those at 0.
"""

import numpy as np
from numpy.typing import NDArray

__all__ = ["CODES", "MOST_SLOPE", "coarser", "companded", "expanded"]

CODES = 127
"""Codes on each side of zero, which is 128; code 0 is not used."""

_ZERO = 128

MOST_SLOPE = 20.0
"""Steepest slope (87 degrees); steeper ones are clipped, because the square of more than 255 is
infinite in half floats."""


def companded(slopes: NDArray[np.float32], knee: float) -> NDArray[np.uint8]:
    """Compand slopes to codes.

    Parameters
    ----------
    slopes : (...) float32
    knee : float
        The slope k.

    Returns
    -------
    (...) uint8
    """
    held = np.clip(slopes, -MOST_SLOPE, MOST_SLOPE)
    codes = np.rint(held / (np.abs(held) + np.float32(knee)) * CODES) + _ZERO
    return np.asarray(codes, np.uint8)


def expanded(codes: NDArray[np.uint8], knee: float) -> NDArray[np.float32]:
    """Expand codes to slopes: the inverse of `companded`, within half a step.

    Parameters
    ----------
    codes : (...) uint8
    knee : float
        The slope k.

    Returns
    -------
    (...) float32
    """
    v = (codes.astype(np.float32) - np.float32(_ZERO)) / np.float32(CODES)
    least = np.float32(knee / (knee + MOST_SLOPE))
    return np.asarray(v * np.float32(knee) / np.maximum(1 - np.abs(v), least), np.float32)


def coarser(codes: NDArray[np.uint8], bits: int) -> NDArray[np.uint8]:
    """Codes with so many bits fewer, which are 0: they take less room, and are read as before.

    Parameters
    ----------
    codes : (...) uint8
        As `companded` gives them.
    bits : int
        0 to 4.
    """
    step = 1 << bits
    near = np.rint((codes.astype(np.float32) - _ZERO) / step) * step
    return np.asarray(np.clip(near, -CODES, CODES) + _ZERO, np.uint8)
