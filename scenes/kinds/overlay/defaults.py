"""New overlays."""

from collections.abc import Iterator

from scenes.kinds.defaults import NewLayer, Surroundings

__all__ = ["defaults"]


def defaults(surroundings: Surroundings) -> Iterator[NewLayer]:
    """Yield overlays of one thread that stays and one that is pulled out.

    Parameters
    ----------
    surroundings : Surroundings
        The design that the layer is added to.
    """
    kept, out = surroundings.threads[:2]
    sequence = [{"thread": kept}, {"thread": out, "removed": True}]
    yield from surroundings.usual_places({"sequence": sequence, "margin": surroundings.margin})
