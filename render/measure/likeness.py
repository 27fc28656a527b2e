"""Visible difference of two pictures, as seen when flipping between them."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageSequence

from render.request.subject import Pixels

__all__ = ["gif_difference", "mean_flip"]

Levels = Pixels | NDArray[np.float32]


def mean_flip(reference: Levels, picture: Levels) -> float:
    """Mean FLIP of two pictures: 0 if they look the same, 1 at most.

    FLIP [Andersson2020], computed by its authors' code, which the dev extra installs, at their
    default of 67 pixels per degree.

    Parameters
    ----------
    reference, picture : (height, width, 3) uint8 or float32
        sRGB, 0 to 255.
    """
    import flip_evaluator

    images = (np.asarray(image, np.float32) / 255 for image in (reference, picture))
    _, mean, _ = flip_evaluator.evaluate(*images, "LDR", applyMagma=False)
    return float(mean)


def gif_difference(path: Path, stills: Sequence[Pixels]) -> float:
    """Mean FLIP of the frames of a GIF against the stills that it was made of.

    Parameters
    ----------
    path : Path
    stills : sequence of (height, width, 3) uint8
        sRGB, one for each frame.
    """
    with Image.open(path) as film:
        shown = [np.asarray(frame.convert("RGB")) for frame in ImageSequence.Iterator(film)]
    pairs = zip(stills, shown, strict=True)
    return float(np.mean([mean_flip(still, frame) for still, frame in pairs]))
