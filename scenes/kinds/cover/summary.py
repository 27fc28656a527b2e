"""Summary of a cover for the head of its card."""

from collections.abc import Iterator

from scenes.kinds.cover.model import CoverModel
from scenes.quantities import Units

__all__ = ["summary"]


def summary(layer: CoverModel, units: Units) -> Iterator[str]:
    """Name the thread.

    Parameters
    ----------
    layer : CoverModel
    units : Units
        Units in which lengths are written.
    """
    yield layer.thread
