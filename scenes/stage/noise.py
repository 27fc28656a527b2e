"""Pseudo-random values that are the same on every machine."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["hashed", "hashed_triples", "tiled_noise", "value_noise"]

Array = NDArray[np.float64]

_ASKEW = np.array(((0.36, 0.48, -0.8), (-0.8, 0.6, 0.0), (0.48, 0.64, 0.6)))
"""A rotation of the noise's lattice against the axes, so that the lattice is not visible."""


def value_noise(points: Array, size: ArrayLike, seed: int) -> Array:
    """Value noise [Ebert2003], chapter 2: hashed values on a lattice, interpolated smoothly.

    Parameters
    ----------
    points : (n, 3) float
        Position, mm; noise in space is continuous round a body.
    size : float or (3,) float
        Lattice step, mm.
    seed : int

    Returns
    -------
    (n,) float
        -1 to 1.
    """
    place = points / np.asarray(size, dtype=np.float64) @ _ASKEW
    corner = np.floor(place).astype(np.int64)
    share = place - corner
    share = share * share * (3 - 2 * share)
    total = np.zeros(len(points))
    for step in np.ndindex(2, 2, 2):
        weight = np.where(np.array(step) == 1, share, 1 - share).prod(axis=1)
        x, y, z = (corner + step).T
        total += weight * hashed(x * 73_856_093 ^ y * 19_349_663 ^ z * 83_492_791, seed)
    return 2 * total - 1


def tiled_noise(size: tuple[int, int], cells: tuple[int, int], seed: int) -> Array:
    """Value noise [Ebert2003] over a tile that can be repeated without a seam.

    Parameters
    ----------
    size : (int, int)
        Rows and columns of the tile; values are those at the middles.
    cells : (int, int)
        Lattice steps along the rows' axis and the columns' in the tile.
    seed : int

    Returns
    -------
    size float
        -1 to 1.
    """
    lattice = 2 * hashed(np.arange(cells[0] * cells[1]).reshape(cells), seed) - 1
    for axis, (count, steps) in enumerate(zip(size, cells, strict=True)):
        place = (np.arange(count) + 0.5) / count * steps
        corner = place.astype(np.intp)
        share = place - corner
        share = share * share * (3 - 2 * share)
        if axis == 0:
            share = share[:, None]
        first, second = lattice.take(corner, axis), lattice.take((corner + 1) % steps, axis)
        lattice = first + share * (second - first)
    return np.asarray(lattice)


def hashed_triples(numbers: NDArray[np.intp], seed: int) -> Array:
    """Three hashed values for each whole number.

    Parameters
    ----------
    numbers : (n,) int
    seed : int

    Returns
    -------
    (n, 3) float
        -1 to 1.
    """
    mixed = numbers[:, None] * 3 + np.arange(3)
    return 2 * hashed(mixed, seed + 101) - 1


def hashed(numbers: NDArray[np.int64] | NDArray[np.intp], seed: int) -> Array:
    """Hash whole numbers to pseudo-random values.

    Uses the 32-bit finaliser of MurmurHash3 [Appleby2011].

    Parameters
    ----------
    numbers : (...) int
    seed : int

    Returns
    -------
    (...) float
        0 to 1.
    """
    mask = np.uint64(0xFFFFFFFF)
    h = (numbers + seed * 2_654_435_761).astype(np.uint64) & mask
    for shift, factor in ((16, 0x85EBCA6B), (13, 0xC2B2AE35)):
        h = (h ^ (h >> np.uint64(shift))) * np.uint64(factor) & mask
    return np.asarray((h ^ (h >> np.uint64(16))) / float(1 << 32))
