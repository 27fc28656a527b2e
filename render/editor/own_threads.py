"""The builder's own threads, and those of them that are nobody else's business."""

from collections.abc import Iterable

from materials.shelf import Shelf
from materials.thread import Thread
from scenes.design.document import Design
from scenes.design.threads import thread_names

__all__ = ["own_threads", "private_threads", "without_private"]


def own_threads(shelf: Shelf) -> tuple[Thread, ...]:
    """List the threads of a shelf that did not come with Turnlight.

    Parameters
    ----------
    shelf : Shelf
    """
    shipped = Shelf.shipped()
    return tuple(thread for thread in shelf.threads if shipped.get(thread.name) is not thread)


def private_threads(shelf: Shelf, designs: Iterable[Design]) -> tuple[Thread, ...]:
    """List the own threads of a shelf that none of some designs names.

    Parameters
    ----------
    shelf : Shelf
    designs : iterable of Design
        Their variants are ignored.
    """
    named = [shelf.get(name) for design in designs for _, name in thread_names(design)]
    return tuple(thread for thread in own_threads(shelf) if thread not in named)


def without_private(shelf: Shelf, designs: Iterable[Design]) -> Shelf:
    """Make a shelf without the own threads that none of some designs names.

    Parameters
    ----------
    shelf : Shelf
    designs : iterable of Design
        Their variants are ignored.
    """
    private = private_threads(shelf, designs)
    return Shelf(thread for thread in shelf.threads if thread not in private)
