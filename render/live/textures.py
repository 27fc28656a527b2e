"""Maps as textures that every OpenGL reads alike: sides of powers of two, and channels of 16 bits.

VTK resamples every other size of texture that has mipmaps by itself, in steps: straight lines
across a map come out broken every few dozen texels.

Mesa's software OpenGL interpolates maps of bytes in whole bytes, rounded down, and reads sRGB by a
polynomial that is up to 1.5 % off: colours came out darker than a browser draws them from the same
maps. It reads 16 bits and floats exactly. So bytes become 16 bits, and colours linear light.
"""

import numpy as np
from numpy.typing import NDArray

from geometry.array_blocks import over_blocks
from materials.colour import from_bytes

__all__ = [
    "at_powers_of_two",
    "in_16_bits",
    "linear_light",
    "near_power_of_two",
    "with_roughness",
]

_MOST_REDUCTION = 1.1
"""A side up to this many times a power of two is reduced to that power; a longer side is enlarged
to the next."""

_WHOLE = (1 << 16) - 1
"""What stands for 1 in a channel of 16 bits."""

_BYTE = 255


def at_powers_of_two(image: NDArray[np.generic]) -> NDArray[np.generic]:
    """Resample a map so that both its sides are powers of two.

    Parameters
    ----------
    image : (nz, nt, c) float32 or uint16
        A map, periodic along the second axis.

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
        rows = _mixed(rows.take(left, axis=1), rows.take(right, axis=1), right_share)
        under = below[part] - first
        mixed = _mixed(rows.take(under, axis=0), rows.take(under + 1, axis=0), above_share[part])
        result[part] = np.rint(mixed, out=mixed) if whole else mixed

    over_blocks(work, slice(0, pz), pt)
    return result


def in_16_bits(image: NDArray[np.uint8]) -> NDArray[np.uint16]:
    """Channels of 0 to 1 in 16 bits.

    Parameters
    ----------
    image : (...) uint8

    Returns
    -------
    (...) uint16
    """
    return image.astype(np.uint16) * np.uint16(_WHOLE // _BYTE)


def linear_light(
    colour: NDArray[np.uint8], visibility: NDArray[np.uint8] | None = None
) -> NDArray[np.uint16]:
    """The light of a colour, times the share of the surroundings that reaches it if that is given.

    Threads of one colour often lie deep beside higher ones of another. A pixel that covers both
    must average the product, not the factors.

    Parameters
    ----------
    colour : (nz, nt, 3 or 4) uint8
        sRGB; the fourth channel is a share, and stays as it is.
    visibility : (nz, nt) uint8, optional
        0 to 1 as 0 to 255.

    Returns
    -------
    (nz, nt, 3 or 4) uint16
        Linear light; 0 to 1 as 0 to 65535.
    """
    lit = in_16_bits(colour)

    def work(part: slice) -> None:
        light = from_bytes(colour[part, :, :3])
        if visibility is not None:
            light = light * (visibility[part, :, None].astype(np.float32) / np.float32(_BYTE))
        lit[part, :, :3] = np.rint(_WHOLE * light)

    over_blocks(work, slice(0, colour.shape[0]), colour.shape[1])
    return lit


def with_roughness(
    threads: NDArray[np.uint16], bodies: NDArray[np.uint16], metallic: NDArray[np.uint8]
) -> tuple[NDArray[np.uint16], NDArray[np.uint16]]:
    """Roughness of metal in the first channel of threads, that of the rest behind bodies.

    Each is times its share, so that a pixel which covers metal beside dull thread has the roughness
    of both.

    Parameters
    ----------
    threads : (nz, nt, 4) uint16
        `SurfaceMaps.thread`; 0 to 1 as 0 to 65535.
    bodies : (nz, nt, 3) uint16
        Linear light.
    metallic : (nz, nt) uint8
        0 to 1 as 0 to 255.

    Returns
    -------
    (nz, nt, 4) uint16, (nz, nt, 4) uint16
    """
    parted = np.concatenate((bodies, threads[..., :1]), axis=-1)
    weighted = threads.copy()

    def work(part: slice) -> None:
        share = metallic[part].astype(np.float32) / np.float32(_BYTE)
        weighted[part, :, 0] = np.rint(threads[part, :, 0] * share)
        parted[part, :, 3] = np.rint(threads[part, :, 0] * (1 - share))

    over_blocks(work, slice(0, threads.shape[0]), threads.shape[1])
    return weighted, parted


def near_power_of_two(count: int) -> int:
    """The power of two to which a side of `count` texels is resampled.

    Parameters
    ----------
    count : int
    """
    below = 1 << (count.bit_length() - 1)
    return below if count <= _MOST_REDUCTION * below else 2 * below


def _mixed(
    first: NDArray[np.float32], second: NDArray[np.float32], share: NDArray[np.float32]
) -> NDArray[np.float32]:
    """Mean of two arrays with a share of the second; both are overwritten."""
    first *= 1 - share
    second *= share
    first += second
    return first


def _positions(old: int, new: int) -> NDArray[np.float64]:
    """Positions of `new` texel centres, in texels of a side of `old`."""
    return np.asarray((np.arange(new) + 0.5) * (old / new) - 0.5, dtype=np.float64)
