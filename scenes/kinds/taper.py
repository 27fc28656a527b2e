"""Radii of the bare blank under a wrap, for the checks of layers."""

import numpy as np
from numpy.typing import NDArray

from scenes.parts.layer import DesignContext

__all__ = ["OVERLAP", "middle_radius", "radii"]

_PLACES = 65
"""Number of places along the wrap at which the radius is taken."""

OVERLAP = 1e-6
"""Overlap that counts as rounding error, mm."""


def radii(design: DesignContext, reach: float = 0.0) -> NDArray[np.float64]:
    """Bare radius along the wrap, (n,) mm.

    Parameters
    ----------
    design : DesignContext
    reach : float
        Distance beyond both ends of the wrap, mm.
    """
    start, end = design.placement.start - reach, design.placement.end + reach
    return design.blank.measured().radius(np.linspace(start, end, _PLACES))


def middle_radius(design: DesignContext) -> float:
    """Bare radius at the middle of the wrap, mm.

    Parameters
    ----------
    design : DesignContext
    """
    return float(design.blank.measured().radius(design.placement.middle))
