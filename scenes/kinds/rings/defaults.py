"""What new rings are like in a design."""

import math
from collections.abc import Iterator

from scenes.kinds.defaults import Entry, NewLayer, Surroundings
from scenes.kinds.rings.model import Rings

__all__ = ["defaults"]


def defaults(around: Surroundings) -> Iterator[NewLayer]:
    """Begin in the last cover, inside the rings that are there, or else over all."""
    layers = around.design.layers
    inset = min(2.0, around.design.placement.length / 10)
    entry: Entry = {"threads": around.runs(3)}
    if around.cover is not None:
        first = next(i for i, one in enumerate(layers) if one is around.cover) + 1
        behind = first
        while behind < len(layers) and isinstance(layers[behind], Rings):
            behind += 1
        there = [one for one in layers[first:behind] if isinstance(one, Rings)]
        ends = [one.inset + around.widths(one.threads) for one in there]
        # A little of the cover shows before them, and before those that are there.
        insets = [math.ceil(10 * max(ends)) / 10 + 1] if ends else []
        for one in (*insets, inset):
            yield NewLayer({**entry, "inset": round(one, 2)}, behind)
    yield NewLayer({**entry, "inlaid": False, "inset": round(inset, 2)}, len(layers))
