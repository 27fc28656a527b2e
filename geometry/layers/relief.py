"""Reliefs, which lie under the thread and raise it: a mesh strip, or a lattice of round cords.

A relief adds height to the surface that it is laid on. Once thread is wound over it, what shows is
the taut hull of its crests (`geometry.layers.drape`).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.array_blocks import over_blocks
from geometry.strip_frame import StripFrame
from geometry.surface import Surface
from geometry.winding import Winding

__all__ = ["CordLattice", "MeshStrip"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class MeshStrip:
    """A strip of open square mesh wound up the blank.

    Yarns run along the strip, the first beside its lower edge, and across it, both one `cell`
    apart. Each yarn is an ellipse in section. Where two cross they are knotted and both rise to
    the crossing's thickness, falling off smoothly to half a cell away as a woven yarn's crimp
    does ([Peirce1937] draws it as arcs and straights; the bump here is the quartic with the same
    ends and no kinks).

    Parameters
    ----------
    winding : Winding
        Centre line of the strip.
    width : float
        Across the run, mm.
    cell : float
        Distance between neighbouring yarns, middle to middle, mm.
    yarn_width, yarn_height : float
        A yarn's section, mm.
    crossing_height : float
        Thickness where two yarns cross, mm.
    start, end : float
        The strip is cut square to the blank at these distances, mm.
    material : int
        Palette index.
    """

    winding: Winding
    width: float
    cell: float
    yarn_width: float
    yarn_height: float
    crossing_height: float
    start: float
    end: float
    material: int

    def apply(self, surface: Surface) -> Surface:
        """Lay the strip on a surface.

        Parameters
        ----------
        surface : Surface
            What the layer is laid on.

        Returns
        -------
        Surface
            With the strip on it.
        """
        radius, material = surface.radius.copy(), surface.material.copy()
        frame = StripFrame(self.winding, surface.theta)

        def work(part: slice) -> None:
            along, across = frame.coordinates(surface.z[part])
            height = self.height(along, across)
            radius[part] += height
            material[part][height > 0] = self.material

        over_blocks(work, surface.between(self.start, self.end), surface.theta.size)
        return surface.with_arrays(radius=radius, material=material)

    def height(self, along: Array, across: Array) -> Array:
        """Height of the strip above what it lies on.

        Parameters
        ----------
        along, across : (...) float
            Strip coordinates, mm; `across` from the centre line.

        Returns
        -------
        (...) float
            mm; 0 in the open cells and beside the strip.
        """
        inside = np.abs(across) <= self.width / 2
        first_yarn = (self.width - self.yarn_width) / 2
        to_long = _from_nearest(across + first_yarn, self.cell)
        to_cross = _from_nearest(along, self.cell)
        rise = self.crossing_height - self.yarn_height
        long = _ellipse(to_long, self.yarn_width, self.yarn_height)
        cross = _ellipse(to_cross, self.yarn_width, self.yarn_height)
        long += rise * _bump(to_cross, self.cell / 2) * (long > 0)
        cross += rise * _bump(to_long, self.cell / 2) * (cross > 0)
        return np.asarray(np.maximum(long, cross) * inside)


@dataclass(frozen=True, slots=True)
class CordLattice:
    """Cords wound both ways: `right` laid first on the blank, `left` over them.

    Where two cross they stack. Under the pressure of the thread wound over it the upper cord is
    bent down to the blank again within `climb` heights to either side (2.5 from memory), smoothly
    as a mesh strip's yarns are.

    Parameters
    ----------
    right, left : Winding
        Centre lines, the same number of starts each.
    diameter : float
        Width of a cord as laid, mm.
    flatten : float
        Height of a cord over its width: 1 for round cord, less for braid.
    start, end : float
        Where the cords are cut, mm.
    material : int
        Palette index.
    climb : float
        Distance on either side of a crossing within which the upper cord is bent down to the
        blank, in heights of a cord.
    """

    right: Winding
    left: Winding
    diameter: float
    flatten: float
    start: float
    end: float
    material: int
    climb: float = 2.5

    def apply(self, surface: Surface) -> Surface:
        """Lay the cords on a surface.

        Parameters
        ----------
        surface : Surface
            What the layer is laid on.

        Returns
        -------
        Surface
            With the cords on it.
        """
        radius, material = surface.radius.copy(), surface.material.copy()
        lower = StripFrame(self.right, surface.theta)
        upper = StripFrame(self.left, surface.theta)
        tall = self.diameter * self.flatten
        angle = np.interp(surface.z, self.right.z, self.right.angle)

        def work(part: slice) -> None:
            to_lower = np.abs(lower.coordinates(surface.z[part])[1])
            to_upper = np.abs(upper.coordinates(surface.z[part])[1])
            alpha = angle[part][:, None]
            bare = surface.radius[part].mean(axis=1, keepdims=True)
            spacing = np.pi * bare / (self.right.starts * np.sin(alpha))
            reach = np.minimum(spacing / 2, self.climb * tall)
            # Along the upper cord the nearest crossing is this far away.
            from_crossing = to_lower / np.sin(2 * alpha)
            height = _ellipse(to_upper, self.diameter, tall)
            height += tall * _bump(from_crossing, reach) * (height > 0)
            height = np.maximum(height, _ellipse(to_lower, self.diameter, tall))
            radius[part] += height
            material[part][height > 0] = self.material

        over_blocks(work, surface.between(self.start, self.end), surface.theta.size)
        return surface.with_arrays(radius=radius, material=material)


def _from_nearest(distance: Array, period: float) -> Array:
    """Distance to the nearest whole multiple of `period`, mm, never negative."""
    turns = distance / period
    turns -= np.rint(turns)
    np.abs(turns, out=turns)
    turns *= period
    return turns


def _ellipse(across: Array, width: float, height: float) -> Array:
    """Top of an ellipse lying on the ground, 0 beside it, mm."""
    x = across * (2 / width)
    x *= x
    np.subtract(1, x, out=x)
    beside = x < 0
    np.sqrt(np.maximum(x, 0, out=x), out=x)
    x += 1
    x *= height / 2
    x[beside] = 0
    return x


def _bump(distance: Array, reach: Array | float) -> Array:
    """1 at 0, falling smoothly to 0 at `reach` and beyond."""
    x = distance / reach
    x *= x
    np.subtract(1, x, out=x)
    np.maximum(x, 0, out=x)
    x *= x
    return x
