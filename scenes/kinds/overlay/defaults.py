"""What a new overlay is like in a design."""

from collections.abc import Iterator

from scenes.kinds.defaults import NewLayer, Surroundings

__all__ = ["defaults"]


def defaults(around: Surroundings) -> Iterator[NewLayer]:
    """Begin with one thread that stays and one that is pulled out."""
    kept, out = around.threads[:2]
    sequence = [{"thread": kept}, {"thread": out, "removed": True}]
    yield from around.anywhere({"sequence": sequence, "margin": around.margin})
