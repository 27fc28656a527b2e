"""Where one thread ends beside another, between two stations of a grid.

A grid has a few stations to a thread. If each took the colour of the thread that it falls on,
stripes would be now two, now three stations wide, and to an eye that no longer sees the stripes
that is a slow beat which no builder wound. Thread coordinates tell exactly where the side of a
thread lies, so a texel takes of both colours as much as it covers of each.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.surface import Surface
from materials.colour import from_bytes, to_bytes

__all__ = ["Sides", "sides_of", "soften_edges"]

_ALONGSIDE = 0.05
"""Angle from the hoop up to which threads count as wound round, rad."""

_LIKELY = 1.5
"""Most that the thread's number grows from station to station, in what its width gives."""

_OVER = 0.25
"""Height of one thread above the next that is more than unevenness, in diameters."""

Index = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Sides:
    """Sides of wound threads that run between a station and the next.

    Parameters
    ----------
    below, column : (n,) intp
        Station before the side, and angle.
    share : (n,) float32
        How much of a texel the side cuts off: where it is positive, of the upper station's texel,
        which then shows so much of the lower one's thread; where it is negative, the other way
        round. -0.5 to 0.5.
    """

    below: Index
    column: Index
    share: NDArray[np.float32]


def sides_of(surface: Surface, thread: float, printed: NDArray[np.bool_]) -> Sides:
    """The sides of wound threads where another material begins.

    Parameters
    ----------
    surface : Surface
    thread : float
        Diameter of the threads where nothing better is known, mm.
    printed : (n,) bool
        Materials that end at an edge of their own, by their index: their texels hold what they
        cover already.
    """
    wound = (np.abs(surface.lay) < _ALONGSIDE) & (surface.row != 0)
    if printed.any():
        wound &= ~printed[surface.material]
    differ = surface.material[1:] != surface.material[:-1]
    differ &= wound[1:] & wound[:-1]
    below, column = np.nonzero(differ)
    if not below.size:
        return Sides(below, column, np.empty(0, np.float32))
    side = _side(surface, below, column, surface.step / thread)
    # Beyond the middle between two stations the side cuts the upper one's texel.
    return Sides(below, column, (side - 0.5).astype(np.float32))


def soften_edges(
    colours: Sequence[NDArray[np.uint8]],
    surface: Surface,
    thread: float,
    printed: NDArray[np.bool_],
) -> None:
    """Mix the colours of texels through which the side of a wound thread runs, in place.

    Parameters
    ----------
    colours : sequence of (nz, nt, 3 or 4) uint8
        sRGB of light that adds up, and a share in the fourth.
    surface : Surface
    thread : float
        Diameter of the threads where nothing better is known, mm.
    printed : (n,) bool
        As in `sides_of`.
    """
    sides = sides_of(surface, thread, printed)
    below, column = sides.below, sides.column
    share = sides.share[:, None]
    if not below.size:
        return
    for colour in colours:
        lower, upper = _light(colour[below, column]), _light(colour[below + 1, column])
        for station, own, other, part in (
            (below, lower, upper, np.maximum(-share, 0)),
            (below + 1, upper, lower, np.maximum(share, 0)),
        ):
            mixed = _light(colour[station, column]) + part * (other - own)
            colour[station, column, :3] = to_bytes(mixed[:, :3])
            colour[station, column, 3:] = np.rint(255 * mixed[:, 3:].clip(0, 1))


def _light(colour: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Linear light, and the share, 0 to 1."""
    share = colour[:, 3:].astype(np.float32) / np.float32(255)
    return np.concatenate((from_bytes(colour[:, :3]), share), axis=1)


def _side(surface: Surface, below: Index, column: Index, plain: float) -> NDArray[np.float64]:
    """Where between a station and the next the side lies, 0 to 1."""
    above = below + 1
    low, high = surface.row[below, column], surface.row[above, column]
    before = surface.row[np.maximum(below - 1, 0), column]
    after = surface.row[np.minimum(above + 1, surface.z.size - 1), column]
    low_step, high_step = _step(low - before, plain), _step(after - high, plain)
    from_low = (1 - (low - np.floor(low))) / low_step
    from_high = 1 - (high - np.floor(high)) / high_step
    # A thread that lies over another ends at its own side, whatever lies beneath.
    rise = surface.radius[above, column] - surface.radius[below, column]
    over = _OVER * surface.step / plain
    found = np.where(
        rise > over, from_high, np.where(rise < -over, from_low, (from_low + from_high) / 2)
    )
    return np.asarray(np.clip(found, 0, 1))


def _step(step: NDArray[np.float32], plain: float) -> NDArray[np.float64]:
    """How far a thread's number grows from station to station, as read or as its width gives."""
    likely = (step > plain / _LIKELY) & (step < plain * _LIKELY)
    return np.where(likely, step, plain).astype(np.float64)
