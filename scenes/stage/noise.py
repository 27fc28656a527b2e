"""Values that look random and are the same on every machine."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["hashed", "hashed_triples", "value_noise"]

Array = NDArray[np.float64]

_ASKEW = np.array(((0.36, 0.48, -0.8), (-0.8, 0.6, 0.0), (0.48, 0.64, 0.6)))
"""A rotation that lays the lattice of the noise across the axis, so that it is not seen."""


def value_noise(points: Array, size: ArrayLike, seed: int) -> Array:
    """Value noise: hashed values on a lattice, joined smoothly.

    Ebert et al. 2003, *Texturing and Modeling*, 3rd ed., chapter 2.

    Parameters
    ----------
    points : (n, 3) float
        mm. Noise in space, so that it closes round a body.
    size : float or (3,) float
        Lattice step, mm.

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


def hashed_triples(numbers: NDArray[np.intp], seed: int) -> Array:
    """Three values from -1 to 1 for each whole number, (n, 3)."""
    mixed = numbers[:, None] * 3 + np.arange(3)
    return 2 * hashed(mixed, seed + 101) - 1


def hashed(numbers: NDArray[np.int64] | NDArray[np.intp], seed: int) -> Array:
    """Values from 0 to 1 that look random, the same on every machine.

    The finaliser of MurmurHash3 (Appleby 2011, public domain), 32 bits.
    """
    mask = np.uint64(0xFFFFFFFF)
    h = (numbers + seed * 2_654_435_761).astype(np.uint64) & mask
    for shift, factor in ((16, 0x85EBCA6B), (13, 0xC2B2AE35)):
        h = (h ^ (h >> np.uint64(shift))) * np.uint64(factor) & mask
    return np.asarray((h ^ (h >> np.uint64(16))) / float(1 << 32))
