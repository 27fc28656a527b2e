"""Integrals of samples along a line, by the formulas that SciPy uses.

SciPy's own functions would load its optimisers and sparse matrices with them, which takes longer
than checking a design.
"""

import numpy as np
from numpy.typing import NDArray

__all__ = ["cumulative_simpson", "cumulative_trapezoid", "simpson"]

Array = NDArray[np.float64]


def simpson(y: Array, x: Array) -> float:
    """Integral by Simpson's composite rule for uneven steps.

    Parameters
    ----------
    y : (n,) float
        Samples; n is odd and at least 3.
    x : (n,) float
        Their places, increasing.
    """
    step = np.diff(x)
    before, after = step[::2], step[1::2]
    both, ratio = before + after, before / after
    parts = (
        y[:-2:2] * (2 - 1 / ratio)
        + y[1:-1:2] * (both * (both / (before * after)))
        + y[2::2] * (2 - ratio)
    )
    return float(np.sum(both / 6 * parts))


def cumulative_simpson(y: Array, x: Array) -> Array:
    """Integral up to each place: that of a parabola through the place and two beside it.

    Parameters
    ----------
    y : (n,) float
        Samples, at least 3.
    x : (n,) float
        Their places, increasing.

    Returns
    -------
    (n,) float
        0 at the first place.
    """
    step = np.diff(x)
    forth, back = _first_of_two(y, step), _first_of_two(y[::-1], step[::-1])[::-1]
    integrals = np.zeros(y.size)
    parts = integrals[1:]
    parts[:-1:2], parts[1::2], parts[-1] = forth[::2], back[::2], back[-1]
    return np.cumsum(integrals)


def _first_of_two(y: Array, step: Array) -> Array:
    """Integral over the first of every two steps, of the parabola through their three samples."""
    first, second = step[:-1], step[1:]
    share, ratio = first / (first + second), first / second
    bend = share * ratio
    return np.asarray(
        first / 6 * ((3 - share) * y[:-2] + (3 + bend + share) * y[1:-1] + -bend * y[2:])
    )


def cumulative_trapezoid(y: Array, x: Array) -> Array:
    """Integral up to each place, of straight lines between the samples.

    Parameters
    ----------
    y : (n,) float
        Samples.
    x : (n,) float
        Their places, increasing.

    Returns
    -------
    (n,) float
        0 at the first place.
    """
    integrals = np.zeros(y.size)
    np.cumsum(np.diff(x) * (y[1:] + y[:-1]) / 2, out=integrals[1:])
    return integrals
