"""Where round threads end, for places between grid points.

The thread coordinates of one grid point locate both sides of its thread. A point beside a thread
has none of that thread. It is given a pointer to a point of the thread, so that a renderer that
reads the nearest point only finds the side as a straight line, not as a row of grid cells. A point
of a thread that runs on below another one has a pointer too: what is visible ends at the side of
the upper one.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.surface import Surface
from scenes.stage.edges import OVER

__all__ = ["ON_TUBE", "POINTER_REACH", "Shown", "border_codes", "shown_at"]

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float32]
Index = NDArray[np.intp]

ON_TUBE = 128
"""Added to the code of a point of a round thread."""

POINTER_REACH = 2
"""Grid steps, along and round the blank, that a pointer reaches at most.

A renderer blends over one step to either side of the nearest point, and the side of a thread lies
less than a step beyond its outermost point."""

_SIDE = 2 * POINTER_REACH + 1

_MOST_BURIED = 0.25
"""Share of a thread that may be buried at its side and is drawn all the same.

A thread is laid against what it touches within 0.9 of its radius, so what lies beside it covers
a sliver of it at most. Where more is hidden the visible edge is not the thread's side."""


_CLEARLY_BEYOND = 0.75
"""Distance beyond a side, grid steps, where a point of the other thread is looked for."""


@dataclass(frozen=True, slots=True)
class Shown:
    """The grid points whose threads are shown at some places; all (n,).

    Parameters
    ----------
    station, column : (n,) int
        Point of the thread on which the place lies.
    other_station, other_column : (n,) int
        Point beyond the nearest side of that thread; the same point where no side is near.
    off : (n,) float32
        Distance from that side, grid steps; infinite where none is near.
    """

    station: Index
    column: Index
    other_station: Index
    other_column: Index
    off: Floats


def border_codes(
    surface: Surface, crests: Floats, rows: Bytes, steps: float, thread: float
) -> Bytes:
    """Code of each grid point: whether it lies on a round thread, and a pointer to one beside it.

    Parameters
    ----------
    surface : Surface
    crests : (nz, nt) float32
        Its radius with round threads filled up to their crests, mm (`scenes.stage.maps.crests`).
    rows : (nz, nt, 4) uint8
        Its map of rows; the fourth channel is not read.
    steps : float
        Steps for one row in which its changes are stored.
    thread : float
        Default diameter of the threads, mm.

    Returns
    -------
    (nz, nt) uint8
        `ON_TUBE` on a round thread. Beside one, 1 + 2 p + s: the pointer
        p = 5 (dz + 2) + (dt + 2) leads to the grid point dz stations and dt angles further, and s
        is the side of its thread, 1 where its row ends and 0 where it begins. Of several threads
        that whose side is nearest is taken. Both are added up on a round thread beside one that
        lies over it; the pointer leads to the nearest point of that one.
    """
    codes = np.where(surface.tube, ON_TUBE, 0).astype(np.uint8)
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
            place, along, around = _row_steps(rows[there[inside], round_there[inside]], steps)
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
    _point_to_upper(codes, surface.tube, crests, rows, steps, OVER * thread)
    return codes


