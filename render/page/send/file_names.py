"""Names of the files that are sent: they tell what is in them."""

from collections.abc import Collection, Sequence
from itertools import chain, count

from render.common.plain_name import plain_name
from render.page.send.export_options import SIZES
from render.page.send.order import Choice
from render.page.workers.export_worker import ExportKind
from render.request.shapes import Shape

__all__ = ["file_name"]

_UNSAID = (ExportKind.STILL, ExportKind.MESH)
"""Kinds of file that are told by their ending."""

_LONGEST = 40
"""Characters for the names of designs; where they take more, their number is told."""


def file_name(title: str, choice: Choice, designs: Sequence[str], taken: Collection[str]) -> str:
    """Name a file for the customer, in plain letters, which every system accepts.

    Parameters
    ----------
    title : str
        Of the design.
    choice : Choice
    designs : sequence of str
        What each design in it is called; empty for the design itself.
    taken : collection of str
        Names that other files have: size and shape tell it from those, or else a number.
    """
    parts = [plain_name(title) or "wrap", _designs(designs)]
    if choice.kind not in _UNSAID:
        parts.append(plain_name(choice.kind.value))
    size = "" if choice.size == SIZES[1] else choice.size.casefold()
    shape = "" if choice.shape == Shape.WIDE.value else plain_name(choice.shape)
    for more in chain([[], [size, shape]], ([size, shape, str(number)] for number in count(2))):
        name = "-".join(filter(None, [*parts, *more])) + choice.ending
        if name not in taken:
            break
    return name


def _designs(designs: Sequence[str]) -> str:
    if len(designs) == 1:
        return plain_name(designs[0])[:_LONGEST].rstrip("-")
    named = "-and-".join(plain_name(name) or "design" for name in designs)
    return named if len(named) <= _LONGEST else f"{len(designs)}-designs"
