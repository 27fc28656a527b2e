"""Summary of rings for the head of their card."""

from collections.abc import Iterator

from scenes.kinds.rings.model import Rings
from scenes.quantities import Units

__all__ = ["summary"]


def summary(layer: Rings, units: Units) -> Iterator[str]:
    """Name the threads, each once.

    Parameters
    ----------
    layer : Rings
    units : Units
        Units in which lengths are written.
    """
    yield from dict.fromkeys(entry.thread for entry in layer.threads)
