"""Lines and named points on the blank, by which a layer is drawn on paper.

Both are in angle and distance along the blank; `geometry.unroll` lays them flat. Pens differ by
width and dashes, never by colour. A kind of layer uses a pen of this file or its own.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.unroll import between
from geometry.winding import Winding

__all__ = [
    "COVER",
    "OTHER",
    "RELIEF",
    "STEP",
    "TRIM",
    "BlankLine",
    "BlankMark",
    "Pen",
    "Trace",
    "centre_theta",
    "offset_lines",
    "ring",
    "rings",
]

Array = NDArray[np.float64]

STEP = 0.5
"""Spacing of a line's points along the blank, mm. A run bends by less than its pitch angle's
change over a step, so that the chords stay within thousandths of a millimetre of it."""

_ROUND = 73
"""Points of a ring."""

_TURNED = np.deg2rad(5.0)
"""Greatest turn between two points of a line, rad."""


@dataclass(frozen=True, slots=True)
class Trace:
    """Stroke of a pen on paper.

    Parameters
    ----------
    width : float
        mm.
    grey : float
        0 black to 1 white.
    dash : tuple of float
        Lengths of dash and space, mm; empty for a whole line.
    """

    width: float
    grey: float = 0.0
    dash: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Pen:
    """Meaning and stroke of a line.

    Parameters
    ----------
    shows : str
        Text for the legend.
    full : Trace
        Stroke on the true-size template.
    small : Trace
        Stroke on the drawings of the bench sheet.
    dense : bool
        Whether the lines are too close together for the side view.
    """

    shows: str
    full: Trace
    small: Trace
    dense: bool = False


RELIEF = Pen("where the relief is cut", Trace(0.18, dash=(0.5, 0.7)), Trace(0.15, dash=(0.5, 0.6)))
COVER = Pen(
    "first and last row of the cover", Trace(0.3, dash=(1.4, 1.0)), Trace(0.2, dash=(1.0, 0.8))
)
TRIM = Pen("trim, both its sides", Trace(0.18), Trace(0.15))
OTHER = Pen("other threads, their outer sides", Trace(0.25, dash=(2.2, 0.7, 0.5, 0.7)), Trace(0.18))


@dataclass(frozen=True, slots=True, eq=False)
class BlankLine:
    """A line on the blank.

    Parameters
    ----------
    points : (n, 2) float
        Angle from the guide line, rad, counted on from turn to turn, and distance z, mm.
    pen : Pen
    """

    points: Array
    pen: Pen


@dataclass(frozen=True, slots=True)
class BlankMark:
    """A named point on the blank.

    Parameters
    ----------
    theta : float
        Angle from the guide line, rad, between -pi and pi.
    at : float
        mm from the butt.
    name : str
        Short.
    row : int
        Place of the name: 0 beside the point, else this many lines of text towards the tip, or
        towards the butt if negative.
    shows : str
        Text for the legend; empty for the marks of the bench sheet.
    """

    theta: float
    at: float
    name: str
    row: int = 0
    shows: str = ""


def ring(at: float) -> Array:
    """Trace a ring round the blank, (n, 2) of angle in rad and z in mm.

    Parameters
    ----------
    at : float
        mm from the butt.
    """
    theta = np.linspace(-np.pi, np.pi, _ROUND)
    return np.column_stack((theta, np.full(_ROUND, at)))


def rings(places: tuple[float, float], pen: Pen) -> Iterator[BlankLine]:
    """Draw rings round the blank at both ends of a stretch.

    Parameters
    ----------
    places : (float, float)
        mm from the butt.
    pen : Pen
    """
    for at in places:
        yield BlankLine(ring(at), pen)


def offset_lines(winding: Winding, across: float, span: tuple[float, float]) -> Iterator[Array]:
    """Yield lines at one distance from the centre line of a run, for every start, cut square.

    As in `geometry.layers.trim.StripEdge`: at the same angle round, the edge stands across /
    sin(alpha) further up than the centre line.

    Parameters
    ----------
    winding : Winding
    across : float
        mm.
    span : (float, float)
        Where the lines begin and end, mm from the butt.

    Yields
    ------
    (n, 2) float
        Angle and z.
    """
    reach = abs(across) / float(np.sin(winding.angle.min())) + STEP
    low, high = span[0] - reach, span[1] + reach
    first, last = winding.phase_at(np.array([low, high])).tolist()
    centre = np.union1d(
        np.append(np.arange(low, high, STEP), high),
        winding.z_at(np.arange(first, last, _TURNED)),
    )
    z = centre + across / np.sin(winding.angle_at(centre))
    for start in range(winding.starts):
        theta = centre_theta(winding, centre, start)
        yield from between(np.column_stack((theta, z)), z, *span)


def centre_theta(winding: Winding, centre: Array, start: int) -> Array:
    """Angle from the guide line at which the centre line of one start passes, (n,) rad.

    Parameters
    ----------
    winding : Winding
    centre : (n,) float
        Distances from the butt on the centre line, mm.
    start : int
        Number of the start, from 0.
    """
    phase = winding.phase_at(centre) - 2 * np.pi * start / winding.starts
    return winding.hand.sign * phase
