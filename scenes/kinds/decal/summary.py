"""Summary of a decal for the head of its card."""

from collections.abc import Iterator

from scenes.kinds.decal.model import Decal
from scenes.quantities import Units

__all__ = ["summary"]


def summary(layer: Decal, units: Units) -> Iterator[str]:
    """Write the letters, or name the file of the picture.

    Parameters
    ----------
    layer : Decal
    units : Units
        Units in which lengths are written.
    """
    yield (layer.text or layer.picture or "").partition("\n")[0]
