"""Lines of a flat thing, drawn on the blank."""

import itertools

import numpy as np
from numpy.typing import NDArray

from scenes.kinds.flat.room import Room
from scenes.kinds.lines import STEP

__all__ = ["on_blank", "rectangle"]

Array = NDArray[np.float64]


def rectangle(length: float, width: float) -> Array:
    """Trace a rectangle about the origin, (n, 2) mm, in points at most `STEP` apart.

    Parameters
    ----------
    length, width : float
        mm.
    """
    x, y = length / 2, width / 2
    corners = np.array(((-x, -y), (x, -y), (x, y), (-x, y), (-x, -y)))
    sides = []
    for first, last in itertools.pairwise(corners):
        count = max(2, int(np.ceil(np.hypot(*(last - first)) / STEP)))
        sides.append(first + (last - first) * np.linspace(0, 1, count, endpoint=False)[:, None])
    return np.concatenate((*sides, corners[-1:]))


def on_blank(room: Room, flat: Array) -> Array:
    """Convert flat points to angle and distance along the blank, (n, 2) of rad and mm.

    Parameters
    ----------
    room : Room
        Place of the flat thing.
    flat : (n, 2) float
        Points from its middle, mm.
    """
    theta, z = room.flat.on_blank(flat[:, 0], flat[:, 1])
    return np.column_stack((theta, z))
