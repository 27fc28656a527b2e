"""Bytes made small without loss: maps as pictures, numbers as columns of differences."""

import io
import zlib

import numpy as np
from numpy.typing import NDArray
from PIL import Image

__all__ = ["deflated", "webp"]

_EFFORT = 4
"""Of 6: the last two steps take twenty times as long and save one byte in ten at best."""


def webp(image: NDArray[np.uint8]) -> bytes:
    """A map as a lossless WebP picture.

    Without an alpha channel, under which some browsers alter the other three.

    Parameters
    ----------
    image : (height, width, 3) uint8
    """
    file = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(image)).save(
        file, format="WEBP", lossless=True, quality=75, method=_EFFORT, exact=True
    )
    return file.getvalue()


def deflated(numbers: NDArray[np.integer]) -> bytes:
    """Whole numbers as the differences down each column, column after column (RFC 1950).

    Parameters
    ----------
    numbers : (n, k) of any integer type of 8, 16 or 32 bits
        Differences wrap round in their own type.

    Returns
    -------
    bytes
        Little-endian.
    """
    columns = np.ascontiguousarray(numbers.T)
    steps = np.diff(columns, axis=1, prepend=columns.dtype.type(0))
    return zlib.compress(steps.astype(columns.dtype.newbyteorder("<")).tobytes(), 9)
