"""The pixels of a thread, or of a card, in a photograph that count for its colour."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from materials.colour import luminance, srgb_to_linear
from materials.problems import MaterialProblem

__all__ = ["Spot"]

Array = NDArray[np.float64]

_BURNT = 253 / 255
"""Encoded sRGB from which a channel may have been cut off."""

_MOST_BURNT = 0.2
"""Share of burnt-out pixels beyond which the rest is no measure of the colour."""

_SHINE = 2.5
"""Standard deviations from the middle beyond which luminance is shine or gap."""

_EVEN = 0.02
"""Share of its luminance by which a pixel may always differ: a flat card has no deviation."""

_SIGMA_OF_MAD = 1.4826
"""Standard deviation of a normal distribution over its median absolute deviation."""

_LEAST_SIDE = 8
_PARTS = 4
_LEAST_KEPT = 0.1
"""Pixels of a side at least; parts along each side; share of a part's pixels that must count."""


@dataclass(frozen=True, slots=True)
class Spot:
    """The pixels of a thing in a photograph that count, as means.

    Parameters
    ----------
    mean : (3,) float
        Linear RGB of all that counts.
    parts : (n, 3) float
        Linear RGB of the parts of a grid.
    burnt, shine : float
        Shares of its pixels left out because they were cut off, or are shine or gap.
    """

    mean: Array
    parts: Array
    burnt: float
    shine: float

    @classmethod
    def of(cls, srgb: ArrayLike, what: str, *, keep_shine: bool = False) -> "Spot":
        """Take the mean of what counts.

        Parameters
        ----------
        srgb : array_like, shape (h, w, 3)
            Encoded sRGB, 0 to 1.
        what : str
            Its name in an error.
        keep_shine : bool
            Leave out only what is burnt out.

        Raises
        ------
        MaterialProblem
            If it is too small, or too much of it is burnt out.
        """
        encoded = np.asarray(srgb, dtype=np.float64)
        if encoded.ndim != 3 or min(encoded.shape[:2]) < _LEAST_SIDE:
            high, wide = encoded.shape[:2]
            raise MaterialProblem(
                f"{what} is {wide}x{high} pixels, but should be {_LEAST_SIDE}x{_LEAST_SIDE} or "
                "more."
            )
        linear, light = srgb_to_linear(encoded), luminance(srgb_to_linear(encoded))
        whole: NDArray[np.bool_] = np.asarray((encoded < _BURNT).all(axis=-1))
        burnt = float(1 - whole.mean())
        if burnt > _MOST_BURNT:
            raise MaterialProblem(
                f"{what} is burnt out in {100 * burnt:.0f} % of its pixels, but should be in "
                f"{100 * _MOST_BURNT:.0f} % at most; photograph it darker or in softer light."
            )
        kept = whole
        if not keep_shine:
            middle = float(np.median(light[whole]))
            deviation = _SIGMA_OF_MAD * float(np.median(np.abs(light[whole] - middle)))
            near = np.abs(light - middle) <= max(_SHINE * deviation, _EVEN * middle)
            kept = np.asarray(whole & near)
        return cls(
            linear[kept].mean(axis=0),
            _parts(linear, kept),
            burnt,
            float(whole.mean() - kept.mean()),
        )


def _parts(linear: Array, kept: NDArray[np.bool_]) -> Array:
    """Means of the parts of a grid, of those that have enough pixels that count."""
    found = []
    for rows, row_kept in zip(_split(linear, 0), _split(kept, 0), strict=True):
        for part, counts in zip(_split(rows, 1), _split(row_kept, 1), strict=True):
            if counts.mean() >= _LEAST_KEPT:
                found.append(part[counts].mean(axis=0))
    return np.array(found)


def _split(array: NDArray[np.generic], axis: int) -> list[NDArray[np.generic]]:
    return np.array_split(array, _PARTS, axis=axis)
