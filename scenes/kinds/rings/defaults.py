"""New rings."""

import math
from collections.abc import Iterator

from scenes.kinds.defaults import Entry, NewLayer, Surroundings
from scenes.kinds.rings.model import Rings

__all__ = ["defaults"]


def defaults(surroundings: Surroundings) -> Iterator[NewLayer]:
    """Yield rings in the last cover, inside the rings that are there, or else over all layers.

    Parameters
    ----------
    surroundings : Surroundings
        The design that the layer is added to.
    """
    layers = surroundings.design.layers
    inset = min(2.0, surroundings.design.placement.length / 10)
    entry: Entry = {"threads": surroundings.thread_runs(3)}
    if surroundings.cover is not None:
        first = next(i for i, layer in enumerate(layers) if layer is surroundings.cover) + 1
        behind = first
        while behind < len(layers) and isinstance(layers[behind], Rings):
            behind += 1
        there = [layer for layer in layers[first:behind] if isinstance(layer, Rings)]
        ends = [rings.inset + surroundings.total_width(rings.threads) for rings in there]
        # Some of the cover shows before them, and between them and the rings that are there.
        insets = [math.ceil(10 * max(ends)) / 10 + 1] if ends else []
        for inset_mm in (*insets, inset):
            yield NewLayer({**entry, "inset": round(inset_mm, 2)}, behind)
    yield NewLayer({**entry, "inlaid": False, "inset": round(inset, 2)}, len(layers))
