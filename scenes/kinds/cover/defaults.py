"""What a new cover is like in a design."""

from collections.abc import Iterator

from scenes.kinds.defaults import NewLayer, Surroundings

__all__ = ["defaults"]


def defaults(around: Surroundings) -> Iterator[NewLayer]:
    """Begin with a thread that stands out, as far as the grips leave room."""
    yield from around.anywhere({"thread": around.threads[0], "margin": around.margin})
