"""Companding of slopes to 9 bits: fine steps near 0, coarse steps for steep slopes.

A code stands for v = s / (|s| + k), -1 to 1, in steps of 1 / 254. At a slope s the steps of s are
(|s| + k)² / k times as wide; at the knee, s = k, they are four times those at 0.
"""

import numpy as np
from numpy.typing import NDArray

__all__ = ["CODES", "MOST_SLOPE", "coarser", "code_image", "companded", "expanded"]

CODES = 254
"""Codes on each side of zero, which is 256; codes 0 and 1 are not used."""

_ZERO = 256

MOST_SLOPE = 20.0
"""Steepest slope (87 degrees); steeper ones are clipped, because the square of more than 255 is
infinite in half floats."""


def companded(slopes: NDArray[np.float32], knee: float) -> NDArray[np.uint16]:
    """Compand slopes to codes.

    Parameters
    ----------
    slopes : (...) float32
    knee : float
        The slope k.

    Returns
    -------
    (...) uint16
    """
    held = np.clip(slopes, -MOST_SLOPE, MOST_SLOPE)
    codes = np.rint(held / (np.abs(held) + np.float32(knee)) * CODES) + _ZERO
    return np.asarray(codes, np.uint16)


def expanded(codes: NDArray[np.uint16], knee: float) -> NDArray[np.float32]:
    """Expand codes to slopes: the inverse of `companded`, within half a step.

    Parameters
    ----------
    codes : (...) uint16
    knee : float
        The slope k.

    Returns
    -------
    (...) float32
    """
    v = (codes.astype(np.float32) - np.float32(_ZERO)) / np.float32(CODES)
    least = np.float32(knee / (knee + MOST_SLOPE))
    return np.asarray(v * np.float32(knee) / np.maximum(1 - np.abs(v), least), np.float32)


def coarser(codes: NDArray[np.uint16], bits: int) -> NDArray[np.uint16]:
    """Codes with so many bits fewer, which are 0: they take less room, and are read as before.

    Parameters
    ----------
    codes : (...) uint16
        As `companded` gives them.
    bits : int
        0 to 5.

    Returns
    -------
    (...) uint16
    """
    step = 1 << bits
    near = np.rint((codes.astype(np.float32) - _ZERO) / step) * step
    return np.asarray(np.clip(near, -CODES, CODES) + _ZERO, np.uint16)


def code_image(codes: NDArray[np.uint16]) -> NDArray[np.uint8]:
    """Codes of two slopes as a picture: their upper eight bits, then both lowest bits.

    Parameters
    ----------
    codes : (nz, nt, 2) uint16
        As `companded` gives them.

    Returns
    -------
    (nz, nt, 3) uint8
        The third channel is the lowest bit of the first code and twice that of the second.
    """
    low = codes & 1
    return np.concatenate((codes >> 1, low[..., :1] + 2 * low[..., 1:]), axis=-1).astype(np.uint8)
