"""Boundaries between threads of different material, located between two stations of a grid.

A grid has only a few stations for each thread. If each had the colour of the thread it falls on,
stripes would be two stations wide in some places and three in others. From a distance that is a
slow beat, which the real wrap does not have. Thread coordinates give the exact position of a
boundary, so a texel mixes both colours by the areas that it covers of each.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.surface import Surface
from materials.colour import from_bytes, to_bytes

__all__ = ["OVER", "Sides", "sides_of", "soften_edges"]

_ALONGSIDE = 0.05
"""Greatest angle from the hoop direction at which threads count as wound round, rad."""

_LIKELY = 1.5
"""Greatest plausible step of the row number between stations, relative to that from the width."""

OVER = 0.25
"""Height difference, in diameters, from which one thread lies over the next."""

Index = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Sides:
    """Sides of wound threads that run between a station and the next.

    Parameters
    ----------
    below, column : (n,) intp
        Station before the side, and angle.
    share : (n,) float32
        Share of a texel beyond the boundary, -0.5 to 0.5. Positive: share of the upper station's
        texel that shows the lower thread. Negative: the reverse.
    """

    below: Index
    column: Index
    share: NDArray[np.float32]


def sides_of(surface: Surface, thread: float, printed: NDArray[np.bool_]) -> Sides:
    """Find the sides of wound threads where the material changes.

    Parameters
    ----------
    surface : Surface
    thread : float
        Default diameter of the threads, mm.
    printed : (n,) bool
        For each material, whether it is printed: its texels already have mixed colours.
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
    # Past the middle between two stations the boundary lies in the upper one's texel.
    return Sides(below, column, (side - 0.5).astype(np.float32))


def soften_edges(
    colours: Sequence[NDArray[np.uint8]],
    surface: Surface,
    thread: float,
    printed: NDArray[np.bool_],
) -> None:
    """Mix, in place, the colours of texels that contain the side of a wound thread.

    Parameters
    ----------
    colours : sequence of (nz, nt, 3 or 4) uint8
        sRGB of additive light; the fourth channel is a share.
    surface : Surface
    thread : float
        Default diameter of the threads, mm.
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
    """Linear light, and the share from 0 to 1."""
    share = colour[:, 3:].astype(np.float32) / np.float32(255)
    return np.concatenate((from_bytes(colour[:, :3]), share), axis=1)


def _side(surface: Surface, below: Index, column: Index, plain: float) -> NDArray[np.float64]:
    """Position of the boundary between a station and the next, 0 to 1."""
    above = below + 1
    low, high = surface.row[below, column], surface.row[above, column]
    before = surface.row[np.maximum(below - 1, 0), column]
    after = surface.row[np.minimum(above + 1, surface.z.size - 1), column]
    low_step, high_step = _step(low - before, plain), _step(after - high, plain)
    from_low = (1 - (low - np.floor(low))) / low_step
    from_high = 1 - (high - np.floor(high)) / high_step
    # The upper of two overlapping threads defines the boundary.
    rise = surface.radius[above, column] - surface.radius[below, column]
    over = OVER * surface.step / plain
    found = np.where(
        rise > over, from_high, np.where(rise < -over, from_low, (from_low + from_high) / 2)
    )
    return np.asarray(np.clip(found, 0, 1))


def _step(step: NDArray[np.float32], plain: float) -> NDArray[np.float64]:
    """Step of the row number between stations: as read if plausible, else from the width."""
    likely = (step > plain / _LIKELY) & (step < plain * _LIKELY)
    return np.where(likely, step, plain).astype(np.float64)
