"""Differences of light and of colour that an eye sees from a distance.

An eye with 20/20 vision resolves one arc minute [ISO8596]: bars closer than that melt into
one tone. A single line can be far thinner and still be seen, as long as it is dark or bright
enough. Both follow from the contrast sensitivity function, whose inverse is the least modulation,
(light - dark) / (light + dark), of a grating that is seen half of the time: the eye is taken as a
filter of that gain, and sees what comes through it with a strength of 1 [Campbell1969]. A surface
with a pattern of its own hides more [Legge1980].

For colour without a difference of light the eye is far coarser: nothing is left above 11 to 12
cycles a degree [Mullen1985].
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import erf

__all__ = [
    "ARC_MINUTE",
    "bar_kept",
    "bar_sensitivity",
    "contrast_sensitivity",
    "masked",
    "visual_angle",
]

Array = NDArray[np.float64]

ARC_MINUTE = np.pi / (180 * 60)
"""rad."""

_MASKING = 0.62
"""Thresholds grow with this power of the contrast of the pattern that hides a sign [Legge1980]."""

_FINEST = 80.0
"""Cycles a degree beyond which the eye sees nothing."""

# [Zhang1997], table 1: Gaussians of the spread sigma, degrees, exp(-(x² + y²) / sigma²), with
# their weights.
_BLUR = (
    ((0.921, 0.0283), (0.105, 0.133), (-0.108, 4.336)),  # light and dark
    ((0.531, 0.0392), (0.330, 0.494)),  # red and green
    ((0.488, 0.0536), (0.371, 0.386)),  # blue and yellow
)


def visual_angle(size: ArrayLike, distance: ArrayLike) -> Array:
    """Angle that something takes up in the view, rad.

    Parameters
    ----------
    size, distance : array_like, shape (...)
        In the same unit; seen square on.

    Returns
    -------
    ndarray of float64, the broadcast shape
    """
    return np.asarray(2 * np.arctan2(np.asarray(size, dtype=np.float64) / 2, distance))


def contrast_sensitivity(
    frequency: ArrayLike, luminance: ArrayLike, width: ArrayLike = 10.0, height: ArrayLike = 10.0
) -> Array:
    """One over the least modulation of a pattern of bars that both eyes see half of the time.

    Parameters
    ----------
    frequency : array_like, shape (...)
        Cycles a degree.
    luminance : array_like, shape (...)
        Mean luminance of the pattern, cd/m², more than 0.
    width, height : array_like, shape (...)
        Size of the pattern across and along its bars, degrees.

    Returns
    -------
    ndarray of float64, the broadcast shape
        Below 1 where no contrast is enough. NaN comes through.

    Notes
    -----
    [Barten2003]. The formula is for a square pattern; that for a rectangle follows from the model
    behind it [Barten1999], in which each side limits by itself how far the eye adds up.
    """
    u = np.asarray(frequency, dtype=np.float64)
    light = np.asarray(luminance, dtype=np.float64)
    sides = [
        1 + 144 / np.asarray(side, dtype=np.float64) ** 2 + 0.64 * u**2 for side in (width, height)
    ]
    optics = np.exp(-0.0016 * u**2 * (1 + 100 / light) ** 0.08)
    noise = 63 / light**0.83 + 1 / (1 - np.exp(-0.02 * u**2))
    return np.asarray(5200 * optics / np.sqrt(np.sqrt(sides[0] * sides[1]) * noise))


def bar_sensitivity(width: ArrayLike, luminance: ArrayLike, patch: float = 2.0) -> Array:
    """One over the least modulation that a single bar must have against what is round it.

    Parameters
    ----------
    width : array_like, shape (...)
        Of the bar, degrees, more than 0. It is much longer than wide.
    luminance : array_like, shape (...)
        cd/m², the mean of the bar and of what is round it.
    patch : float
        Side of the square that is looked at at once, degrees.

    Returns
    -------
    ndarray of float64, the broadcast shape
        NaN comes through.

    Notes
    -----
    A bar of the width w that differs by ΔL from the luminance L has the spectrum
    (ΔL / L) w sinc(f w); what the eye's filter S lets through is greatest at its middle:
    (ΔL / L) ∫ w sinc(f w) S(|f|) df, and is seen at 1 [Campbell1969]. The
    modulation is half of ΔL / L.
    """
    w, light = np.broadcast_arrays(
        np.asarray(width, dtype=np.float64), np.asarray(luminance, dtype=np.float64)
    )
    f = np.linspace(0.02, _FINEST, 2000)
    gain = contrast_sensitivity(f, light[..., np.newaxis], patch, patch)
    through = w[..., np.newaxis] * np.sinc(f * w[..., np.newaxis]) * gain
    # Twice for the negative frequencies, twice from modulation to ΔL / L.
    return np.asarray(4 * np.trapezoid(through, f, axis=-1))


def masked(least: ArrayLike, restless: ArrayLike) -> Array:
    """Least modulation that is seen on a surface which is itself uneven.

    Parameters
    ----------
    least : array_like, shape (...)
        Least modulation on an even surface.
    restless : array_like, shape (...)
        Modulation of the surface's own pattern, of about the same size.

    Returns
    -------
    ndarray of float64, the broadcast shape
        `least` itself as long as the pattern is weaker, then growing with its power of 0.62
        [Legge1980]. NaN comes through.
    """
    even, uneven = np.asarray(least, dtype=np.float64), np.asarray(restless, dtype=np.float64)
    return np.asarray(even * np.maximum(uneven / even, 1.0) ** _MASKING)


def bar_kept(width: ArrayLike) -> Array:
    """How much of a long bar's own colour an eye leaves at its middle, of that round it taken as 0.

    Parameters
    ----------
    width : array_like, shape (...)
        Of the bar, degrees, 0 or more.

    Returns
    -------
    ndarray of float64, shape (..., 3)
        Of light and dark, red and green, blue and yellow: 0 for no bar at all, about 1 for a wide
        one. NaN comes through.

    Notes
    -----
    The three channels of [Zhang1997], integrated over the bar; they lie close to L*, a*
    and b* of CIELAB.
    """
    half = np.asarray(width, dtype=np.float64) / 2
    kept = [
        sum(weight * erf(half / spread) for weight, spread in blur) / sum(w for w, _ in blur)
        for blur in _BLUR
    ]
    return np.asarray(np.stack(kept, axis=-1))
