"""Summary of a mesh strip for the head of its card."""

from collections.abc import Iterator

from scenes.kinds.mesh_strip.model import MeshStripModel
from scenes.parts.summary import field_values
from scenes.quantities import Units

__all__ = ["summary"]


def summary(layer: MeshStripModel, units: Units) -> Iterator[str]:
    """Write the gap, the width or the covered share, whichever the design gives.

    Parameters
    ----------
    layer : MeshStripModel
    units : Units
        Units in which lengths are written.
    """
    given = [name for name in layer.alternatives if name in layer.model_fields_set]
    return field_values(layer, given, units)
