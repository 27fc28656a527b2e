"""New cord lattices."""

import math
from collections.abc import Iterator

from scenes.kinds.defaults import NewLayer, Surroundings, under_cover
from scenes.kinds.taper import radii

__all__ = ["defaults"]

_CORD, _FINE_CORD = 0.9, 0.3
"""mm."""

_ANGLE = 36.0
"""Degrees."""

_DIAMOND = 7.0
"""Width of a diamond, mm: about as the sample's."""


def defaults(surroundings: Surroundings) -> Iterator[NewLayer]:
    """Yield lattices whose number of cords makes diamonds of a common width on this blank.

    Parameters
    ----------
    surroundings : Surroundings
        The design that the layer is added to.
    """
    circumference = 2 * math.pi * float(radii(surroundings.design).min())
    most = int(circumference * math.cos(math.radians(_ANGLE)) / _CORD)
    count = max(1, min(most, max(3, round(circumference / _DIAMOND))))
    entries = [
        {"cord_diameter": cord, "count": count, "angle": _ANGLE} for cord in (_CORD, _FINE_CORD)
    ]
    yield from under_cover(surroundings, entries)
