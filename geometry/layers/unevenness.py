"""Unevenness of hand-wound rows of thread."""

import numpy as np
from numpy.typing import NDArray

from geometry.spline import spline_at

__all__ = ["uneven_rows"]

Array = NDArray[np.float64]

_SCALES = ((1.7, 5, 1.0), (7.0, 3, 2.4))
"""Rows across, harmonics round and share of the height of each kind of unevenness: one thread
riding a little on the next, and several packed tighter together (both from memory)."""


def uneven_rows(z: Array, theta: Array, row: float, height: float, seed: int) -> Array:
    """Heights by which rows stand out or lie back.

    Random values on a coarse lattice along the blank, joined by cubic splines, with a few random
    harmonics round it, so that the field closes at theta = 2 pi. The lattice is spaced in rows from
    the first station, so that a finer grid shows the same unevenness.

    Parameters
    ----------
    z : (nz,) float
        Stations, mm.
    theta : (nt,) float
        Angles, rad.
    row : float
        Distance from row to row, mm.
    height : float
        Root mean square height of the finer kind, mm; 0 for level rows.
    seed : int
        The same seed gives the same rows on every machine.

    Returns
    -------
    (nz, nt) float
        Height over a level row, mm.
    """
    uneven = np.zeros((z.size, theta.size))
    if height == 0:
        return uneven
    random = np.random.Generator(np.random.PCG64(seed))
    for rows, harmonics, share in _SCALES:
        step = rows * row
        knots = int(np.ceil((z[-1] - z[0]) / step)) + 4
        waves = 2 * random.random((knots, 2 * harmonics + 1)) - 1
        # A uniform value from -1 to 1 has the mean square 1/3; each harmonic's is half of that.
        waves *= height * share * np.sqrt(3 / (harmonics + 1))
        order = np.arange(1, harmonics + 1)
        turn = order[:, None] * theta
        around = np.concatenate((np.ones((1, theta.size)), np.cos(turn), np.sin(turn)))
        along = spline_at((z - z[0]) / step, waves, -1.5)
        uneven += along @ around
    return uneven
