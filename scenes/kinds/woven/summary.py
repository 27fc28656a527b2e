"""Summary of a woven panel for the head of its card."""

from collections.abc import Iterator

from scenes.kinds.woven.model import WovenPanel
from scenes.quantities import Units

__all__ = ["summary"]


def summary(layer: WovenPanel, units: Units) -> Iterator[str]:
    """Name the file of the chart, then the threads, the warp first.

    Parameters
    ----------
    layer : WovenPanel
    units : Units
        Units in which lengths are written.
    """
    yield layer.chart
    yield from dict.fromkeys((layer.warp, *(entry.thread for entry in layer.colours)))
