"""Crossed patterns on paper: both sides of every bundle, and where bundles cross."""

from collections.abc import Iterator

import numpy as np

from scenes.kinds.crossed.builder import CrossedBuilder
from scenes.kinds.lines import OTHER, BlankLine, BlankMark, offset_lines

__all__ = ["lines", "marks"]


def lines(builder: CrossedBuilder) -> Iterator[BlankLine]:
    """Draw both sides of every bundle: single threads would make a grey field.

    Parameters
    ----------
    builder : CrossedBuilder
    """
    for winding in builder.windings:
        for across in builder.sides(winding.hand):
            for line in offset_lines(winding, across, builder.span):
                yield BlankLine(line, OTHER)


def marks(builder: CrossedBuilder) -> Iterator[BlankMark]:
    """Mark every cross with the number of its axis and its own number, as on the bench sheet.

    Parameters
    ----------
    builder : CrossedBuilder
    """
    for axis, (theta, places) in enumerate(builder.axes(), start=1):
        turned = (theta + np.pi) % (2 * np.pi) - np.pi
        for number, at in enumerate(places.tolist(), start=1):
            yield BlankMark(turned, at, f"{axis}/{number}")
