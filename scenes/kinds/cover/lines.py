"""Covers on paper: their ends."""

from collections.abc import Iterator

from scenes.kinds.cover.laying import CoverBuilder
from scenes.kinds.lines import COVER, BlankLine, rings

__all__ = ["lines"]


def lines(laying: CoverBuilder) -> Iterator[BlankLine]:
    """Draw the first and the last row."""
    return rings(laying.span, COVER)
