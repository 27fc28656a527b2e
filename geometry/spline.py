"""The cubic spline through values at whole steps.

The numbers are those of SciPy's ``CubicSpline``. SciPy's interpolators would load its optimisers
and sparse matrices with them, which takes longer than checking a design.
"""

import numpy as np
from numpy.typing import NDArray

__all__ = ["spline_at"]

Array = NDArray[np.float64]


def spline_at(places: Array, values: Array, first: float) -> Array:
    """Values between those at whole steps, by a cubic spline without a knot beside either end.

    Parameters
    ----------
    places : (m,) float
        Where values are wanted, from `first` to ``first + n - 1``.
    values : (n, k) float
        At `first`, ``first + 1`` and so on; at least 4 of them, each of k components.
    first : float
        Place of the first value.

    Returns
    -------
    (m, k) float
    """
    chord = np.diff(values, axis=0)
    slope = _slopes(chord)
    bend = slope[:-1] + slope[1:] - 2 * chord
    knots = np.arange(len(values)) + first
    piece = np.clip(np.searchsorted(knots, places, "right") - 1, 0, len(values) - 2)
    off = (places - knots[piece])[:, None]
    square = (chord - slope[:-1] - bend)[piece]
    return np.asarray(
        values[piece] + slope[piece] * off + square * (off * off) + bend[piece] * (off * off * off)
    )


def _slopes(chord: Array) -> Array:
    """Slopes at the knots, (n, k): those for which the second derivative is continuous.

    One linear equation a knot, solved by elimination from the first to the last and back: the
    matrix has three diagonals and its middle one outweighs the others, so no rows are exchanged.
    """
    count = len(chord) + 1
    right = np.empty((count, *chord.shape[1:]))
    right[1:-1] = 3 * (chord[:-1] + chord[1:])
    right[0] = (5 * chord[0] + chord[1]) / 2
    right[-1] = (chord[-2] + 5 * chord[-1]) / 2
    middle = [1.0, *[4.0] * (count - 2), 1.0]
    above = [2.0, *[1.0] * (count - 2)]
    below = [*[1.0] * (count - 2), 2.0]
    for row in range(count - 1):
        share = below[row] / middle[row]
        middle[row + 1] -= share * above[row]
        right[row + 1] -= share * right[row]
    right[-1] /= middle[-1]
    for row in range(count - 2, -1, -1):
        right[row] = (right[row] - above[row] * right[row + 1]) / middle[row]
    return right
