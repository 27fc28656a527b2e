"""The short stretch of a wrap on which it is measured how a trim slides.

A trim slides as a whole by the mean slope under it (`geometry.layers.slide`). Along a strip one
turn shows that mean as well as all turns do: one turn follows the strip's edge past all sides of
the blank and past many cells. So the place of rest is known before the wrap is laid, and is the
same for its numbers, on paper and in every picture.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from geometry.blank import Blank
from geometry.grid import Detail, Grid
from geometry.kept import KEPT
from geometry.layers.slide import FARTHEST_SLIDE
from geometry.layers.trim import Ring, StripEdge
from geometry.surface import Surface
from geometry.winding import pitch
from scenes.kinds.builder import LayerBuilder, ReliefBuilder, WoundBuilder

__all__ = ["Stretch", "stretch_beside"]

_MARGIN = 4.0
"""How far the ground goes on beyond what is measured, mm: rows that slide down from a relief fill
about as much as it is high."""


_PLACES = 20
"""Number of places at which the stretch is looked over for its largest radius."""


@dataclass(frozen=True, slots=True, eq=False)
class Stretch:
    """A stretch of a wrap beside one edge of its relief.

    Parameters
    ----------
    ground : Surface
        The reliefs and covers that lie there, their rows level.
    cut : (float, float)
        Where threads begin and end on it, mm from the butt.
    """

    ground: Surface
    cut: tuple[float, float]


def stretch_beside(
    line: StripEdge | Ring,
    cut: tuple[float, float],
    offset: float,
    blank: Blank,
    before: Sequence[LayerBuilder[Any]],
) -> Stretch:
    """Lay a stretch of the reliefs and covers beside which a trim lies.

    Parameters
    ----------
    line : StripEdge or Ring
        Edge of a relief.
    cut : (float, float)
        Where the threads along it are cut, mm from the butt.
    offset : float
        From the edge to the side of the first thread, mm.
    blank : Blank
    before : sequence of LayerBuilder
        All layers before the trim.
    """
    if isinstance(line, Ring):
        laid = line.at + line.edge.outward * offset
        start, end = min(line.at, laid), max(line.at, laid)
        if line.edge.outward > 0:
            end += FARTHEST_SLIDE
        else:
            start -= FARTHEST_SLIDE
        inner = cut
    else:
        middle = sum(cut) / 2
        half_turn = float(pitch(blank.radius(middle), line.winding.angle_at(middle))) / 2
        start, end = max(middle - half_turn, cut[0]), min(middle + half_turn, cut[1])
        inner = start, end
    start, end = start - _MARGIN, end + _MARGIN
    cells = [cell for builder in before if (cell := builder.cell()) is not None]
    grid = Grid.choose(
        start,
        end,
        float(np.max(blank.radius(np.linspace(start, end, _PLACES)))),
        thread=min(thread.diameter_mm for builder in before for thread in builder.threads()),
        cell=min(cells, default=None),
        detail=Detail.DRAFT,
    )
    ground = KEPT.bare(blank, grid, 0)
    for builder in before:
        if isinstance(builder, ReliefBuilder):
            ground = KEPT.laid(builder.relief(), ground)
        elif isinstance(builder, WoundBuilder):
            # How its rows run and stand out is nothing to a thread that lies across many.
            level = replace(builder.cover(), unevenness=0.0, packed=False)
            ground = KEPT.laid(level, ground)
    return Stretch(ground, inner)
