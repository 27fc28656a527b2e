"""The slow beat of two rows of stripes that differ a little.

Where two rulings lie on one another the eye, which no longer sees the single lines, sees where
they fall together and where they fall between each other. Their frequencies subtract, 1/p_1 -
1/p_2, so it comes round every p_1 p_2 / |p_1 - p_2| (Amidror, "The Theory of the Moiré
Phenomenon", for rulings in parallel; from memory).
"""

import math
from dataclasses import dataclass

__all__ = ["Beat", "beat_of"]

_LOUDEST = 6
"""Most lines of one ruling to one of the other: beyond that a beat is too faint to be seen (from
memory)."""


@dataclass(frozen=True, slots=True)
class Beat:
    """Two rulings and their beat.

    Parameters
    ----------
    under, over : float
        From line to line of each, mm.
    lines : int
        Lines of the finer to one of the coarser: 1 where they are nearly alike.
    length : float
        From one place where they fall together to the next, mm; infinite if they always do.
    """

    under: float
    over: float
    lines: int
    length: float

    def moved(self, share: float) -> "Beat":
        """The beat if the upper one is wider by a share of itself, at as many lines to a line."""
        return _beat(self.under, self.over * (1 + share), self.lines)


def beat_of(under: float, over: float) -> Beat:
    """Find the beat of two rulings.

    Where one is about k times as wide as the other, k lines fall into one of it, and the beat is
    p_1 p_2 / |p_1 - k p_2|.

    Parameters
    ----------
    under, over : float
        From line to line, mm.
    """
    wide, fine = max(under, over), min(under, over)
    return _beat(under, over, min(max(1, round(wide / fine)), _LOUDEST))


def _beat(under: float, over: float, lines: int) -> Beat:
    wide, fine = max(under, over), min(under, over)
    apart = abs(wide - lines * fine)
    # Rounding of a sum of widths is no difference of theirs.
    length = math.inf if apart <= 1e-9 * wide else under * over / apart
    return Beat(under, over, lines, length)
