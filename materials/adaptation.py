"""Colours seen under one white, given as they would look under another.

Von Kries's rule: each of three cone responses is scaled by the ratio of its values for the two
whites. The responses are the sharpened ones called Bradford [Lam1985], as in ICC profiles ([ICC1],
annex E).
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from materials.problems import MaterialProblem

__all__ = ["BRADFORD", "adaptation"]

Array = NDArray[np.float64]

BRADFORD: Array = np.array(
    [
        [0.8951, 0.2664, -0.1614],
        [-0.7502, 1.7135, 0.0367],
        [0.0389, -0.0685, 1.0296],
    ]
)
"""Sharpened cone responses of XYZ."""


def adaptation(white: ArrayLike, to: ArrayLike, degree: float = 1.0) -> Array:
    """Matrix that takes XYZ under one white to XYZ under another.

    Parameters
    ----------
    white, to : array_like, shape (3,)
        XYZ of the two whites. Their luminances count: give both at Y = 1 to adapt colour alone.
    degree : float
        How far: 0 not at all, 1 wholly. Between, each cone's gain is raised to this power.

    Returns
    -------
    ndarray of float64, shape (3, 3)
        Times a column of XYZ.

    Raises
    ------
    MaterialProblem
        If a white has a cone response that is not above 0.
    """
    cones = [BRADFORD @ np.asarray(xyz, dtype=np.float64) for xyz in (white, to)]
    for xyz, response in zip((white, to), cones, strict=True):
        # Written so that NaN is refused too.
        if not (response > 0).all():
            raise MaterialProblem(
                f"white is {np.array2string(np.asarray(xyz), precision=4)}, which is none; it "
                "should be XYZ of a light."
            )
    gain = (cones[1] / cones[0]) ** degree
    return np.asarray(np.linalg.inv(BRADFORD) @ (gain[:, None] * BRADFORD))
