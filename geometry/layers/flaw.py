"""Winding flaws: rows that part, and a row that crosses its neighbours.

They are shown on purpose, so that builder and customer know what to look for before the finish
goes on.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.layers.trim import Run
from geometry.surface import Surface

__all__ = ["CrossedRow", "PartedRows"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class PartedRows:
    """A lens-shaped gap between two rows, through which shows what lies beneath.

    Parameters
    ----------
    beneath : Surface
        Blank and relief without the cover, on the same grid.
    at, theta : float
        Middle of the gap: distance from the butt, mm, and angle from the guide line, rad.
    width, length : float
        Along the blank and round it, mm.
    """

    beneath: Surface
    at: float
    theta: float
    width: float
    length: float

    def apply(self, surface: Surface) -> Surface:
        """Open the gap in a cover.

        Parameters
        ----------
        surface : Surface
            What the layer is laid on.

        Returns
        -------
        Surface
            With the gap in it.
        """
        away = _from_angle(surface.theta, self.theta)
        radius_here = float(np.interp(self.at, surface.z, surface.radius.mean(axis=1)))
        x = np.clip(np.abs(away) * radius_here / (self.length / 2), 0, 1)
        half = self.width / 2 * (1 - x * x)
        stations = surface.between(self.at - self.width / 2, self.at + self.width / 2)
        open_ = np.abs(surface.z[stations, None] - self.at) < half
        arrays = {}
        for name in ("radius", "material", "lay", "row", "along", "tube"):
            array = getattr(surface, name).copy()
            array[stations][open_] = getattr(self.beneath, name)[stations][open_]
            arrays[name] = array
        return surface.with_arrays(**arrays)


@dataclass(frozen=True, slots=True)
class CrossedRow:
    """The line of a thread that leaves its row and rides over its neighbours to another.

    A line for `geometry.layers.trim.SeamTrim`, which lets the thread come to rest on what lies
    beneath.

    Parameters
    ----------
    at, theta : float
        Where it crosses: distance from the butt, mm, and angle from the guide line, rad.
    over : float
        How far along the blank it goes, mm.
    length : float
        How far round the blank it goes, mm.
    """

    at: float
    theta: float
    over: float
    length: float

    def run(self, surface: Surface, beside: float) -> Run:
        """Give the line of a thread; away from the crossing it lies off the grid.

        Parameters
        ----------
        surface : Surface
            What the thread crosses.
        beside : float
            Distance from the line towards the tip, mm.
        """
        radius = float(np.interp(self.at, surface.z, surface.radius.mean(axis=1)))
        away = _from_angle(surface.theta, self.theta) * radius
        x = away / self.length
        z = self.at + beside + self.over * (3 * x - 4 * x**3) / 2
        slope = self.over / self.length * (3 - 12 * x * x) / 2
        nowhere = surface.z[0] - 1e3 * (surface.z[-1] - surface.z[0])
        z = np.where(np.abs(x) <= 0.5, z, nowhere)
        lay = np.arctan(slope)
        return Run(z[None, :], np.cos(lay)[None, :], lay[None, :], away[None, :] + self.length)


def _from_angle(theta: Array, middle: float) -> Array:
    """Angle from `middle`, -pi to pi."""
    return (theta - middle + np.pi) % (2 * np.pi) - np.pi
