"""Covers on paper: their ends."""

from collections.abc import Iterator

from scenes.kinds.cover.builder import CoverBuilder
from scenes.kinds.lines import COVER, BlankLine, rings

__all__ = ["lines"]


def lines(builder: CoverBuilder) -> Iterator[BlankLine]:
    """Draw the first and the last row.

    Parameters
    ----------
    builder : CoverBuilder
    """
    return rings(builder.span, COVER)
