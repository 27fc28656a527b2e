"""Seam trims on paper: both their sides."""

from collections.abc import Iterator

from geometry.layers.trim import Ring
from scenes.kinds.lines import TRIM, BlankLine, beside, ring
from scenes.kinds.seam_trim.laying import TrimBuilder

__all__ = ["lines"]


def lines(laying: TrimBuilder) -> Iterator[BlankLine]:
    """Draw both sides along every edge that it follows."""
    offset = laying.layer.offset
    wide = sum(thread.diameter_mm for thread in laying.laid)
    for line in laying.lines:
        for side in (offset, offset + wide):
            if isinstance(line, Ring):
                yield BlankLine(ring(line.at + line.edge.outward * side), TRIM)
                continue
            across = line.edge.outward * (line.width / 2 + side)
            for run in beside(line.winding, across, laying.cut(line)):
                yield BlankLine(run, TRIM)
