"""How much light metals and clear films give back.

Angles are from the surface's normal, in radians, on the side the light comes from; `outside` is the
index of the medium there (1 for air, about 1.5 under finish). Every formula broadcasts its
arguments and lets NaN through.

Sources: [BornWolf], sections 1.5 and 14.2 (Fresnel); [Rakic1995] (aluminium).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "ALUMINIUM",
    "Metal",
    "dielectric_reflectance",
    "diffuse_dielectric_reflectance",
    "diffuse_internal_reflectance",
    "dye_transmittance",
    "dyed_film_reflectance",
    "normal_reflectance",
]

Array = NDArray[np.float64]
Triple = tuple[float, float, float]


def normal_reflectance(n: ArrayLike, k: ArrayLike = 0.0, outside: ArrayLike = 1.0) -> Array:
    """Reflectance F0 straight on, ((n - m)^2 + k^2) / ((n + m)^2 + k^2) with m outside.

    Parameters
    ----------
    n, k : array_like, shape (...)
        Complex index n + ik of the reflecting body; k = 0 for a clear body.
    outside : array_like, shape (...)
        Index of the medium that the light comes through.

    Returns
    -------
    ndarray of float64, the broadcast shape
        0 to 1.

    Examples
    --------
    >>> round(float(normal_reflectance(1.5)), 6)
    0.04
    """
    n, k, m = (np.asarray(x, dtype=np.float64) for x in (n, k, outside))
    return np.asarray(((n - m) ** 2 + k**2) / ((n + m) ** 2 + k**2))


def dielectric_reflectance(cosine: ArrayLike, n: ArrayLike) -> Array:
    """Unpolarised Fresnel reflectance of a clear body in air.

    Parameters
    ----------
    cosine : array_like, shape (...)
        Of the angle between the ray and the normal, 0 to 1.
    n : array_like, shape (...)
        Index of the clear body, at least 1.

    Returns
    -------
    ndarray of float64, the broadcast shape
        0 to 1; the mean of the two polarisations.
    """
    near, n = (np.asarray(x, dtype=np.float64) for x in (cosine, n))
    far = np.sqrt(1 - (1 - near**2) / n**2)
    perpendicular = (near - n * far) / (near + n * far)
    parallel = (n * near - far) / (n * near + far)
    return np.asarray((perpendicular**2 + parallel**2) / 2)


def diffuse_dielectric_reflectance(n: ArrayLike) -> Array:
    """Reflectance of a clear body in air lit evenly from every side.

    Parameters
    ----------
    n : array_like, shape (...)
        Index of the clear body, more than 1.

    Returns
    -------
    ndarray of float64, same shape
        The cosine-weighted mean of the Fresnel reflectance over the hemisphere.

    Notes
    -----
    Closed form: [Duntley1942]; used for wet surfaces by [Lekner1988].
    """
    n = np.asarray(n, dtype=np.float64)
    n2 = n * n
    return np.asarray(
        0.5
        + (n - 1) * (3 * n + 1) / (6 * (n + 1) ** 2)
        + n2 * (n2 - 1) ** 2 / (n2 + 1) ** 3 * np.log((n - 1) / (n + 1))
        - 2 * n**3 * (n2 + 2 * n - 1) / ((n2 + 1) * (n2 * n2 - 1))
        + 8 * n2**2 * (n2**2 + 1) / ((n2 + 1) * (n2**2 - 1) ** 2) * np.log(n)
    )


def diffuse_internal_reflectance(n: ArrayLike) -> Array:
    """Share of evenly scattered light that the outside of a clear body reflects back into it.

    Parameters
    ----------
    n : array_like, shape (...)
        Index of the clear body, which lies in air; more than 1.

    Returns
    -------
    ndarray of float64, same shape
        1 - (1 - R) / n^2, with R the reflectance from without [Lekner1988].
    """
    n = np.asarray(n, dtype=np.float64)
    return np.asarray(1 - (1 - diffuse_dielectric_reflectance(n)) / n**2)


@dataclass(frozen=True, slots=True)
class Metal:
    """A metal's F0 in linear sRGB (D65), before any clamp.

    Parameters
    ----------
    name : str
        Name of the metal.
    air : tuple of 3 float
        F0 in air.
    under_finish : tuple of 3 float
        F0 under a clear medium of index 1.5; darker.
    """

    name: str
    air: Triple
    under_finish: Triple

    def f0(self, finished: bool = False) -> Array:
        """F0 as a renderer can use it: clamped to 0..1.

        Parameters
        ----------
        finished : bool
            True under finish, False in air.

        Returns
        -------
        ndarray of float64, shape (3,)
            Linear RGB.
        """
        f0 = np.array(self.under_finish if finished else self.air, dtype=np.float64)
        return np.asarray(np.clip(f0, 0.0, 1.0))


# The spectrum of [Rakic1995] through the CIE 1931 2 degree observer and D65 to linear sRGB; good
# to 0.005.
ALUMINIUM = Metal("aluminium", (0.9072, 0.9161, 0.9214), (0.8665, 0.8797, 0.8892))


def dye_transmittance(swatch: ArrayLike) -> Array:
    """One-way transmittance of the dye that makes aluminium look like a flat swatch in air.

    Light crosses the dye twice, so F0 times the square of this is the swatch again. A swatch
    brighter than aluminium is dimmed as a whole until it fits, which keeps its hue.

    Parameters
    ----------
    swatch : array_like, shape (..., 3)
        Linear RGB of the dyed film seen flat, in neutral light, in air. Negative values count as 0.

    Returns
    -------
    ndarray of float64, shape (..., 3)
        0 to 1.
    """
    share = np.maximum(np.asarray(swatch, dtype=np.float64), 0.0) / ALUMINIUM.f0()
    return np.asarray(np.sqrt(share / np.maximum(share.max(axis=-1, keepdims=True), 1.0)))


def dyed_film_reflectance(transmittance: ArrayLike, finished: bool = False) -> Array:
    """F0 of a dyed clear film over aluminium: aluminium's, filtered on the way in and out.

    Parameters
    ----------
    transmittance : array_like, shape (..., 3)
        One-way transmittance of the dye in linear RGB, 0 to 1.
    finished : bool
        True under finish, False in air.

    Returns
    -------
    ndarray of float64, shape (..., 3)
        Linear RGB. The reflection at the film's own face is left to the finish or ignored.
    """
    t = np.asarray(transmittance, dtype=np.float64)
    return np.asarray(ALUMINIUM.f0(finished) * t**2)
