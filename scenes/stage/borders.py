"""Where round threads end, for places between grid points.

The thread coordinates of one grid point locate both sides of its thread. A point beside a thread
has none of that thread. It is given a pointer to a point of the thread, so that a renderer that
reads the nearest point only finds the side as a straight line, not as a row of grid cells.
"""

import numpy as np
from numpy.typing import NDArray

from geometry.surface import Surface

__all__ = ["NO_POINTER", "ON_TUBE", "POINTER_REACH", "border_codes", "row_steps"]

Bytes = NDArray[np.uint8]

ON_TUBE = 128
"""Added to the code of a point of a round thread."""

NO_POINTER = 0
"""Code without a pointer."""

POINTER_REACH = 2
"""Grid steps, along and round the blank, that a pointer reaches at most.

A renderer blends over one step to either side of the nearest point, and the side of a thread lies
less than a step beyond its outermost point."""

_SIDE = 2 * POINTER_REACH + 1

_MOST_BURIED = 0.25
"""Share of a thread that may be buried at its side and is drawn all the same.

A thread is laid against what it touches within 0.9 of its radius, so what lies beside it covers
a sliver of it at most. Where more is hidden the visible edge is not the thread's side."""


def row_steps(
    rows: Bytes, steps: float
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]]:
    """Position across the row and its change, from a map of rows.

    Parameters
    ----------
    rows : (..., 4) uint8
        `scenes.stage.maps.SurfaceMaps.rows`.
    steps : float
        Steps for one row in which its changes are stored.

    Returns
    -------
    position : (...) float32
        Across the row, 0 to 1.
    along, around : (...) float32
        Change to the next station and to the next angle, rows.
    """
    decoded = rows.astype(np.float32)
    position = (decoded[..., 0] + np.float32(0.5)) / np.float32(256)
    along = (decoded[..., 1] - 128) / np.float32(steps)
    around = (decoded[..., 2] - 128) / np.float32(steps)
    return position, along, around


def border_codes(surface: Surface, rows: Bytes, steps: float) -> Bytes:
    """Code of each grid point: whether it lies on a round thread, and a pointer to one beside it.

    Parameters
    ----------
    surface : Surface
    rows : (nz, nt, 4) uint8
        Its map of rows; the fourth channel is not read.
    steps : float
        As in `row_steps`.

    Returns
    -------
    (nz, nt) uint8
        `ON_TUBE` on a round thread. Beside one, 1 + 2 p + s: the pointer
        p = 5 (dz + 2) + (dt + 2) leads to the grid point dz stations and dt angles further, and s
        is the side of its thread, 1 where its row ends and 0 where it begins. Of several threads
        that whose side is nearest is taken.
    """
    codes = np.where(surface.tube, ON_TUBE, NO_POINTER).astype(np.uint8)
    if not surface.tube.any():
        return codes
    nz, nt = surface.shape
    nearest = np.full(surface.shape, np.inf, np.float32)
    station, column = np.nonzero(_beside(surface.tube))
    for dz in range(-POINTER_REACH, POINTER_REACH + 1):
        for dt in range(-POINTER_REACH, POINTER_REACH + 1):
            there, round_there = station + dz, (column + dt) % nt
            inside = (there >= 0) & (there < nz)
            inside[inside] = surface.tube[there[inside], round_there[inside]]
            at = station[inside], column[inside]
            place, along, around = row_steps(rows[there[inside], round_there[inside]], steps)
            place -= along * np.float32(dz) + around * np.float32(dt)
            side = (along * dz + around * dt < 0).astype(np.uint8)
            beyond = np.where(side == 1, place - 1, -place)
            slope = np.hypot(along, around)
            distance = np.abs(beyond) / np.maximum(slope, np.float32(1 / steps))
            better = (beyond > -_MOST_BURIED) & (slope > 0) & (distance < nearest[at])
            at = at[0][better], at[1][better]
            nearest[at] = distance[better]
            pointer = _SIDE * (dz + POINTER_REACH) + dt + POINTER_REACH
            codes[at] = 1 + 2 * pointer + side[better]
    return codes


def _beside(tube: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Points that lie on no round thread but within reach of one."""
    near = tube.copy()
    for axis in (0, 1):
        spread = near.copy()
        for step in range(1, POINTER_REACH + 1):
            ahead, behind = np.roll(near, step, axis), np.roll(near, -step, axis)
            if axis == 0:
                ahead[:step], behind[-step:] = False, False
            spread |= ahead | behind
        near = spread
    return near & ~tube
