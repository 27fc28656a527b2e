"""What a new crossed pattern is like in a design."""

import math
from collections.abc import Iterator

from scenes.kinds.defaults import NewLayer, Surroundings

__all__ = ["defaults"]


def defaults(surroundings: Surroundings) -> Iterator[NewLayer]:
    """Begin with diamonds, their threads led at about 45 degrees.

    Parameters
    ----------
    surroundings : Surroundings
        The design that the layer is added to.
    """
    length = surroundings.design.placement.length
    pattern = {"kind": "diamond", "threads": surroundings.thread_runs(2, 2)}
    for count in (2, 1, 3):
        # Where as many spacings as cross round the blank are one turn, threads run at 45 degrees.
        repeats = max(1, round(length * count / (2 * math.pi * surroundings.radius)))
        yield from surroundings.usual_places(
            {"around": count, "repeats": repeats, "pattern": pattern}
        )
