"""Thread under tension round the blank: each cross-section becomes its own convex hull.

A hoop-wound thread touches only the hull of what lies beneath; between two ridges it spans as a
straight chord. Those chords are the flat facets that flash. `geometry.layers.taut` finds them.
Along the blank rows slide where that would be too steep (`geometry.layers.settle`).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.array_blocks import over_blocks
from geometry.layers.settle import settled
from geometry.layers.taut import stretch, taut
from geometry.surface import Surface

__all__ = ["Drape", "hull_radius", "section_perimeter"]

Array = NDArray[np.float64]

_BLOCK = 1 << 19
"""Sweeps cost a fixed time each, so blocks are larger here than for plain arithmetic."""


@dataclass(frozen=True, slots=True)
class Drape:
    """The taut skin over a surface between two distances, as a layer of no thickness.

    Parameters
    ----------
    start, end : float
        Ends of the stretch, mm from the butt.
    steepest : float
        Largest slope along the blank, mm/mm; infinite if each section is draped alone.
    """

    start: float
    end: float
    steepest: float = np.inf

    def apply(self, surface: Surface) -> Surface:
        """Replace each cross-section from `start` to `end` by the hull of the settled ground.

        Parameters
        ----------
        surface : Surface
            What the layer is laid on.

        Returns
        -------
        Surface
            With the hulls as its radius.
        """
        radius = surface.radius.copy()
        stations = surface.between(self.start, self.end)
        own = radius[stations]
        settled(own, surface.step, self.steepest, out=own)
        turn = 2 * np.pi / surface.theta.size

        def work(part: slice) -> None:
            stretch(radius[part], turn, closed=True)

        over_blocks(work, stations, surface.theta.size, points=_BLOCK)
        return surface.with_arrays(radius=radius)


def hull_radius(radius: Array) -> Array:
    """Radius of the convex hull of each cross-section.

    Parameters
    ----------
    radius : (m, nt) float
        Distance from the axis at nt even angles (8 or more), mm, all positive.

    Returns
    -------
    (m, nt) float
        Distance of the hull from the axis at the same angles, mm; equal to `radius` at the hull's
        own corners.
    """
    return taut(radius, 2 * np.pi / radius.shape[1], closed=True)


def section_perimeter(radius: Array) -> Array:
    """Perimeter of each section of even angles, as a polygon.

    Parameters
    ----------
    radius : (m, nt) float
        Distance from the axis at nt even angles, mm.

    Returns
    -------
    (m,) float
        mm.
    """
    nt = radius.shape[1]
    step = 2 * np.pi / nt
    following = np.roll(radius, -1, axis=1)
    side = radius**2 + following**2 - 2 * np.cos(step) * radius * following
    return np.asarray(np.sqrt(side).sum(axis=1))
