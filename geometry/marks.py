"""Where a strip's edges cross a line along the blank, and what steering it costs."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.blank import Blank
from geometry.winding import Winding

__all__ = ["StripMarks", "cord_marks", "geodesic_curvature", "strip_marks"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class StripMarks:
    """Where strips cross one line along the blank, from the butt up.

    Parameters
    ----------
    strip : (k,) int
        Which of the strips, counted from 0.
    turn : (k,) int
        Which of its turns, counted from 0 at its first crossing.
    lower, upper : (k,) float
        Where its edges cross, mm from the butt.
    gap : (k,) float
        From its upper edge to the lower edge of the next strip above, mm; below 0 where they
        overlap.
    """

    strip: NDArray[np.int_]
    turn: NDArray[np.int_]
    lower: Array
    upper: Array
    gap: Array


def strip_marks(
    winding: Winding, width: float, start: float, end: float, theta: float = 0.0
) -> StripMarks:
    """Find every crossing of which some part lies between `start` and `end`.

    The edges lie w / (2 sin alpha) above and below the centre line, as in `StripFrame`.

    Parameters
    ----------
    winding : Winding
        Centre lines of the strips.
    width : float
        Width of a strip across its run, mm.
    start, end : float
        Where the relief begins and ends, mm from the butt.
    theta : float
        The line's angle round the blank, rad; 0 is the guide line.
    """
    centre = winding.crossings(np.array([theta]), reach=1)[0]
    number = winding.first_number(reach=1) + np.arange(centre.size)
    half = width / (2 * np.sin(winding.angle_at(centre)))
    lower, upper = centre - half, centre + half
    gap = np.append(lower[1:] - upper[:-1], np.nan)
    here = (upper > start) & (lower < end)
    here[-1] = False
    strip = number % winding.starts
    # A strip is counted from its own first crossing inside the wrap.
    turn = number // winding.starts
    first = {int(k): int(turn[here & (strip == k)].min()) for k in np.unique(strip[here])}
    counted = np.array([turn[i] - first[int(strip[i])] for i in np.flatnonzero(here)], dtype=int)
    return StripMarks(strip[here], counted, lower[here], upper[here], gap[here])


def cord_marks(winding: Winding, at: float) -> Array:
    """Find where each start of a winding crosses a circle round the blank.

    Parameters
    ----------
    winding : Winding
        Centre lines of the cords.
    at : float
        Distance of the circle from the butt, mm.

    Returns
    -------
    (n,) float
        Angles from the guide line in the direction in which theta grows, rad, in [0, 2 pi), in the
        order of the starts.
    """
    step = 2 * np.pi / winding.starts
    phase = float(winding.phase_at(np.array([at]))[0]) + step * np.arange(winding.starts)
    turned = np.mod(winding.hand.sign * phase, 2 * np.pi)
    # An angle within rounding of a whole turn is the guide line itself.
    return np.where(turned > 2 * np.pi - 1e-9, 0.0, turned)


def geodesic_curvature(winding: Winding, blank: Blank) -> Array:
    """How strongly a run is steered sideways, 1/mm, at each entry of the winding's table.

    Liouville's formula on a surface of revolution ([DoCarmo], section 4-4):
    kappa_g = d(alpha)/ds + (dr/dm / r) sin(alpha), with s along the run and m along the meridian. A
    strip of width w that is laid along it is stretched at one edge and pressed at the other by
    kappa_g w / 2.

    Parameters
    ----------
    winding : Winding
        Centre line of the run.
    blank : Blank
        Blank that it is wound on.

    Returns
    -------
    (m,) float
    """
    slope = blank.slope(winding.z)
    slant = np.sqrt(1 + slope**2)
    bend = np.gradient(winding.angle, winding.z) * np.cos(winding.angle) / slant
    return np.asarray(
        bend + slope / slant / blank.radius(winding.z) * np.sin(winding.angle), dtype=np.float64
    )
