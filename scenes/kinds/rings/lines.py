"""Rings on paper: both sides of every band."""

from collections.abc import Iterator

from scenes.kinds.lines import TRIM, BlankLine, rings
from scenes.kinds.rings.laying import RingsBuilder

__all__ = ["lines"]


def lines(laying: RingsBuilder) -> Iterator[BlankLine]:
    """Draw both sides of every band."""
    for band in laying.bands.values():
        yield from rings(band, TRIM)
