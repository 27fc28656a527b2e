"""Decals: a picture laid flat on the thread, too thin to change its shape."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from geometry.layers.flat import Flat
from geometry.surface import Surface

__all__ = ["Decal", "Ink"]

Array = NDArray[np.float64]


class Ink(Protocol):
    """What a decal is printed with."""

    def over(self, x: Array, y: Array, under: NDArray[np.int16]) -> NDArray[np.int16]:
        """Materials at places of the picture, where others lie under it.

        Parameters
        ----------
        x, y : (m,) float
            Distance from the picture's left and upper edge, mm.
        under : (m,) int16
            Palette indices of the materials beneath.

        Returns
        -------
        (m,) int16
            Palette indices.
        """
        ...


@dataclass(frozen=True, slots=True)
class Decal:
    """A picture on the surface.

    Parameters
    ----------
    flat : Flat
        Where it lies: its middle on the origin.
    width, height : float
        Size of the picture along and across the run, mm.
    ink : Ink
        What the picture is printed with.
    turned : bool
        Upside down: it reads from tip to butt.
    """

    flat: Flat
    width: float
    height: float
    ink: Ink
    turned: bool = False

    def apply(self, surface: Surface) -> Surface:
        """Print the picture over what is outermost.

        Parameters
        ----------
        surface : Surface
            What the layer is laid on.

        Returns
        -------
        Surface
            With the picture on it.
        """
        sign = -1.0 if self.turned else 1.0
        part = surface.between(*self.flat.reach(self.width, self.height))
        s, t = self.flat.coordinates(surface, part)
        x, y = sign * s + self.width / 2, self.height / 2 - sign * t
        on = (x >= 0) & (x <= self.width) & (y >= 0) & (y <= self.height)
        material = surface.material.copy()
        here = material[part]
        here[on] = self.ink.over(x[on], y[on], here[on])
        return surface.with_arrays(material=material)
