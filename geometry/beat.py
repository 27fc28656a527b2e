"""The slow beat of two rulings whose pitches differ a little.

Where two rulings lie on one another, an eye that does not resolve the single lines sees where
lines coincide and where they alternate. Their frequencies subtract, 1/p_1 -
1/p_2, so the beat comes round every p_1 p_2 / |p_1 - p_2| ([Amidror], for parallel rulings; from
memory).
"""

import math
from dataclasses import dataclass

__all__ = ["Beat", "beat_of"]

_LOUDEST = 6
"""Largest number of fine lines to a coarse line: beyond it a beat is too faint to be seen (from
memory)."""


@dataclass(frozen=True, slots=True)
class Beat:
    """Two rulings and their beat.

    Parameters
    ----------
    under, over : float
        Pitch of each ruling, from line to line, mm.
    lines : int
        Lines of the finer ruling for each line of the coarser: 1 where the pitches are similar.
    length : float
        Distance from one coincidence to the next, mm; infinite where all lines coincide.
    """

    under: float
    over: float
    lines: int
    length: float

    def moved(self, share: float) -> "Beat":
        """Find the beat with a wider upper ruling and the same `lines`.

        Parameters
        ----------
        share : float
            By which the upper pitch grows, 0.01 for 1 %.
        """
        return _beat(self.under, self.over * (1 + share), self.lines)

    def between(self, under_off: float, over_off: float) -> tuple[float, float]:
        """Find the shortest and the longest beat where neither pitch is quite known.

        1 / length is the difference of two frequencies, each farthest off where its pitch is, so
        the bounds lie at the corners of both tolerances. Where the frequencies may be the same
        there may be no beat at all.

        Parameters
        ----------
        under_off, over_off : float
            Relative uncertainty of each pitch, below 1.

        Returns
        -------
        (float, float)
            mm; the second is infinite where the pitches may agree.
        """
        wide, fine = max(self.under, self.over), min(self.under, self.over)
        wide_off, fine_off = (
            (under_off, over_off) if self.under >= self.over else (over_off, under_off)
        )
        least = self.lines / (wide * (1 + wide_off)) - 1 / (fine * (1 - fine_off))
        most = self.lines / (wide * (1 - wide_off)) - 1 / (fine * (1 + fine_off))
        shortest = 1 / max(abs(least), abs(most)) if least or most else math.inf
        if least <= 0 <= most:
            return shortest, math.inf
        return shortest, 1 / min(abs(least), abs(most))


def beat_of(under: float, over: float) -> Beat:
    """Find the beat of two rulings.

    Where one pitch is about k times the other, k fine lines go to one coarse line, and the beat is
    p_1 p_2 / |p_1 - k p_2|.

    Parameters
    ----------
    under, over : float
        Pitch of each ruling, from line to line, mm.
    """
    wide, fine = max(under, over), min(under, over)
    return _beat(under, over, min(max(1, round(wide / fine)), _LOUDEST))


def _beat(under: float, over: float, lines: int) -> Beat:
    wide, fine = max(under, over), min(under, over)
    apart = abs(wide - lines * fine)
    # The rounding of a sum of widths is not a difference of pitch.
    length = math.inf if apart <= 1e-9 * wide else under * over / apart
    return Beat(under, over, lines, length)
