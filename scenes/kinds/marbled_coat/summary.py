"""Summary of a marbled coat for the head of its card."""

from collections.abc import Iterator

from scenes.kinds.marbled_coat.model import MarbledCoat
from scenes.quantities import Units

__all__ = ["summary"]


def summary(layer: MarbledCoat, units: Units) -> Iterator[str]:
    """Name the pigments.

    Parameters
    ----------
    layer : MarbledCoat
    units : Units
        Units in which lengths are written.
    """
    yield from (pigment.name for pigment in layer.pigments)
