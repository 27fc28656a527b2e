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
