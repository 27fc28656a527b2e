"""A large picture drawn in bands, one above the other, so that memory does not grow with its size.

Software OpenGL keeps four places of every sample in memory, and copies of all of them: 65 bytes a
sample in all.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

__all__ = ["Band", "bands"]

_MOST_SAMPLES = 1 << 20
"""Samples of a band."""


@dataclass(frozen=True, slots=True)
class Band:
    """A band of a picture, as wide as the whole.

    Parameters
    ----------
    first : int
        Its lowest row, counted from below.
    rows : int
        The uppermost band may reach beyond the picture, since all are equally high.
    of : int
        Rows of the whole picture.
    """

    first: int
    rows: int
    of: int

    @property
    def middle(self) -> float:
        """Middle of the whole picture, in half heights of the band from below its own middle."""
        return (2 * self.first + self.rows - self.of) / self.rows

    def view_angle(self, whole: float) -> float:
        """Angle between its lowest and its uppermost row, seen in the middle of the whole, rad.

        Parameters
        ----------
        whole : float
            The same angle of the whole picture, rad.
        """
        if self.rows == self.of:
            return whole
        return 2 * math.atan(math.tan(whole / 2) * self.rows / self.of)


def bands(width: int, height: int, step: int) -> Iterator[Band]:
    """Cut a picture into bands, the lowest first.

    Parameters
    ----------
    width, height : int
        Samples.
    step : int
        Rows of a band are a multiple of this, and of 2: the driver compares samples two by two.
    """
    count = max(1, -(-width * height // _MOST_SAMPLES))
    rows = height
    if count > 1:
        step = math.lcm(step, 2)
        rows = step * -(-height // (step * count))
    for first in range(0, height, rows):
        yield Band(first, rows, height)
