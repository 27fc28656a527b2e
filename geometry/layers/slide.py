"""Where threads along an edge come to rest beside it.

From the edge of a relief the cover falls as a ramp onto the flat. A thread led along the edge is
under tension, and a step dx further down the ramp shortens it. Let R(x) be the mean distance of its
middle from the axis when it lies at x across its run. On a helix of n turns at the angle alpha to
the axis, the length changes by 2 pi n sin(alpha) dR, and that is also by how much the thread turns
as it is led round, so that under the tension T

- the ramp pulls it down by 2 pi n sin(alpha) T |dR/dx|, and
- it presses on what it lies on by 2 pi n sin(alpha) T, of which friction holds the share mu.

The thread stays where R falls by no more than mu, whatever its tension, turns and angle; a ring is
the case of 90 degrees. Elsewhere it slides outwards to the nearest place where it stays: where the
ramp is flat enough, or at the foot of a step, against which it comes to lie. It slides as a whole,
since tension keeps it straight, and the threads outside it, which lie where it is flatter, beside
it.
"""

import math
from dataclasses import dataclass

from geometry.layers.trim import SeamTrim
from geometry.surface import Surface

__all__ = ["FARTHEST_SLIDE", "Slide", "slide_of"]

_STEP = 0.1
"""From place to place across the run at which the fall is measured, mm: well below a thread."""

FARTHEST_SLIDE = 8.0
"""How far a trim is followed, mm: the ramps of a strip or a lattice are 1 to 3 mm wide."""


@dataclass(frozen=True, slots=True)
class Slide:
    """How a trim slides after it is laid.

    Parameters
    ----------
    distance : float
        How far out it comes to rest from where it is laid, mm; 0 if it stays.
    fall : float
        Slope across its run where it is laid, on the ground without other trims, mm/mm; positive
        if it falls outwards.
    held : bool
        Whether there is a place that holds it; otherwise `distance` is as far as was looked.
    """

    distance: float
    fall: float
    held: bool = True


def slide_of(trim: SeamTrim, ground: Surface, friction: float) -> Slide:
    """Find where a trim comes to rest.

    Parameters
    ----------
    trim : SeamTrim
        As it is laid, with one thread at least.
    ground : Surface
        What it is laid on, without other trims: a thread laid beside another one touches its side
        and is held by nothing that it would slide off.
    friction : float
        Coefficient of friction between the threads and what they lie on.

    Returns
    -------
    Slide
    """
    falls: list[float] = []
    inner = trim.height(ground, 0.0)
    for place in range(1, round(FARTHEST_SLIDE / _STEP) + 1):
        outer = trim.height(ground, place * _STEP)
        fall = (inner - outer) / _STEP
        if not fall > friction:
            break
        falls.append(fall)
        inner = outer
    else:
        return Slide(FARTHEST_SLIDE, falls[0], held=False)
    # Beyond the ends of the thread there is no height to measure.
    ended = math.isnan(fall)
    if not falls:
        return Slide(0.0, 0.0 if ended else fall)
    share = 0.0 if ended else (falls[-1] - friction) / (falls[-1] - fall)
    # A fall belongs to the middle of the step over which it is measured.
    return Slide((len(falls) - 0.5 + share) * _STEP, falls[0], held=not ended)
