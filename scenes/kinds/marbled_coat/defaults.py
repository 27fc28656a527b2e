"""New marbled coats."""

import math
from collections.abc import Iterator

from scenes.kinds.defaults import NewLayer, Surroundings
from scenes.kinds.marbled_coat.model import SHOWN_BEYOND

__all__ = ["defaults"]

_DROP = 6.0
"""Diameter of a new coat's drops, mm."""

_COVERED = 0.6
"""Area of the drops of a new coat over the area of the coat."""

_BEYOND = (SHOWN_BEYOND, 3.0)
"""Length of a coat on the blank that shows beyond the cover over it, mm, the likeliest first."""


def defaults(surroundings: Surroundings) -> Iterator[NewLayer]:
    """Yield coats of two pigments on the middle of the wrap, so that other layers still show.

    Pigment runs off a relief. There the coat goes on the blank and shows beyond the cover.

    Parameters
    ----------
    surroundings : Surroundings
        The design that the layer is added to.
    """
    place = surroundings.design.placement
    middle, half = place.middle, max(place.length / 4, min(place.length / 2, 2.0))
    area = 2 * math.pi * surroundings.radius * 2 * half
    entry = {
        "base": "#16323f",
        "pigments": [
            {"name": "Shell", "colour": "#efe6d2"},
            {"name": "Lagoon", "colour": "#2c8c93"},
        ],
        "drops": max(4, min(120, round(_COVERED * area / (math.pi / 4 * _DROP**2)))),
        "drop_diameter": _DROP,
        "strokes": [{"direction": "round the blank"}],
        "from": round(middle - half, 1),
        "to": round(middle + half, 1),
    }
    yield from surroundings.usual_places(entry)
    reach = surroundings.cover.margin if surroundings.cover is not None else 0.0
    for beyond in (*_BEYOND, 0.0):
        ends = {"from": place.start - reach - beyond, "to": place.end + reach + beyond}
        yield NewLayer({**entry, **ends}, 0)
