"""Whatever is laid under a cover and raises it."""

from scenes.kinds.cord_lattice.laying import LatticeLaying
from scenes.kinds.mesh_strip.laying import StripLaying

__all__ = ["ReliefLaying"]


ReliefLaying = StripLaying | LatticeLaying
