"""Summary of a cord lattice for the head of its card."""

from collections.abc import Iterator

from scenes.kinds.cord_lattice.model import CordLattice
from scenes.parts.summary import field_values
from scenes.quantities import Units

__all__ = ["summary"]


def summary(layer: CordLattice, units: Units) -> Iterator[str]:
    """Write the number of cords and their angle.

    Parameters
    ----------
    layer : CordLattice
    units : Units
        Units in which lengths are written.
    """
    yield f"{layer.count} {'cord' if layer.count == 1 else 'cords'} each way"
    yield from field_values(layer, ["angle"], units)
