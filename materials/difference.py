"""How different two colours look: CIEDE2000.

Written here although colour-science has it: pictures and the shelf need this one formula while the
program runs, and colour-science is large, slow to import and serves the tests as the independent
reference that this is held against.

Source: [Sharma2005]; [CIE142].
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["delta_e_2000"]

Array = NDArray[np.float64]

_FAR = 25.0**7

_ROUNDING = 1e-12
"""Rounding of a difference of hues, radians."""


def delta_e_2000(lab1: ArrayLike, lab2: ArrayLike) -> Array:
    """Colour difference ΔE00 with kL = kC = kH = 1.

    About 1 is the least difference that an eye sees side by side in a large field (common practice,
    no source).

    Parameters
    ----------
    lab1, lab2 : array_like, shape (..., 3)
        CIELAB; leading axes broadcast. The order does not matter. NaN comes through.

    Returns
    -------
    ndarray of float64, shape (...)
        0 for equal colours.
    """
    l1, a1, b1 = np.moveaxis(np.asarray(lab1, dtype=np.float64), -1, 0)
    l2, a2, b2 = np.moveaxis(np.asarray(lab2, dtype=np.float64), -1, 0)

    # Greys are moved apart in a* (eqs. 2 to 5), then hue and chroma are taken anew (6, 7).
    stretch = 1 + 0.5 * (1 - _saturating((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2))
    c1, c2 = np.hypot(stretch * a1, b1), np.hypot(stretch * a2, b2)
    h1, h2 = _hue(stretch * a1, b1), _hue(stretch * a2, b2)

    # A grey has no hue: it takes the other's (eqs. 10 and 14).
    coloured = (c1 * c2) != 0
    # Hues that are exactly opposite are not turned the other way, whatever their rounding.
    turn = h2 - h1
    turn = np.where(np.abs(turn) > np.pi + _ROUNDING, turn - np.copysign(2 * np.pi, turn), turn)
    turn = np.where(coloured, turn, 0.0)
    lightness, chroma = l2 - l1, c2 - c1
    hue = 2 * np.sqrt(c1 * c2) * np.sin(turn / 2)

    l_mean, c_mean = (l1 + l2) / 2, (c1 + c2) / 2
    h_mean = np.where(coloured, h1 + turn / 2, h1 + h2)
    t = (
        1
        - 0.17 * np.cos(h_mean - np.pi / 6)
        + 0.24 * np.cos(2 * h_mean)
        + 0.32 * np.cos(3 * h_mean + np.radians(6))
        - 0.20 * np.cos(4 * h_mean - np.radians(63))
    )
    from_grey = (l_mean - 50) ** 2
    s_l = 1 + 0.015 * from_grey / np.sqrt(20 + from_grey)
    s_c = 1 + 0.045 * c_mean
    s_h = 1 + 0.015 * c_mean * t

    # Chroma and hue lean on each other in the blues (eqs. 16, 17, 21).
    degrees = np.degrees(np.remainder(h_mean, 2 * np.pi))
    lean = np.radians(30) * np.exp(-(((degrees - 275) / 25) ** 2))
    turned = -2 * _saturating(c_mean) * np.sin(2 * lean)

    x, y, z = lightness / s_l, chroma / s_c, hue / s_h
    return np.asarray(np.sqrt(np.maximum(x**2 + y**2 + z**2 + turned * y * z, 0.0)))


def _hue(a: Array, b: Array) -> Array:
    """Hue angle, 0 to 2π (eq. 7)."""
    return np.asarray(np.remainder(np.arctan2(b, a), 2 * np.pi))


def _saturating(chroma: Array) -> Array:
    """Square root of C⁷ / (C⁷ + 25⁷): 0 for greys, towards 1 for strong colours."""
    power = chroma**7
    return np.asarray(np.sqrt(power / (power + _FAR)))
