"""Reflection of a rough surface: GGX microfacets, rough by different amounts in x and y.

All vectors are unit, ``(..., 3)``, in the surface's own frame: z is its mean normal, x and y are
the directions that `alpha_x` and `alpha_y` belong to. `wi` and `wo` both point away from the
surface, towards the eye and towards the light. Leading axes broadcast, with those of the alphas;
NaN comes through.

The symbols are those of [Walter2007] and [Heitz2014].

The live renderer's blurred light and the path tracer both follow this lobe; here it is in closed
form, so that each of them can be held against it.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tests.materials.fresnel import dielectric_reflectance

__all__ = [
    "G1",
    "D",
    "G2_correlated",
    "G2_separable",
    "coat_brdf",
    "conductor_brdf",
    "half_vector",
    "lambda_",
    "lobe",
    "roughness_to_alpha",
    "schlick",
]

Array = NDArray[np.float64]


def roughness_to_alpha(roughness: ArrayLike) -> Array:
    """GGX width of a perceptual roughness, alpha = roughness².

    Parameters
    ----------
    roughness : array_like, shape (...)
        0 to 1.

    Returns
    -------
    ndarray of float64, same shape

    Notes
    -----
    [Burley2012]; also [GLTF2], appendix B, and VTK.
    """
    return np.asarray(roughness, dtype=np.float64) ** 2


def half_vector(wi: ArrayLike, wo: ArrayLike) -> Array:
    """The microfacet normal that mirrors `wi` into `wo`, (wi + wo) / |wi + wo|.

    Parameters
    ----------
    wi, wo : array_like, shape (..., 3)
        Unit directions to the eye and to the light.

    Returns
    -------
    ndarray of float64, shape (..., 3)
        NaN where the two are opposite.
    """
    m = _vector(wi) + _vector(wo)
    with np.errstate(invalid="ignore"):
        return np.asarray(m / np.linalg.norm(m, axis=-1, keepdims=True))


def D(m: ArrayLike, alpha_x: ArrayLike, alpha_y: ArrayLike) -> Array:
    """Distribution of microfacet normals ([Heitz2014], eq. 85).

    Parameters
    ----------
    m : array_like, shape (..., 3)
        Microfacet normal.
    alpha_x, alpha_y : array_like, shape (...)
        GGX widths along x and y, more than 0.

    Returns
    -------
    ndarray of float64, shape (...)
        1/sr; D(m) m_z over the half sphere is 1. 0 for normals below the horizon.
    """
    x, y, z = _parts(m)
    a, b = _widths(alpha_x, alpha_y)
    stretched = (x / a) ** 2 + (y / b) ** 2 + z**2
    return np.where(z <= 0, 0.0, 1 / (np.pi * a * b * stretched**2))


def lambda_(v: ArrayLike, alpha_x: ArrayLike, alpha_y: ArrayLike) -> Array:
    """Smith's auxiliary function for GGX ([Heitz2014], eq. 86).

    Parameters
    ----------
    v : array_like, shape (..., 3)
        A direction not in the surface's plane; its sign does not matter.
    alpha_x, alpha_y : array_like, shape (...)
        GGX widths along x and y, more than 0.

    Returns
    -------
    ndarray of float64, shape (...)
        0 straight on, growing without end towards the horizon.
    """
    x, y, z = _parts(v)
    a, b = _widths(alpha_x, alpha_y)
    with np.errstate(divide="ignore"):
        return np.asarray((np.sqrt(1 + ((a * x) ** 2 + (b * y) ** 2) / z**2) - 1) / 2)


def G1(v: ArrayLike, m: ArrayLike, alpha_x: ArrayLike, alpha_y: ArrayLike) -> Array:
    """Share of the microfacets of normal `m` that is seen from `v`: Smith's, in Heitz's form.

    Parameters
    ----------
    v, m : array_like, shape (..., 3)
        Unit direction, and microfacet normal.
    alpha_x, alpha_y : array_like, shape (...)
        GGX widths along x and y, more than 0.

    Returns
    -------
    ndarray of float64, shape (...)
        0 to 1; 0 where `v` sees the back of the microfacet but the front of the surface.
    """
    facing = _dot(v, m) * _parts(v)[2]
    return np.where(facing <= 0, 0.0, 1 / (1 + lambda_(v, alpha_x, alpha_y)))


def G2_separable(
    wi: ArrayLike, wo: ArrayLike, m: ArrayLike, alpha_x: ArrayLike, alpha_y: ArrayLike
) -> Array:
    """Masking and shadowing taken as independent, G1(wi) G1(wo) ([Walter2007], eq. 23).

    What the path tracer uses.

    Parameters
    ----------
    wi, wo, m : array_like, shape (..., 3)
        Unit directions to the eye and to the light, and microfacet normal.
    alpha_x, alpha_y : array_like, shape (...)
        GGX widths along x and y, more than 0.

    Returns
    -------
    ndarray of float64, shape (...)
    """
    return G1(wi, m, alpha_x, alpha_y) * G1(wo, m, alpha_x, alpha_y)


def G2_correlated(
    wi: ArrayLike, wo: ArrayLike, m: ArrayLike, alpha_x: ArrayLike, alpha_y: ArrayLike
) -> Array:
    """Masking and shadowing by the same heights, 1 / (1 + Λ(wi) + Λ(wo)) ([Heitz2014], eq. 99).

    Never less than the separable form, and nearer to a traced surface of Gaussian heights.

    Parameters
    ----------
    wi, wo, m : array_like, shape (..., 3)
        Unit directions to the eye and to the light, and microfacet normal.
    alpha_x, alpha_y : array_like, shape (...)
        GGX widths along x and y, more than 0.

    Returns
    -------
    ndarray of float64, shape (...)
    """
    hidden = (_dot(wi, m) * _parts(wi)[2] <= 0) | (_dot(wo, m) * _parts(wo)[2] <= 0)
    together = 1 + lambda_(wi, alpha_x, alpha_y) + lambda_(wo, alpha_x, alpha_y)
    return np.where(hidden, 0.0, 1 / together)


def lobe(
    wi: ArrayLike,
    wo: ArrayLike,
    alpha_x: ArrayLike,
    alpha_y: ArrayLike,
    *,
    correlated: bool = False,
) -> Array:
    """The lobe of a surface whose microfacets reflect everything, times cos(wo).

    D(m) G2(wi, wo, m) / (4 cos(wi)), [Walter2007], eq. 20, with F = 1 and times the cosine.

    Parameters
    ----------
    wi, wo : array_like, shape (..., 3)
        Unit directions to the eye and to the light.
    alpha_x, alpha_y : array_like, shape (...)
        GGX widths along x and y, more than 0.
    correlated : bool
        Whether G2 is the correlated form instead of the separable one.

    Returns
    -------
    ndarray of float64, shape (...)
        1/sr; 0 unless both directions are above the surface.
    """
    m = half_vector(wi, wo)
    masked = (G2_correlated if correlated else G2_separable)(wi, wo, m, alpha_x, alpha_y)
    cos_i, cos_o = _parts(wi)[2], _parts(wo)[2]
    below = (cos_i <= 0) | (cos_o <= 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        value = D(m, alpha_x, alpha_y) * masked / (4 * cos_i)
    return np.where(below, 0.0, value)


def schlick(f0: ArrayLike, cosine: ArrayLike) -> Array:
    """Reflectance at an angle from that straight on, F0 + (1 - F0)(1 - cos)⁵ [Schlick1994].

    Parameters
    ----------
    f0 : array_like, shape (..., c)
        Straight on, one or more channels.
    cosine : array_like, shape (...)
        Of the angle to the normal; below 0 it counts as 0.

    Returns
    -------
    ndarray of float64, shape (..., c)
    """
    f = np.asarray(f0, dtype=np.float64)
    c = np.clip(np.asarray(cosine, dtype=np.float64), 0, 1)[..., np.newaxis]
    return np.asarray(f + (1 - f) * (1 - c) ** 5)


def conductor_brdf(
    wi: ArrayLike,
    wo: ArrayLike,
    alpha_x: ArrayLike,
    alpha_y: ArrayLike,
    f0: ArrayLike,
    *,
    cosine: bool = True,
    correlated: bool = False,
) -> Array:
    """Reflection of rough metal.

    Parameters
    ----------
    wi, wo : array_like, shape (..., 3)
        Unit directions to the eye and to the light.
    alpha_x, alpha_y : array_like, shape (...)
        GGX widths along x and y, more than 0.
    f0 : array_like, shape (..., c)
        Reflectance straight on, such as linear RGB; Schlick's curve takes it to the angle. For the
        exact curve of an index, multiply `lobe` by `metal.conductor_reflectance` instead.
    cosine : bool
        Give f cos(wo), which is what a picture adds up; else f itself.
    correlated : bool
        As in `lobe`.

    Returns
    -------
    ndarray of float64, shape (..., c)
        1/sr.
    """
    value = lobe(wi, wo, alpha_x, alpha_y, correlated=correlated)
    fresnel = schlick(f0, _dot(wi, half_vector(wi, wo)))
    return _finished(value[..., np.newaxis] * fresnel, _parts(wo)[2][..., np.newaxis], cosine)


def coat_brdf(
    wi: ArrayLike,
    wo: ArrayLike,
    alpha_x: ArrayLike,
    alpha_y: ArrayLike,
    ior: ArrayLike,
    *,
    cosine: bool = True,
    correlated: bool = False,
) -> Array:
    """Reflection at the outside of a clear coat, with the exact Fresnel curve of its index.

    Parameters
    ----------
    wi, wo : array_like, shape (..., 3)
        Unit directions to the eye and to the light.
    alpha_x, alpha_y, ior : array_like, shape (...)
        `ior` of the coat, in air.
    cosine, correlated : bool
        As in `conductor_brdf`.

    Returns
    -------
    ndarray of float64, shape (...)
        1/sr.
    """
    value = lobe(wi, wo, alpha_x, alpha_y, correlated=correlated)
    angle = np.arccos(np.clip(_dot(wi, half_vector(wi, wo)), 0, 1))
    return _finished(value * dielectric_reflectance(angle, ior), _parts(wo)[2], cosine)


def _finished(value: Array, cos_o: Array, cosine: bool) -> Array:
    if cosine:
        return value
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(cos_o <= 0, 0.0, value / cos_o)


def _vector(v: ArrayLike) -> Array:
    return np.asarray(v, dtype=np.float64)


def _parts(v: ArrayLike) -> tuple[Array, Array, Array]:
    x, y, z = np.moveaxis(_vector(v), -1, 0)
    return x, y, z


def _widths(alpha_x: ArrayLike, alpha_y: ArrayLike) -> tuple[Array, Array]:
    return np.asarray(alpha_x, dtype=np.float64), np.asarray(alpha_y, dtype=np.float64)


def _dot(a: ArrayLike, b: ArrayLike) -> Array:
    return np.asarray((_vector(a) * _vector(b)).sum(axis=-1))
