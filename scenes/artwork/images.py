"""Pictures that a design names, decoded as untrusted files unless they ship with Turnlight."""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from scenes.artwork.shipped import is_shipped
from scenes.decoding.cache import decoded
from scenes.decoding.errors import DecodingError, Reason
from scenes.decoding.pixel_kinds import pixel_kind
from scenes.decoding.process import Limits
from scenes.problems import UnreadableFile, printable

__all__ = ["MOST_SIDE", "read_image"]

Image8 = NDArray[np.uint8]

MOST_SIDE = 4000
"""Most pixels along a side of a picture: finer than print on 100 mm of film."""

_CHANNELS = 4

_CPU_S, _WALL_S = 15.0, 60.0
"""Limits of time, seconds. Measured: 0.7 s of one core for 64 megapixels; an old core is slower."""

_MEMORY_A_PIXEL = 24
"""Bytes for each pixel; decoding takes 16 at its peak, by measurement."""

_MEMORY = 150_000_000
"""Further bytes, for compressed parts of a file."""


def read_image(data: bytes, name: str, field: str, most_side: int) -> Image8:
    """Read a PNG picture.

    Parameters
    ----------
    data : bytes
        The file.
    name, field : str
        Name of the file, and path of the field that names it, for a refusal.
    most_side : int
        Most pixels along a side.

    Returns
    -------
    (h, w, 4) uint8
        sRGB and alpha, read-only.

    Raises
    ------
    UnreadableFile
        If it is not a PNG picture, is broken or is too large.
    """
    try:
        return _shipped(data, most_side) if is_shipped(data) else _untrusted(data, most_side)
    except DecodingError as error:
        raise UnreadableFile(
            f'{field}: "{printable(name)}" {_clause(error, most_side)}.', field=field
        ) from None


@lru_cache(maxsize=8)
def _shipped(data: bytes, most_side: int) -> Image8:
    """Decode a picture that ships with Turnlight, without a child process."""
    from scenes.decoding import pictures

    width, height, pixels = pictures.png(data, most_side)
    return np.frombuffer(pixels, np.uint8).reshape(height, width, _CHANNELS)


def _untrusted(data: bytes, most_side: int) -> Image8:
    pixels = most_side * most_side
    limits = Limits(_CPU_S, _WALL_S, _MEMORY + _MEMORY_A_PIXEL * pixels, _CHANNELS * pixels)
    header, block = decoded("png", data, {"most_side": most_side}, limits)
    width, height = header.get("width"), header.get("height")
    if not (isinstance(width, int) and isinstance(height, int) and 0 < width <= most_side):
        raise DecodingError(Reason.BROKEN)
    if width * height * _CHANNELS != len(block):
        raise DecodingError(Reason.BROKEN)
    made = np.frombuffer(block, np.uint8).reshape(height, width, _CHANNELS)
    made.setflags(write=False)
    return made


def _clause(error: DecodingError, most_side: int) -> str:
    """Word an error of a picture, as the end of a sentence."""
    width, height = error.number("width"), error.number("height")
    if error.reason is Reason.SIZE and width:
        return f"is {width} by {height} pixels; give {most_side} a side at most"
    if error.reason in (Reason.SIZE, Reason.MEMORY):
        return f"is too large; give {most_side} pixels a side at most"
    if error.reason is Reason.MODE:
        return f"is {pixel_kind(error.text('mode'))}; save it with 8 bits a channel, in RGB"
    if error.reason is Reason.KIND:
        return "is no PNG picture; save it as one"
    if error.reason is Reason.TIME:
        return "takes too long to read; save the picture anew"
    if error.reason is Reason.PROCESS:
        return "cannot be read now, since no process could be started; try again"
    return "is broken or cut short; save the picture anew"
