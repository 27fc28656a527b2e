"""Woven panels on paper: their edge."""

from collections.abc import Iterator

from scenes.kinds.flat.lines import on_blank, rectangle
from scenes.kinds.lines import OTHER, BlankLine, rings
from scenes.kinds.woven.builder import WovenBuilder

__all__ = ["lines"]


def lines(builder: WovenBuilder) -> Iterator[BlankLine]:
    """Draw the edge; where the panel closes round the blank, its two ends.

    Parameters
    ----------
    builder : WovenBuilder
    """
    size = builder.panel_size
    if builder.layer.closed:
        yield from rings(builder.room.flat.reach(size.length, size.width), OTHER)
        return
    yield BlankLine(on_blank(builder.room, rectangle(size.length, size.width)), OTHER)
