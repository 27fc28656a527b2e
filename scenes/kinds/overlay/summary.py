"""Summary of an overlay for the head of its card."""

from collections.abc import Iterator

from scenes.kinds.overlay.model import Overlay
from scenes.quantities import Units

__all__ = ["summary"]


def summary(layer: Overlay, units: Units) -> Iterator[str]:
    """Name the threads of a repeat, each once.

    Parameters
    ----------
    layer : Overlay
    units : Units
        Units in which lengths are written.
    """
    yield from dict.fromkeys(entry.thread for entry in layer.sequence)
