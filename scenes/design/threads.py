"""The threads that a design names, and whether they are on a shelf."""

from collections.abc import Iterator, Sequence

from materials.shelf import Shelf, ShelfProblem
from scenes.design.document import Design
from scenes.design.layers import layer_path
from scenes.design.variants import variants
from scenes.parts.part import Part
from scenes.problems import DesignProblem, nearest, one_of, shown
from scenes.quantities import ShelfName, marker_of

__all__ = [
    "check_all_threads",
    "check_threads",
    "layer_threads",
    "swapped",
    "thread_names",
    "variants_without_thread",
]


def check_threads(design: Design, shelf: Shelf) -> None:
    """Check that every thread of a design is on the shelf; its variants are not checked.

    Parameters
    ----------
    design : Design
    shelf : Shelf

    Raises
    ------
    DesignProblem
        With the first field whose thread is not on the shelf.
    """
    for path, name in thread_names(design):
        try:
            shelf.thread(name)
        except ShelfProblem as problem:
            reason = str(problem)
            sentence = f"{path}: {reason[:1].lower()}{reason[1:]}"
            raise DesignProblem(sentence, field=path) from None


def check_all_threads(design: Design, shelf: Shelf) -> None:
    """Check that every thread of a design and of its variants that fit is on the shelf.

    Parameters
    ----------
    design : Design
    shelf : Shelf

    Raises
    ------
    DesignProblem
        With the first field whose thread is not on the shelf.
    """
    check_threads(design, shelf)
    reasons = variants_without_thread(design, shelf)
    for index, listed in enumerate(design.variants):
        if reason := reasons.get(listed.name):
            field = f"variants.{index}.changes"
            sentence = f"{field}: in {shown(listed.name)}, {reason}"
            raise DesignProblem(sentence, field=field)


def variants_without_thread(design: Design, shelf: Shelf) -> dict[str, str]:
    """List the variants that fit a design and name a thread that is not on the shelf.

    Parameters
    ----------
    design : Design
    shelf : Shelf

    Returns
    -------
    dict
        What is missing, one sentence by the variant's name.
    """
    reasons: dict[str, str] = {}
    for name, made in variants(design)[1:]:
        try:
            check_threads(made, shelf)
        except DesignProblem as problem:
            reasons[name] = str(problem)
    return reasons


def thread_names(design: Design) -> Iterator[tuple[str, str]]:
    """List every thread that a design names, without those of its variants.

    Parameters
    ----------
    design : Design

    Yields
    ------
    (str, str)
        Path of the field, and name of the thread.
    """
    yield from _named("blank", design.blank)
    for index, layer in enumerate(design.layers):
        yield from _named(layer_path(design.layers, index), layer)
    for index, wrap in enumerate(design.wraps):
        yield from _named(f"wraps.{index}.layers", wrap.layers)


def swapped(design: Design, old: str, new: str) -> dict[str, str]:
    """List the changes that wind another thread wherever a rod names one.

    Parameters
    ----------
    design : Design
        Its variants keep theirs.
    old, new : str
        Names of threads.

    Returns
    -------
    dict
        The new name by path, in every wrap, at the guides and in their schemes.

    Raises
    ------
    DesignProblem
        If the rod names no such thread.
    """
    paths = [path for path, name in thread_names(design) if name == old]
    if paths:
        return dict.fromkeys(paths, new)
    names = list(dict.fromkeys(name for _, name in thread_names(design)))
    close = nearest(old, names)
    right = f"did you mean {shown(close)}?" if close else f"give {one_of(map(shown, names))}."
    raise DesignProblem(f"{shown(old)} is no thread of this design; {right}")


def layer_threads(design: Design) -> Iterator[str]:
    """Name every thread in the layers of the wrap that a design describes.

    Parameters
    ----------
    design : Design
    """
    return (name for _, name in _named("layers", design.layers))


def _named(path: str, part: Part | Sequence[Part]) -> Iterator[tuple[str, str]]:
    if not isinstance(part, Part):
        for position, item in enumerate(part):
            yield from _named(f"{path}.{position}", item)
        return
    for name, field in type(part).model_fields.items():
        value = getattr(part, name)
        below = f"{path}.{field.alias or name}"
        if isinstance(value, Part | tuple):
            yield from _named(below, value)
        elif value is not None and isinstance(marker_of(field), ShelfName):
            yield below, value
