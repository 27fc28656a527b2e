"""A picture as eyes with a colour-vision deficiency see it.

The model of [Machado2009]: a matrix for each kind of deficiency, on linear RGB.
"""

from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from materials.colour import from_bytes, to_bytes
from materials.problems import MaterialProblem

__all__ = ["Deficiency", "simulate", "simulate_linear"]

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]


class Deficiency(StrEnum):
    """Which cones are missing: in one man of a hundred, one of a hundred, and hardly any."""

    PROTAN = "protan"
    """No long-wave cones: reds are dark, and red, yellow and green are hard to tell apart."""
    DEUTAN = "deutan"
    """No middle-wave cones: the same without the darkness."""
    TRITAN = "tritan"
    """No short-wave cones: blue and green, yellow and pink are hard to tell apart. The model
    only approximates this one, as its authors say."""


# Severity 1.0, the authors' tables.
_MATRIX: dict[Deficiency, Array] = {
    Deficiency.PROTAN: np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    Deficiency.DEUTAN: np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    Deficiency.TRITAN: np.array(
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ]
    ),
}


def simulate_linear(linear: ArrayLike, kind: Deficiency) -> Array:
    """Colours as seen with a deficiency.

    Parameters
    ----------
    linear : array_like, shape (..., 3)
        Linear RGB. NaN comes through.
    kind : Deficiency
        Cones that are missing.

    Returns
    -------
    ndarray of float64, shape (..., 3)
        Linear RGB, not clipped; greys stay as they are.
    """
    return np.asarray(np.asarray(linear, dtype=np.float64) @ _MATRIX[kind].T)


def simulate(picture: Pixels, kind: Deficiency) -> Pixels:
    """A picture as seen with a deficiency.

    Parameters
    ----------
    picture : (h, w, 3) uint8
        sRGB.
    kind : Deficiency
        Cones that are missing.

    Returns
    -------
    (h, w, 3) uint8
        sRGB; what a screen cannot show is clipped.

    Raises
    ------
    MaterialProblem
        If the picture is no such array.
    """
    if picture.dtype != np.uint8 or picture.ndim != 3 or picture.shape[-1] != 3:
        raise MaterialProblem(
            f"picture has shape {picture.shape} and type {picture.dtype}, "
            "but should be rows by columns by 3, of uint8."
        )
    return to_bytes(simulate_linear(from_bytes(picture), kind))
