"""Overlays on paper: their ends."""

from collections.abc import Iterator

from scenes.kinds.lines import COVER, BlankLine, rings
from scenes.kinds.overlay.builder import OverlayBuilder

__all__ = ["lines"]


def lines(builder: OverlayBuilder) -> Iterator[BlankLine]:
    """Draw its ends: single rows would make a grey field.

    Parameters
    ----------
    builder : OverlayBuilder
    """
    return rings(builder.span, COVER)
