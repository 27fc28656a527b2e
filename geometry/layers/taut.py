"""The taut path of a thread that is led over uneven ground on a round blank.

A stretched thread is straight in space wherever it touches nothing. Against its own arc length a
straight line rises from the round of the blank as kappa s²/2, with kappa the normal curvature of
the run; at the angle alpha to the axis of a blank of radius r that is sin²(alpha)/r (Euler). With
r d(theta) = sin(alpha) ds the rise is r theta²/2, whatever the angle. So the taut path is the
lowest curve over the ground that no such chord passes above.
"""

import numpy as np
from numpy.typing import NDArray

__all__ = ["taut"]

Array = NDArray[np.float64]

_ROUNDS, _LONGER = 6, 1.5
"""Sweeps over all chords, and ratio of the length of a chord to the next shorter.

Within 0.003 mm of the path over lone ridges 0.2 mm high, the worst ground that threads are led over
(against the exact upper envelope, tests/geometry/layers/test_taut.py), and within 0.0002 mm over
bundles of thread."""


def taut(ground: Array, turn: float, held: NDArray[np.bool_] | None = None) -> Array:
    """Stretch threads over the ground beneath them.

    Parameters
    ----------
    ground : (..., m) float
        Distance from the axis along each thread at even steps of angle, mm.
    turn : float
        One step, rad.
    held : (..., m) bool, optional
        Where something laid later holds the thread down on its ground.

    Returns
    -------
    (..., m) float
        Distance of the taut thread from the axis, never below the ground, mm. Ends are as given.

    Notes
    -----
    Chords with both ends on the path and their middle below it are raised to it, longest first; any
    chord of points of the ground is under the true path, so it is approached from below.
    """
    path = ground.copy()
    before = None if held is None else np.cumsum(held, axis=-1)
    size = ground.shape[-1]
    drop = float(np.max(ground) - np.min(ground)) if size else 0.0
    if drop <= 0:
        return path
    # A thread leaves a step of this height so far before or after it.
    reach = 2 * np.sqrt(2 * drop / float(np.min(ground))) / turn
    count = int(np.log(max(reach, 1)) / np.log(_LONGER)) + 1
    steps = np.unique((_LONGER ** np.arange(count)).astype(np.intp))
    for _ in range(_ROUNDS):
        for k in steps[::-1].tolist():
            if 2 * k >= size:
                continue
            chord = path[..., : -2 * k] + path[..., 2 * k :]
            chord /= 2
            middle = path[..., k:-k]
            chord -= middle * ((k * turn) ** 2 / 2)
            if before is not None:
                # Nothing spans from before a place where it is held to behind it.
                free = before[..., 2 * k - 1 : -1] == before[..., : -2 * k]
                np.maximum(middle, chord, out=middle, where=free)
            else:
                np.maximum(middle, chord, out=middle)
    return path
