"""Decals on paper: their edge, and their letters as they are to be read."""

from collections.abc import Iterator

import numpy as np

from scenes.kinds.decal.laying import DecalBuilder
from scenes.kinds.flat.lines import on_blank, rectangle
from scenes.kinds.lines import BlankLine, Pen, Trace

__all__ = ["lines"]

_PEN = Pen("decal, its edge and letters", Trace(0.12), Trace(0.1))


def lines(laying: DecalBuilder) -> Iterator[BlankLine]:
    """Draw the edge, and the outline of every letter."""
    wide, high = laying.size
    yield BlankLine(on_blank(laying.room, rectangle(wide, high)), _PEN)
    sign = -1.0 if laying.layer.turned else 1.0
    for contour in laying.outline.contours if laying.outline else ():
        closed = np.concatenate((contour, contour[:1])) * laying.height
        flat = sign * (closed + np.array((-wide / 2, high / 2)))
        yield BlankLine(on_blank(laying.room, flat), _PEN)
