"""The blank's skin laid flat: a cone unrolled to a sector, and lines split where paper ends.

Paper bends one way only, so it lies flat on a cone and on no doubly curved surface. A piece of the
blank is therefore unrolled as the straight cone nearest to it. The blank is cut into pieces of
equal length, as few as keep every piece near its cone.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geometry.blank import Blank
from geometry.errors import GeometryError
from geometry.tolerances import PAPER_FIT_MM

__all__ = ["Cone", "between", "cones_along", "split_at", "split_at_seam"]

Array = NDArray[np.float64]

_PLACES = 201
"""Places along a piece at which the cone is fitted to the blank."""

_MOST_PIECES = 64


@dataclass(frozen=True, slots=True)
class Cone:
    """A piece of the blank as a straight cone.

    Parameters
    ----------
    start, end : float
        Distance from the butt, mm.
    radius : float
        At `start`, mm.
    slope : float
        Growth of the radius along the axis, below 0 where the blank thins.
    misfit : float
        Greatest distance between the blank's radius and the cone's, mm.
    """

    start: float
    end: float
    radius: float
    slope: float
    misfit: float = 0.0

    @classmethod
    def nearest(cls, blank: Blank, start: float, end: float) -> Self:
        """Fit the cone whose greatest distance from the blank is least.

        A straight line in the Chebyshev sense, as a linear programme: the least e for which
        a + b z is within e of r(z) everywhere ([Boyd2004], 6.1.1).

        Parameters
        ----------
        blank : Blank
            Blank that is unrolled.
        start, end : float
            Ends of the piece, mm from the butt.
        """
        # Only templates on paper wait for it to load.
        from scipy.optimize import linprog

        z = np.linspace(start, end, _PLACES)
        x, radius = z - start, blank.radius(z)
        ones = np.ones_like(x)
        above = np.stack((ones, x, -ones), axis=1)
        below = np.stack((-ones, -x, -ones), axis=1)
        fitted = linprog(
            (0, 0, 1),
            A_ub=np.concatenate((above, below)),
            b_ub=np.concatenate((radius, -radius)),
            bounds=((0, None), (None, None), (0, None)),
        ).x
        at, slope = float(fitted[0]), float(fitted[1])
        return cls(start, end, at, slope, float(np.abs(at + slope * x - radius).max()))

    @property
    def sine(self) -> float:
        """Sine of the half angle at the apex, signed as the slope."""
        return self.slope / float(np.hypot(1, self.slope))

    @property
    def slant(self) -> float:
        """Length of its side, mm."""
        return (self.end - self.start) * float(np.hypot(1, self.slope))

    def radius_at(self, z: ArrayLike) -> Array:
        """Radius of the cone, mm.

        Parameters
        ----------
        z : (...) float
            Distance from the butt, mm.

        Returns
        -------
        (...) float
        """
        return self.radius + self.slope * (np.asarray(z, dtype=np.float64) - self.start)

    def flat(self, theta: ArrayLike, z: ArrayLike) -> Array:
        """Where points of the cone come to lie on the flat.

        The cone of half angle beta unrolls to a sector about its apex: a point at the distance rho
        along its side from the apex, turned by theta round the axis, lies at rho, turned by
        theta sin(beta) ([Weisstein]). It is written with the local radius
        r = rho sin(beta), so that it stays exact as the cone becomes a cylinder.

        Parameters
        ----------
        theta : (...) float
            Angle round the blank from the guide line, rad, as far as the paper goes.
        z : (...) float
            Distance from the butt, mm.

        Returns
        -------
        (..., 2) float
            mm, seen from outside: x grows with theta, y along the guide line from `start`.
        """
        theta = np.asarray(theta, dtype=np.float64)
        along = (np.asarray(z, dtype=np.float64) - self.start) * np.hypot(1, self.slope)
        radius = self.radius_at(z)
        half = theta * self.sine / 2
        # sin(u) / u with u = 2 half, and (1 - cos(u)) / u = half (sin(half) / half)².
        x = radius * theta * np.sinc(2 * half / np.pi)
        y = along - radius * theta * half * np.sinc(half / np.pi) ** 2
        return np.stack(np.broadcast_arrays(x, y), axis=-1)


def cones_along(
    blank: Blank, start: float, end: float, misfit: float = PAPER_FIT_MM
) -> tuple[Cone, ...]:
    """Cut a stretch of the blank into the fewest equal pieces that are near enough to cones.

    Parameters
    ----------
    blank : Blank
        Blank that is unrolled.
    start, end : float
        Ends of the stretch, mm from the butt.
    misfit : float
        Greatest distance allowed between the radii of blank and cone, mm.

    Raises
    ------
    GeometryError
        If the blank is so crooked that paper will not lie on it.
    """
    for count in range(1, _MOST_PIECES + 1):
        cuts = np.linspace(start, end, count + 1).tolist()
        cones = []
        for low, high in pairwise(cuts):
            cones.append(Cone.nearest(blank, low, high))
            if cones[-1].misfit > misfit:
                break
        else:
            return tuple(cones)
    raise GeometryError(
        "blank",
        f"between {start:.4g} and {end:.4g} mm it bulges so much that paper does not lie "
        "on it; measure the diameters there again",
    )


def split_at(line: Array, value: ArrayLike, levels: Sequence[float]) -> list[Array]:
    """Split a polyline wherever a value that runs along it crosses one of the levels.

    Parameters
    ----------
    line : (n, k) float
        Corners of the polyline, in any unit.
    value : (n,) float
        Value at each corner, linear between two corners.
    levels : sequence of float
        Levels at which the line is split, in the unit of `value`.

    Returns
    -------
    list of (m, k) float
        In order; each ends on a level, or where the line does.
    """
    line, value = np.asarray(line, dtype=np.float64), np.asarray(value, dtype=np.float64)
    cuts = [np.empty(0)]
    for level in levels:
        left = value - level
        crossed = np.flatnonzero((left[:-1] < 0) != (left[1:] < 0))
        cuts.append(crossed + left[crossed] / (left[crossed] - left[crossed + 1]))
    cut = np.unique(np.concatenate(cuts))
    if not cut.size:
        return [line] if len(line) > 1 else []
    index = np.arange(len(line), dtype=np.float64)
    ends = np.concatenate(([0.0], cut, [index[-1]]))
    parts = []
    for first, last in pairwise(ends.tolist()):
        if last <= first:
            continue
        at = np.concatenate(([first], index[(index > first) & (index < last)], [last]))
        parts.append(np.stack([np.interp(at, index, column) for column in line.T], axis=1))
    return parts


def between(line: Array, value: ArrayLike, low: float, high: float) -> list[Array]:
    """Keep the parts of a polyline on which a value lies between two levels.

    Parameters
    ----------
    line : (n, k) float
        Corners of the polyline, in any unit.
    value : (n,) float
        Value at each corner, linear between two corners.
    low, high : float
        Levels, in the unit of `value`.

    Returns
    -------
    list of (m, k) float
    """
    marked = np.column_stack((line, value))
    parts = split_at(marked, value, (low, high))
    return [part[:, :-1] for part in parts if low <= _middle(part[:, -1]) <= high]


def split_at_seam(line: Array) -> list[Array]:
    """Bring a line on the blank onto one sheet, whose two edges meet opposite the guide line.

    Parameters
    ----------
    line : (n, 2) float
        Angle from the guide line, rad, counted on from turn to turn, and distance z, mm.

    Returns
    -------
    list of (m, 2) float
        The same with every angle between -pi and pi, split where it leaves the sheet.
    """
    turns = (np.asarray(line, dtype=np.float64)[:, 0] + np.pi) / (2 * np.pi)
    levels = np.arange(np.floor(turns.min()), np.ceil(turns.max()) + 1)
    parts = []
    for part in split_at(line, turns, levels.tolist()):
        turn = np.floor((_middle(part[:, 0]) + np.pi) / (2 * np.pi))
        parts.append(part - np.array([2 * np.pi * turn, 0.0]))
    return parts


def _middle(value: Array) -> float:
    """Value inside a part of a line that touches its levels only at its ends."""
    if len(value) > 2:
        return float(value[len(value) // 2])
    return float(value[0] + value[-1]) / 2
