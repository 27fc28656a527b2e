"""Maps resampled to powers of two, the sizes that VTK uses as they are.

VTK resamples every other texture that has mipmaps by itself, in steps: straight lines across a map
come out broken every few dozen texels.
"""

import numpy as np
from numpy.typing import NDArray

from geometry.array_blocks import over_blocks
from materials.colour import from_bytes, to_bytes

__all__ = ["at_powers_of_two", "near_power_of_two"]

_MOST_REDUCTION = 1.1
"""A side up to this many times a power of two is reduced to that power; a longer side is enlarged
to the next."""


def at_powers_of_two(image: NDArray[np.generic], *, colour: bool = False) -> NDArray[np.generic]:
    """Resample a map so that both its sides are powers of two.

    Parameters
    ----------
    image : (nz, nt, c) float32 or uint8
        A map, periodic along the second axis.
    colour : bool
        The first three channels are sRGB, and their linear light is interpolated.

    Returns
    -------
    (pz, pt, c) of the same dtype
        Linearly interpolated between texel centres; `image` itself if its sides are powers of two.
    """
    nz, nt, channels = image.shape
    pz, pt = near_power_of_two(nz), near_power_of_two(nt)
    if (pz, pt) == (nz, nt):
        return image
    x, y = _positions(nt, pt), np.clip(_positions(nz, pz), 0, nz - 1)
    left = np.floor(x).astype(np.intp)
    below = np.minimum(np.floor(y).astype(np.intp), nz - 2)
    right_share = (x - left).astype(np.float32)[:, None]
    above_share = (y - below).astype(np.float32)[:, None, None]
    left, right = left % nt, (left + 1) % nt
    result = np.empty((pz, pt, channels), image.dtype)
    whole = image.dtype.kind == "u"

    def work(part: slice) -> None:
        first, last = below[part.start], below[part.stop - 1] + 2
        rows = image[first:last].astype(np.float32)
        if colour:
            rows[..., :3] = from_bytes(image[first:last, :, :3].astype(np.uint8, copy=False))
        rows = rows[:, left] * (1 - right_share) + rows[:, right] * right_share
        under = below[part] - first
        mixed = rows[under] * (1 - above_share[part]) + rows[under + 1] * above_share[part]
        if colour:
            result[part, :, :3] = to_bytes(mixed[..., :3])
        rest = mixed[..., 3 if colour else 0 :]
        result[part, :, 3 if colour else 0 :] = np.rint(rest, out=rest) if whole else rest

    over_blocks(work, slice(0, pz), pt)
    return result


def near_power_of_two(count: int) -> int:
    """The power of two to which a side of `count` texels is resampled.

    Parameters
    ----------
    count : int
    """
    below = 1 << (count.bit_length() - 1)
    return below if count <= _MOST_REDUCTION * below else 2 * below


def _positions(old: int, new: int) -> NDArray[np.float64]:
    """Positions of `new` texel centres, in texels of a side of `old`."""
    return np.asarray((np.arange(new) + 0.5) * (old / new) - 0.5, dtype=np.float64)
