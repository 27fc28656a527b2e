"""Pictures that a design brings along, read with care: they may be a stranger's."""

import io
import warnings
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

from scenes.problems import DesignProblem, printable

__all__ = ["read_image"]

Image8 = NDArray[np.uint8]

_MODES = ("1", "L", "LA", "P", "RGB", "RGBA")


def read_image(data: bytes, name: str, field: str, most_side: int) -> Image8:
    """Read a PNG picture.

    Parameters
    ----------
    data : bytes
        The file.
    name, field : str
        What the file is called, and the path of the field that names it, for a refusal.
    most_side : int
        Most pixels along a side.

    Returns
    -------
    (h, w, 4) uint8
        sRGB and alpha, read-only.

    Raises
    ------
    DesignProblem
        If it is no PNG, is broken or larger than that.
    """
    told = f'{field}: "{printable(name)}"'
    try:
        with warnings.catch_warnings():
            # What Pillow warns of, such as a picture far larger than its file, is refused.
            warnings.simplefilter("error")
            return _decoded(data, most_side)
    except _RefusedError as error:
        raise DesignProblem(f"{told} {error}.", field=field) from None
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise DesignProblem(
            f"{told} is too large; give {most_side} pixels a side at most.", field=field
        ) from None
    except UnidentifiedImageError:
        raise DesignProblem(f"{told} is no PNG picture; save it as one.", field=field) from None
    except (OSError, ValueError, SyntaxError, EOFError, OverflowError, MemoryError, Warning):
        raise DesignProblem(
            f"{told} is broken or cut short; save the picture anew.", field=field
        ) from None


class _RefusedError(Exception):
    pass


@lru_cache(maxsize=8)
def _decoded(data: bytes, most_side: int) -> Image8:
    with Image.open(io.BytesIO(data), formats=("PNG",)) as opened:
        wide, high = opened.size
        if max(wide, high) > most_side:
            raise _RefusedError(f"is {wide} by {high} pixels; give {most_side} a side at most")
        if opened.mode not in _MODES:
            raise _RefusedError(
                f"has pixels of the kind {opened.mode}; save it with 8 bits a channel, in RGB"
            )
        pixels = np.asarray(opened.convert("RGBA"))
    pixels.setflags(write=False)
    return pixels
