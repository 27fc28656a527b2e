"""Decals on paper: their edge and their letters."""

from collections.abc import Iterator

import numpy as np

from scenes.kinds.decal.builder import DecalBuilder
from scenes.kinds.flat.lines import on_blank, rectangle
from scenes.kinds.lines import BlankLine, Pen, Trace

__all__ = ["lines"]

_PEN = Pen("decal, its edge and letters", Trace(0.12), Trace(0.1))


def lines(builder: DecalBuilder) -> Iterator[BlankLine]:
    """Draw the edge, and the outline of every letter.

    Parameters
    ----------
    builder : DecalBuilder
    """
    wide, high = builder.size
    yield BlankLine(on_blank(builder.room, rectangle(wide, high)), _PEN)
    sign = -1.0 if builder.layer.turned else 1.0
    for contour in builder.outline.contours if builder.outline else ():
        closed = np.concatenate((contour, contour[:1])) * builder.height
        flat = sign * (closed + np.array((-wide / 2, high / 2)))
        yield BlankLine(on_blank(builder.room, flat), _PEN)
