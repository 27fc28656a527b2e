"""The smoothest reflectance that looks as it was seen, and what it looks like by daylight.

Three numbers do not make a spectrum; of all that give them, real things are mostly near the
smoothest. It is found between 0 and 1 by the method of least hyperbolic tangent slope squared
[Burns2020]: reflectance is (tanh z + 1) / 2, and the sum of squared steps of z is least.
Here what was seen is not a condition but a heavy weight, for photographs show colours that no
reflectance has; what is left over is taken along by Bradford's rule.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from materials.adaptation import adaptation
from materials.observer import D65, MATCHING, WAVELENGTHS

__all__ = ["by_daylight", "smoothest"]

Array = NDArray[np.float64]

_WEIGHT = 1e5
"""Of the squared difference from what was seen, over squared steps of z."""

_DARKEST = 0.005
_LIGHTEST = 0.95
"""Lightest that is taken for a reflectance: beyond, it is a gleam, and looked at dimmed."""

_MOST_ROUNDS = 60
_CLOSE = 1e-6
"""Share of the cost by which the last step still lowered it."""

_LONGEST = 3.0
"""Step of z at most: beyond, tanh is nothing like its slope."""

_STEPS: Array = np.diff(np.eye(len(WAVELENGTHS)), axis=0)
_ROUGH: Array = _STEPS.T @ _STEPS


def smoothest(seen: ArrayLike, light: ArrayLike) -> Array:
    """Find the smoothest reflectances that look as they were seen.

    Parameters
    ----------
    seen : array_like, shape (k, 3)
        XYZ, each over that of white under the light.
    light : array_like, shape (n,)
        As `materials.observer.as_light` scales it.

    Returns
    -------
    ndarray of float64, shape (k, n)
        0 to 1. What no reflectance gives is met as nearly as can be.
    """
    wanted = np.asarray(seen, dtype=np.float64)
    answers = _answers(np.asarray(light, dtype=np.float64))
    start = np.clip(wanted[:, 1], _DARKEST, _LIGHTEST)
    z = np.repeat(np.arctanh(2 * start - 1)[:, None], len(WAVELENGTHS), axis=1)
    cost = _cost(z, wanted, answers)
    damping = np.full(len(z), 1e-3)
    under_way = np.arange(len(z))
    # Gauss and Newton's step, damped by Levenberg and Marquardt's rule, while it still gains.
    for _ in range(_MOST_ROUNDS):
        now, bent = z[under_way], np.tanh(z[under_way])
        slopes = answers * ((1 - bent**2) / 2)[:, None, :]
        apart = (bent + 1) / 2 @ answers.T - wanted[under_way]
        downhill = -now @ _ROUGH - _WEIGHT * np.einsum("kc,kcn->kn", apart, slopes)
        curved = _ROUGH + _WEIGHT * np.swapaxes(slopes, 1, 2) @ slopes
        curved += damping[under_way, None, None] * np.eye(len(WAVELENGTHS))
        step = np.linalg.solve(curved, downhill[..., None])[..., 0]
        step *= np.minimum(1, _LONGEST / np.maximum(np.abs(step).max(axis=1), 1e-300))[:, None]
        tried = _cost(now + step, wanted[under_way], answers)
        better = tried <= cost[under_way]
        gained = np.where(better, cost[under_way] - tried, np.inf)
        z[under_way] += np.where(better[:, None], step, 0)
        cost[under_way] -= np.where(better, gained, 0)
        damping[under_way] *= np.where(better, 0.2, 10)
        under_way = under_way[gained > _CLOSE * (1 + cost[under_way])]
        if not len(under_way):
            break
    return (np.tanh(z) + 1) / 2


def by_daylight(seen: ArrayLike, light: ArrayLike) -> tuple[Array, Array]:
    """Convert what is seen under a light to what would be seen under D65.

    Parameters
    ----------
    seen : array_like, shape (..., 3)
        XYZ, each over that of white under the light. Beyond white it is a gleam: it keeps its
        luminance, and its hue is that of the same colour dimmed.
    light : array_like, shape (n,)
        As `materials.observer.as_light` scales it.

    Returns
    -------
    xyz : ndarray of float64, shape (..., 3)
        Each over that of white under D65.
    darkest : ndarray of float64, shape (...)
        The reflectance that it was found by, where that is least.
    """
    shape, lit = np.shape(seen), np.asarray(light, dtype=np.float64)
    flat = np.asarray(seen, dtype=np.float64).reshape(-1, 3)
    dimmed = np.maximum(flat.max(axis=1) / _LIGHTEST, 1)[:, None]
    wanted = flat / dimmed
    found = smoothest(wanted, lit)
    white, daylight = lit @ MATCHING, D65 @ MATCHING
    left = (wanted - found @ _answers(lit).T) * white @ adaptation(white, daylight).T / daylight
    xyz = (found @ _answers(D65).T + left) * dimmed
    return xyz.reshape(shape), (found.min(axis=1) * dimmed[:, 0]).reshape(shape[:-1])


def _answers(light: Array) -> Array:
    """What turns a reflectance into XYZ over that of white, (3, n)."""
    return (light[:, None] * MATCHING / (light @ MATCHING)).T


def _cost(z: Array, wanted: Array, answers: Array) -> Array:
    apart = (np.tanh(z) + 1) / 2 @ answers.T - wanted
    return (np.diff(z, axis=1) ** 2).sum(axis=1) / 2 + _WEIGHT / 2 * (apart**2).sum(axis=1)
