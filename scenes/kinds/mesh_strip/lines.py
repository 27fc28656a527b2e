"""Mesh strips on paper: their edges and yarns, and where the edges cross the guide line."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from geometry.marks import strip_marks
from geometry.unroll import between
from geometry.winding import Winding
from scenes.figures.figures import Amount, Kind, Sentence, sentence
from scenes.kinds.lines import (
    RELIEF,
    BlankLine,
    BlankMark,
    Pen,
    Trace,
    centre_theta,
    offset_lines,
    rings,
)
from scenes.kinds.mesh_strip.builder import StripBuilder
from scenes.quantities import counted

__all__ = ["lines", "marks", "notes"]

_EDGE = Pen("edge of the strip", Trace(0.45), Trace(0.35))
_YARN = Pen("yarns of the mesh", Trace(0.1, 0.25), Trace(0.08, 0.45), dense=True)


def lines(builder: StripBuilder) -> Iterator[BlankLine]:
    """Draw every yarn, both edges, and where the strip is cut at its ends.

    Parameters
    ----------
    builder : StripBuilder
    """
    strip, winding, width, span = builder.layer, builder.winding, builder.width, builder.span
    for line in _yarns_across(winding, width, strip.cell, span):
        yield BlankLine(line, _YARN)
    # Yarns lie a cell apart from the lower edge; the one at an edge is drawn as that edge.
    first = (width - strip.yarn_width) / 2
    for across in np.arange(strip.cell - first, width / 2 - strip.yarn_width, strip.cell):
        for line in offset_lines(winding, float(across), span):
            yield BlankLine(line, _YARN)
    for across in (-width / 2, width / 2):
        for line in offset_lines(winding, across, span):
            yield BlankLine(line, _EDGE)
    yield from rings(span, RELIEF)


def marks(builder: StripBuilder) -> Iterator[BlankMark]:
    """Mark where the edges cross the guide line, numbered as on the bench sheet.

    Parameters
    ----------
    builder : StripBuilder
    """
    start, end = builder.span
    table = strip_marks(builder.winding, builder.width, start, end)
    for strip, turn, *edges in zip(
        table.strip.tolist(),
        table.turn.tolist(),
        table.lower.tolist(),
        table.upper.tolist(),
        strict=True,
    ):
        number = f"{turn + 1}" if builder.winding.starts == 1 else f"{strip + 1}/{turn + 1}"
        for at, edge in zip(edges, ("lower", "upper"), strict=True):
            if start <= at <= end:
                yield BlankMark(0.0, at, f"{number} {edge}")


def notes(builder: StripBuilder) -> Iterator[Sentence]:
    """Note the width at which the strip is drawn.

    Parameters
    ----------
    builder : StripBuilder
    """
    cells = builder.width / builder.layer.cell
    yield sentence(
        "The strip is drawn {cells} wide, {width}, as it is cut.",
        cells=counted(float(f"{cells:.3g}"), "cell"),
        width=Amount(builder.width, Kind.CALIPER),
    )


def _yarns_across(
    winding: Winding, width: float, cell: float, span: tuple[float, float]
) -> Iterator[NDArray[np.float64]]:
    """Yield the yarns across a strip, one for each cell along it."""
    across = np.linspace(-width / 2, width / 2, 9)
    first, last = np.ceil(winding.length[[0, -1]] / cell).astype(int).tolist()
    along = np.arange(first, last) * cell
    # A point across the run is reached from the centre line straight up the blank, which leads
    # `across` / tan(alpha) along the run as well: the angle changes little over that way.
    angle = np.interp(along, winding.length, winding.angle)
    back = across[None, :] / np.tan(angle[:, None])
    centre = np.interp(along[:, None] - back, winding.length, winding.z)
    z = centre + across[None, :] / np.sin(winding.angle_at(centre))
    for start in range(winding.starts):
        theta = centre_theta(winding, centre, start)
        for angles, at in zip(theta, z, strict=True):
            yield from between(np.column_stack((angles, at)), at, *span)
