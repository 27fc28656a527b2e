"""Summary of a seam trim for the head of its card."""

from collections.abc import Iterator

from scenes.kinds.seam_trim.model import SeamTrimModel
from scenes.quantities import Units, counted

__all__ = ["summary"]


def summary(layer: SeamTrimModel, units: Units) -> Iterator[str]:
    """Write the number of threads, or of shades where the trim is graded.

    Parameters
    ----------
    layer : SeamTrimModel
    units : Units
        Units in which lengths are written.
    """
    if layer.graded:
        yield f"{layer.count} shades"
    else:
        yield counted(layer.count, "thread")
