"""New crossed patterns."""

import math
from collections.abc import Iterator

from scenes.kinds.defaults import NewLayer, Surroundings

__all__ = ["defaults"]


def defaults(surroundings: Surroundings) -> Iterator[NewLayer]:
    """Yield diamonds with threads at about 45 degrees.

    Parameters
    ----------
    surroundings : Surroundings
        The design that the layer is added to.
    """
    length = surroundings.design.placement.length
    pattern = {"kind": "diamond", "threads": surroundings.thread_runs(2, 2)}
    for count in (2, 1, 3):
        # Threads run at 45 degrees where the spacings of one turn add up to the circumference.
        repeats = max(1, round(length * count / (2 * math.pi * surroundings.radius)))
        yield from surroundings.usual_places(
            {"around": count, "repeats": repeats, "pattern": pattern}
        )
