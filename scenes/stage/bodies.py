"""Bodies on a stage: wrapped lengths of blank, and bodies of one appearance."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.bodies.mesh import Mesh
from geometry.surface import Surface
from materials.appearance import Appearance
from materials.metal import ALUMINIUM

__all__ = ["DRY_THREAD_IOR", "FINISHED_THREAD_IOR", "METAL_F0", "PlainBody", "WrapBody"]

METAL_F0 = float(np.mean(ALUMINIUM.under_finish))
"""F0 of the aluminium behind a metallic thread's dye.

The dye covers all of the metal, so it tints the reflection at every angle."""

DRY_THREAD_IOR = 1.54
"""Refractive index of a thread that is no metal, relative to air: that of nylon (from memory)."""

FINISHED_THREAD_IOR = 1.09
"""The same relative to the finish around it (from memory)."""


@dataclass(frozen=True, slots=True)
class WrapBody:
    """A wrapped length of blank: its surface, and the clear outside of the finish.

    Parameters
    ----------
    surface, beneath : Surface
        The outermost thread, and the surface below it.
    outside : Surface or None
        Outside of the finish on the same grid; None for a dry wrap.
    palette : tuple of Appearance
        By material index.
    finish_ior : float
        Refractive index of the finish.
    row_width : float
        Distance between adjacent rows of thread, mm.
    """

    surface: Surface
    beneath: Surface
    outside: Surface | None
    palette: tuple[Appearance, ...]
    finish_ior: float
    row_width: float


@dataclass(frozen=True, slots=True)
class PlainBody:
    """A body of one appearance.

    Parameters
    ----------
    name : str
        Name of the part, such as ``blank``.
    mesh : Mesh
        In the geometry's frame.
    appearance : Appearance
    tint : (n, 3) float32
        Linear factor of the base colour at each point.
    """

    name: str
    mesh: Mesh
    appearance: Appearance
    tint: NDArray[np.float32]
