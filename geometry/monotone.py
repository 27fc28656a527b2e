"""The monotone cubic through points of [Fritsch1980], and its slope.

The numbers are those of SciPy's ``PchipInterpolator``. SciPy's interpolators would load its
optimisers and sparse matrices with them, which takes longer than checking a design.
"""

from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

__all__ = ["MonotoneCubic"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class MonotoneCubic:
    """A piecewise cubic that never overshoots the points it goes through.

    Parameters
    ----------
    knots : (n,) float
        Places of the points, increasing.
    coefficients : (4, n - 1) float
        Of each piece, for the powers 3 to 0 of the distance from its first knot.
    """

    knots: Array
    coefficients: Array

    @classmethod
    def through(cls, x: Array, y: Array) -> Self:
        """Make the curve through points.

        Parameters
        ----------
        x : (n,) float
            Places of the points, increasing; at least 2.
        y : (n,) float
            Their heights.
        """
        step = np.diff(x)
        chord = np.diff(y) / step
        slope = _slopes(step, chord)
        bend = (slope[:-1] + slope[1:] - 2 * chord) / step
        cubic, square = bend / step, (chord - slope[:-1]) / step - bend
        return cls(x, np.stack((cubic, square, slope[:-1], y[:-1])))

    def __call__(self, x: Array) -> Array:
        """Heights of the curve.

        Parameters
        ----------
        x : (...) float
            Between the first and the last knot.

        Returns
        -------
        (...) float
        """
        piece, off = self._places(x)
        cubic, square, slope, start = self.coefficients[:, piece]
        return np.asarray(start + slope * off + square * (off * off) + cubic * (off * off * off))

    def slope(self, x: Array) -> Array:
        """Slopes of the curve.

        Parameters
        ----------
        x : (...) float
            Between the first and the last knot.

        Returns
        -------
        (...) float
        """
        piece, off = self._places(x)
        cubic, square, slope, _ = self.coefficients[:, piece]
        return np.asarray(slope + 2 * square * off + 3 * cubic * (off * off))

    def _places(self, x: Array) -> tuple[NDArray[np.intp], Array]:
        """Number of the piece at each place, and the distance from its first knot."""
        piece = np.clip(np.searchsorted(self.knots, x, "right") - 1, 0, self.knots.size - 2)
        return piece, x - self.knots[piece]


def _slopes(step: Array, chord: Array) -> Array:
    """Slopes at the points: 0 at a peak or in a dip, elsewhere a weighted harmonic mean."""
    if chord.size == 1:
        return np.repeat(chord, 2)
    slopes = np.zeros(chord.size + 1)
    climbs = chord[:-1] * chord[1:] > 0
    before, after = 2 * step[1:] + step[:-1], step[1:] + 2 * step[:-1]
    first, second = chord[:-1][climbs], chord[1:][climbs]
    mean = (before[climbs] / first + after[climbs] / second) / (before + after)[climbs]
    slopes[1:-1][climbs] = 1 / mean
    slopes[0] = _end_slope(step[0], step[1], chord[0], chord[1])
    slopes[-1] = _end_slope(step[-1], step[-2], chord[-1], chord[-2])
    return slopes


def _end_slope(near: float, next_: float, chord: float, next_chord: float) -> float:
    """Slope of the parabola through the last three points, kept from overshooting."""
    slope = ((2 * near + next_) * chord - near * next_chord) / (near + next_)
    if np.sign(slope) != np.sign(chord):
        return 0.0
    if np.sign(chord) != np.sign(next_chord) and abs(slope) > 3 * abs(chord):
        return float(3 * chord)
    return float(slope)
