"""Rings on paper: both sides of every band."""

from collections.abc import Iterator

from scenes.kinds.lines import TRIM, BlankLine, rings
from scenes.kinds.rings.builder import RingsBuilder

__all__ = ["lines"]


def lines(builder: RingsBuilder) -> Iterator[BlankLine]:
    """Draw both sides of every band.

    Parameters
    ----------
    builder : RingsBuilder
    """
    for band in builder.bands.values():
        yield from rings(band, TRIM)
