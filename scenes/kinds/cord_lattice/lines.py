"""Cord lattices on paper: every cord, and where each begins and ends."""

from collections.abc import Iterator

import numpy as np

from geometry.marks import cord_marks
from scenes.kinds.cord_lattice.builder import LatticeBuilder
from scenes.kinds.lines import RELIEF, BlankLine, BlankMark, Pen, Trace, offset_lines, rings

__all__ = ["lines", "marks"]

_UNDER = Pen("cord laid first, right-hand", Trace(0.35), Trace(0.25))
_OVER = Pen(
    "cord laid over it, left-hand", Trace(0.35, dash=(3.0, 1.0)), Trace(0.25, dash=(1.6, 0.7))
)


def lines(builder: LatticeBuilder) -> Iterator[BlankLine]:
    """Draw every cord, and where the lattice is cut at its ends.

    Parameters
    ----------
    builder : LatticeBuilder
    """
    for winding, pen in zip(builder.windings, (_UNDER, _OVER), strict=True):
        for line in offset_lines(winding, 0.0, builder.span):
            yield BlankLine(line, pen)
    yield from rings(builder.span, RELIEF)


def marks(builder: LatticeBuilder) -> Iterator[BlankMark]:
    """Mark where each cord begins and ends: R for right-hand, L for left-hand.

    Parameters
    ----------
    builder : LatticeBuilder
    """
    for row, (winding, hand) in enumerate(zip(builder.windings, "RL", strict=True), start=1):
        for at, outward in zip(builder.span, (-1, 1), strict=True):
            for number, theta in enumerate(cord_marks(winding, at).tolist(), start=1):
                turned = theta if theta <= np.pi else theta - 2 * np.pi
                yield BlankMark(turned, at, f"{hand}{number}", outward * row)
