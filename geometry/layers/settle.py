"""Rows of thread that slide where what they lie on is too steep along the blank.

A hoop of thread under tension presses on what it lies on, and on a slope it is pushed along the
blank to where it is shorter. Friction alone holds a single thread up to a slope of its coefficient.
Rows wound closely lean on one another besides and hold a steeper one. Beyond that they slide down
and bunch at the foot of the step until they form a ramp on which the next ones stay. What is wound
over a step is therefore the least surface that

- lies nowhere below what is there,
- is convex in every section, since thread is taut round it, and
- rises along the blank nowhere more steeply than rows hold.

Each of the three holds for the lesser of two surfaces if it holds for both, so there is one least
surface. It is h*(z) = max over z' of h(z') - s |z - z'| along every generator, s the steepest slope
(the upper Lipschitz envelope of the ground, [Rockafellar1998] example 9.11, from memory), and then
the hull of each section: the hull of a section that is a length c smaller lies nowhere more than c
below the hull of the first, so that taking hulls makes nothing steeper. What fills the step below
the outermost rows, rows that bunch or air, is not told apart: a cover counts as one layer of
thread.
"""

import numpy as np
from numpy.typing import NDArray

__all__ = ["FRICTION", "STEEPEST_SLOPE", "settled"]

Array = NDArray[np.float64]

FRICTION = 0.25
"""Coefficient of friction of thread on thread, dry: 0.2 to 0.3 (from memory)."""

STEEPEST_SLOPE = 1.0
"""Steepest slope along the blank that closely wound rows hold, rise over run. They lean on one
another, so that it is more than `FRICTION` (an assumption, no source)."""


def settled(ground: Array, step: float, steepest: float, out: Array | None = None) -> Array:
    """Raise a surface as little as makes it nowhere steeper along the blank than a limit.

    Parameters
    ----------
    ground : (m, nt) float
        Distance from the axis, mm.
    step : float
        From station to station, mm.
    steepest : float
        Largest slope along the blank, mm/mm; infinite for no limit.
    out : (m, nt) float, optional
        Where to put the result; may be `ground` itself.

    Returns
    -------
    (m, nt) float
        mm; equal to `ground` wherever that is not too steep.
    """
    radius = np.empty_like(ground) if out is None else out
    if radius is not ground:
        radius[:] = ground
    drop = steepest * step
    if not np.isfinite(drop):
        return radius
    for up, down in ((radius[1:], radius[:-1]), (radius[-2::-1], radius[:0:-1])):
        for here, before in zip(up, down, strict=True):
            np.maximum(here, before - drop, out=here)
    return radius