def shown_at(rows: Bytes, steps: float, station: Floats, column: Index) -> Shown:
    """Find the threads that lie at places between stations, as `render/live` does for each sample.

    Parameters
    ----------
    rows : (nz, nt, 4) uint8
        `scenes.stage.maps.SurfaceMaps.rows`.
    steps : float
        Steps for one row in which its changes are stored.
    station : (n,) float32
        Place along the blank, grid steps from the first station.
    column : (n,) int
        Angle of the grid.
    """
    nz, nt, _ = rows.shape
    here = np.rint(station).astype(np.intp).clip(0, nz - 1), column
    shown = Shown(
        here[0].copy(),
        here[1].copy(),
        here[0].copy(),
        here[1].copy(),
        np.full(station.shape, np.inf, np.float32),
    )
    at = np.flatnonzero(rows[..., 3][here])
    code = rows[..., 3][here][at].astype(np.intp)
    tube, code = code >= ON_TUBE, code % ON_TUBE
    beside = code > 0
    pointer, last = np.divmod(np.maximum(code - 1, 0), 2)
    dz = np.where(beside, pointer // _SIDE - POINTER_REACH, 0)
    dt = np.where(beside, pointer % _SIDE - POINTER_REACH, 0)
    source = (here[0][at] + dz).clip(0, nz - 1), (here[1][at] + dt) % nt
    # Both sides of the thread at each point, and the side to which it points: distance, and change
    # of the place across the thread per step away from the side.
    place, own_z, own_t = _row_steps(rows[here[0][at], here[1][at]], steps)
    place += (station[at] - here[0][at]) * own_z
    inwards = np.where(place > 0.5, -1, 1)
    slope = np.maximum(np.hypot(own_z, own_t), np.float32(1 / steps))
    off = np.minimum(place, 1 - place) / slope
    place, along, around = _row_steps(rows[source], steps)
    place += (station[at] - source[0]) * along - dt * around
    slope_beside = np.maximum(np.hypot(along, around), np.float32(1 / steps))
    off_beside = np.where(last == 1, place - 1, -place) / slope_beside
    outwards = np.where(last == 1, 1, -1)
    ends = beside & (~tube | (off_beside < off))
    off = np.where(ends, off_beside, off)
    slope = np.where(ends, slope_beside, slope)
    away_z = np.where(ends, outwards * along, inwards * own_z) / slope
    away_t = np.where(ends, outwards * around, inwards * own_t) / slope
    far = off + np.minimum(_CLEARLY_BEYOND, np.float32(0.5) / slope)
    across_z = np.rint(station[at] - far * away_z).astype(np.intp).clip(0, nz - 1)
    unwrapped_t = np.rint(column[at] - far * away_t).astype(np.intp)
    across_t = unwrapped_t % nt
    # Between the two may lie a sliver of a third thread, too narrow for a grid point of its own. It
    # is shown as the lower of the two.
    across = rows[across_z, across_t]
    place, along, around = _row_steps(across, steps)
    place += (station[at] - across_z) * along + (column[at] - unwrapped_t) * around
    moved = (off < 0) & ((across[..., 3] != ON_TUBE) | (np.abs(place - 0.5) < 0.5))
    for mine, first, second in (
        (shown.station, here[0][at], across_z),
        (shown.column, here[1][at], across_t),
    ):
        mine[at] = np.where(moved, second, first)
    for other, first, second in (
        (shown.other_station, across_z, here[0][at]),
        (shown.other_column, across_t, here[1][at]),
    ):
        other[at] = np.where(moved, second, first)
    shown.off[at] = np.abs(off)
    return shown


def _point_to_upper(
    codes: Bytes, tube: NDArray[np.bool_], crests: Floats, rows: Bytes, steps: float, rise: float
) -> None:
    """Add pointers, in place, to points of round threads beside threads whose crests are higher."""
    from scipy.ndimage import maximum_filter

    nz, nt = tube.shape
    heights = np.where(tube, crests, np.float32(-np.inf))
    size = (_SIDE, _SIDE)
    highest = maximum_filter(heights, size, mode=("nearest", "wrap"))
    station, column = np.nonzero(tube & (highest > crests + np.float32(rise)))
    reach = range(-POINTER_REACH, POINTER_REACH + 1)
    ways = [(dz, dt) for dz in reach for dt in reach]
    for dz, dt in sorted(ways, key=lambda way: np.hypot(*way)):
        there, round_there = (station + dz).clip(0, nz - 1), (column + dt) % nt
        over = heights[there, round_there] > crests[station, column] + np.float32(rise)
        place, along, around = _row_steps(rows[there[over], round_there[over]], steps)
        place -= along * np.float32(dz) + around * np.float32(dt)
        side = (along * dz + around * dt < 0).astype(np.uint8)
        beside = np.where(side == 1, place - 1, -place) > -_MOST_BURIED
        at = station[over][beside], column[over][beside]
        pointer = _SIDE * (dz + POINTER_REACH) + dt + POINTER_REACH
        codes[at] += 1 + 2 * pointer + side[beside]
        station, column = station[~over], column[~over]


def _row_steps(rows: Bytes, steps: float) -> tuple[Floats, Floats, Floats]:
    """Position across the row, and its change to the next station and to the next angle."""
    decoded = rows.astype(np.float32)
    position = (decoded[..., 0] + np.float32(0.5)) / np.float32(256)
    along = (decoded[..., 1] - 128) / np.float32(steps)
    around = (decoded[..., 2] - 128) / np.float32(steps)
    return position, along, around


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
