"""Marbled coats on paper: their ends, where drops fall, and the paths of the combs."""

from collections.abc import Iterator

import numpy as np

from geometry.layers.marbling import Stroke
from scenes.kinds.lines import STEP, BlankLine, BlankMark, Pen, Trace, ring, rings
from scenes.kinds.marbled_coat.bench import direction_words, path_words
from scenes.kinds.marbled_coat.builder import MarbledBuilder

__all__ = ["lines", "marks"]

_ENDS = Pen("ends of the marbled coat", Trace(0.3), Trace(0.2))
_DASHES = (
    (0.6, 1.2),
    (2.0, 1.0),
    (4.0, 1.0),
    (2.0, 0.8, 0.4, 0.8),
    (4.0, 0.8, 0.4, 0.8),
    (2.0, 0.8, 0.4, 0.8, 0.4, 0.8),
)
"""Dashes of the comb strokes, mm; the first one's first, as many as a coat may have."""


def lines(builder: MarbledBuilder) -> Iterator[BlankLine]:
    """Draw both ends, and the path of every tine; each stroke has its own dashes.

    Parameters
    ----------
    builder : MarbledBuilder
    """
    yield from rings(builder.span, _ENDS)
    for number, (stroke, dash) in enumerate(zip(builder.layer.strokes, _DASHES, strict=False), 1):
        pen = Pen(
            f"comb stroke {number}, {path_words(stroke)}: {direction_words(stroke)}",
            Trace(0.12, 0.4, dash),
            Trace(0.1, 0.5, (0.5, 0.9)),
            dense=True,
        )
        for comb in builder.comb_strokes(stroke):
            for tine in range(comb.tines):
                yield BlankLine(_path(builder, comb, tine), pen)


def _path(
    builder: MarbledBuilder, comb: Stroke, tine: int
) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Path of one tine on the blank, (n, 2) of angle and z."""
    flat = builder.unrolled
    across = tine * comb.spacing
    along = comb.along + across * np.cos(comb.direction)
    if comb.direction == 0:
        return ring(float(flat.station(np.array([along]))[0]))
    around = comb.around - across * np.sin(comb.direction)
    z = np.linspace(*builder.span, max(2, round((builder.span[1] - builder.span[0]) / STEP)))
    further = np.interp(z, flat.z, flat.along) - along
    theta = (around + further / np.tan(comb.direction)) * 2 * np.pi / flat.circumference
    return np.column_stack((theta, z))


def marks(builder: MarbledBuilder) -> Iterator[BlankMark]:
    """Mark where drops fall, with the number of their pigment.

    Parameters
    ----------
    builder : MarbledBuilder
    """
    flat = builder.unrolled
    names = (f"{number}\u00a0{one.name}" for number, one in enumerate(builder.layer.pigments, 1))
    shows = f"a drop, with the number of its pigment: {', '.join(names)}"
    for drop in builder.placed_drops:
        theta = drop.around * 2 * np.pi / flat.circumference
        at = float(flat.station(np.array([drop.along]))[0])
        yield BlankMark((theta + np.pi) % (2 * np.pi) - np.pi, at, str(drop.pigment), shows=shows)
