"""New covers."""

from collections.abc import Iterator

from scenes.kinds.defaults import NewLayer, Surroundings

__all__ = ["defaults"]


def defaults(surroundings: Surroundings) -> Iterator[NewLayer]:
    """Yield covers of a thread that stands out, as long as the grips leave room.

    Parameters
    ----------
    surroundings : Surroundings
        The design that the layer is added to.
    """
    yield from surroundings.usual_places(
        {"thread": surroundings.threads[0], "margin": surroundings.margin}
    )
