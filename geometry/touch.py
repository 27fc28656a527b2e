"""Ridges in a finish: their height, and the least height that a finger feels."""

import numpy as np
from numpy.typing import NDArray

from geometry.surface import Surface

__all__ = ["ridge_height", "touch_threshold"]

_HIGHEST = 90.0
"""Percentile of the local ridge heights that is reported: most of the wrap stays below it."""

_THRESHOLD_MM, _THRESHOLD_SIGMA_MM, _THRESHOLD_POWER = 0.001, 0.15, 1.3
"""A moving finger feels a bell-shaped ridge of 1 micron where its width sigma is 0.15 mm, and the
threshold grows with the power 1.3 of the width [Louw2000] (from memory)."""


def ridge_height(surface: Surface, start: float, end: float, wavelength: float) -> float:
    """Height of the ridges of one scale on a surface, from trough to crest, mm.

    The shape broader than `wavelength` (the taper, a strip beside its gap) is removed with a
    Gaussian of half that width. The height at a point is the range of the rest within one
    wavelength round it; the result is the 90th percentile over the wrap.

    Parameters
    ----------
    surface : Surface
        Outside of the finish.
    start, end : float
        The stretch that is felt, mm from the butt.
    wavelength : float
        Distance from ridge to ridge, mm.
    """
    from scipy.ndimage import gaussian_filter1d, maximum_filter, minimum_filter

    radius: NDArray[np.float64] = surface.radius[surface.between(start, end)]
    step = (surface.step, 2 * np.pi * float(radius.mean()) / surface.theta.size)
    sigma = [wavelength / 2 / size for size in step]
    broad = gaussian_filter1d(radius, sigma[0], axis=0, mode="nearest")
    broad = gaussian_filter1d(broad, sigma[1], axis=1, mode="wrap")
    left = radius - broad
    window = [max(2, round(wavelength / size)) for size in step]
    modes = ("nearest", "wrap")
    span = maximum_filter(left, window, mode=modes) - minimum_filter(left, window, mode=modes)
    # Towards the ends the blur sees only one side.
    margin = min(window[0], (radius.shape[0] - 1) // 2)
    return float(np.percentile(span[margin : radius.shape[0] - margin], _HIGHEST))


def touch_threshold(wavelength: float) -> float:
    """Least height of ridges a wavelength apart that a moving finger feels, mm.

    A crest of cos(k x) is a Gaussian of sigma = 1/k. Good to a factor of two at best.

    Parameters
    ----------
    wavelength : float
        Distance from ridge to ridge, mm.
    """
    sigma = max(wavelength / (2 * np.pi), _THRESHOLD_SIGMA_MM)
    return float(_THRESHOLD_MM * (sigma / _THRESHOLD_SIGMA_MM) ** _THRESHOLD_POWER)
