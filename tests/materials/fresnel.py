"""Reflectance of metals and clear bodies at an angle: what averages and lobes are held against.

Source: [BornWolf], section 1.5 (Fresnel's formulas). Angles are from the surface's normal, rad.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["conductor_reflectance", "dielectric_reflectance"]

Array = NDArray[np.float64]


def conductor_reflectance(
    angle: ArrayLike, n: ArrayLike, k: ArrayLike, outside: ArrayLike = 1.0
) -> Array:
    """Unpolarised Fresnel reflectance of a metal at an angle.

    Parameters
    ----------
    angle : array_like, shape (...)
        From the normal, 0 to pi/2 rad.
    n, k : array_like, shape (...)
        Complex index n + ik of the metal.
    outside : array_like, shape (...)
        Index of the medium that the light comes through.

    Returns
    -------
    ndarray of float64, the broadcast shape
        0 to 1; the mean of the two polarisations.
    """
    n, k, m = (np.asarray(x, dtype=np.float64) for x in (n, k, outside))
    return _mean_reflectance(angle, (n + 1j * k) / m)


def dielectric_reflectance(angle: ArrayLike, n: ArrayLike, outside: ArrayLike = 1.0) -> Array:
    """Unpolarised Fresnel reflectance of a clear body at an angle.

    Parameters
    ----------
    angle : array_like, shape (...)
        From the normal, 0 to pi/2 rad.
    n : array_like, shape (...)
        Index of the clear body.
    outside : array_like, shape (...)
        Index of the medium that the light comes through. Where it is the denser one, light past
        the critical angle is wholly reflected: 1.

    Returns
    -------
    ndarray of float64, the broadcast shape
        0 to 1; the mean of the two polarisations.
    """
    n, m = (np.asarray(x, dtype=np.float64) for x in (n, outside))
    return _mean_reflectance(angle, n / m)


def _mean_reflectance(angle: ArrayLike, ratio: ArrayLike) -> Array:
    # The complex root gives metals, clear bodies and total reflection by one formula.
    angle = np.asarray(angle, dtype=np.float64)
    square = np.asarray(ratio, dtype=np.complex128) ** 2
    cos = np.cos(angle)
    inside = np.sqrt(square - np.sin(angle) ** 2)
    with np.errstate(invalid="ignore"):  # complex division warns of a NaN that it passes on
        r_s = (cos - inside) / (cos + inside)
        r_p = (square * cos - inside) / (square * cos + inside)
    return np.asarray((np.abs(r_s) ** 2 + np.abs(r_p) ** 2) / 2)
