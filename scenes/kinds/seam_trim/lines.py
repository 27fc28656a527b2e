"""Seam trims on paper: both their sides."""

from collections.abc import Iterator

from geometry.layers.trim import Ring
from scenes.kinds.lines import TRIM, BlankLine, offset_lines, ring
from scenes.kinds.seam_trim.builder import TrimBuilder

__all__ = ["lines"]


def lines(builder: TrimBuilder) -> Iterator[BlankLine]:
    """Draw both its sides where it comes to rest along every edge that it follows.

    Parameters
    ----------
    builder : TrimBuilder
    """
    for line in builder.lines:
        for side in builder.places[line.edge]:
            if isinstance(line, Ring):
                yield BlankLine(ring(line.at + line.edge.outward * side), TRIM)
                continue
            across = line.edge.outward * (line.width / 2 + side)
            for run in offset_lines(line.winding, across, builder.cut(line)):
                yield BlankLine(run, TRIM)
