"""A picture that a chart is made of: a photograph, or a PNG with clear parts."""

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from render.colour.photograph import decode_photograph
from render.common.problems import RequestProblem
from scenes.artwork.images import read_image
from scenes.problems import DesignProblem

__all__ = ["decode_picture"]

_MOST_SIDE = 8000
"""Longest side of a PNG with clear parts, pixels."""


def decode_picture(data: bytes, path: Path) -> NDArray[np.uint8]:
    """Read a picture from the bytes of its file; only a PNG has clear parts.

    Parameters
    ----------
    data : bytes
    path : Path
        Name of the file: its suffix says whether it is a PNG.

    Returns
    -------
    (height, width, 4) uint8
        sRGB and opacity.

    Raises
    ------
    RequestProblem
        If it is no picture, or too large.
    """
    if path.suffix.casefold() == ".png":
        try:
            return read_image(data, path.name, "picture", _MOST_SIDE)
        except DesignProblem as problem:
            raise RequestProblem(str(problem)) from None
    pixels = decode_photograph(data, path, "picture")
    return np.dstack((pixels, np.full(pixels.shape[:2], 255, np.uint8)))
