"""Values that were typed and do not fit the design yet: they wait beside it, each with its reason.

The design, its file and its picture stay valid. At every edit the pending values are tried again,
together and each alone, because two of them may fit only together.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from scenes.design import paths
from scenes.design.document import Design, document_of
from scenes.problems import DESIGN_REFUSALS, DesignProblem
from scenes.quantities import Units

__all__ = [
    "PendingValue",
    "ValuePending",
    "combined",
    "from_plain",
    "reason_against",
    "still_applies",
    "to_plain",
]

Setter = Callable[[Design, Sequence["PendingValue"]], Design]
"""Sets fields of a design to pending values; refuses a design that cannot be used."""

_MOST = 40
"""Most pending values that are recovered."""


class ValuePending(DesignProblem):
    """A typed value does not fit the design yet; it is kept as pending."""


@dataclass(frozen=True, slots=True)
class PendingValue:
    """A value that was typed into a field, or chosen there, and does not fit yet.

    Parameters
    ----------
    path : str
        Path of the field.
    text : str
        What was typed, or the name of what was chosen.
    value : object
        The value read from it; None if it cannot be read.
    units : Units
        Units of the lengths in it.
    problem : str
        Why it does not fit, one sentence.
    """

    path: str
    text: str
    value: Any
    units: Units
    problem: str = ""


def combined(
    design: Design,
    new: PendingValue | None,
    others: Iterable[PendingValue],
    set_in: Setter,
) -> tuple[Design, list[PendingValue]]:
    """Put as many pending values as fit into a design.

    Parameters
    ----------
    design : Design
    new : PendingValue or None
        A value that must fit.
    others : iterable of PendingValue
        Values that are used if they fit; a value is never used against one that is in already.
    set_in : callable
        Sets fields of a design to pending values; refuses a design that cannot be used.

    Returns
    -------
    design : Design
    used : list of PendingValue
        Those of `others` that the design now has.

    Raises
    ------
    DesignProblem, GeometryError, MaterialProblem
        If `new` fits neither alone nor together with all others.
    """
    readable = [one for one in others if one.value is not None]
    must = [] if new is None else [new]
    if len(must) + len(readable) > 1:
        try:
            return set_in(design, [*must, *readable]), readable
        except DESIGN_REFUSALS:
            pass
    made = set_in(design, must) if must else design
    used: list[PendingValue] = []
    for one in readable:
        try:
            tried = set_in(made, [one])
        except DESIGN_REFUSALS:
            continue
        if all(_value(tried, other.path) == _value(made, other.path) for other in [*must, *used]):
            made = tried
            used.append(one)
    return made, used


def reason_against(design: Design, one: PendingValue, set_in: Setter) -> str:
    """Say why a pending value does not fit a design; empty if it fits.

    Parameters
    ----------
    design : Design
    one : PendingValue
    set_in : callable
        As for `combined`.
    """
    if one.value is None:
        return one.problem
    try:
        set_in(design, [one])
    except DESIGN_REFUSALS as problem:
        return str(problem)
    return ""


def still_applies(one: PendingValue, before: Design, after: Design) -> bool:
    """Return whether a pending value still has its field after an edit.

    It has not if its path leads elsewhere, or if the edit has set a field that is given in place of
    its own, such as the strip's width in place of the gap.

    Parameters
    ----------
    one : PendingValue
    before, after : Design
    """
    old, new = document_of(before), document_of(after)
    try:
        first, then = paths.route(old, one.path), paths.route(new, one.path)
        changed = paths.changed(new, {one.path: one.value})
    except DesignProblem:
        return False
    if _lengths(old, first) != _lengths(new, then):
        return False
    if first[0] != "layers":
        return True
    was, now = old["layers"][first[1]], new["layers"][then[1]]
    left = changed["layers"][then[1]]
    return was["kind"] == now["kind"] and all(
        was.get(key) == value for key, value in now.items() if key not in left
    )


def to_plain(pending: Iterable[PendingValue]) -> list[dict[str, Any]]:
    """Write pending values as plain data, for a recovery file.

    Parameters
    ----------
    pending : iterable of PendingValue
    """
    return [asdict(one) | {"units": one.units.value} for one in pending]


def from_plain(given: Sequence[Any]) -> dict[str, PendingValue]:
    """Read pending values from plain data; what is no pending value is left out.

    Parameters
    ----------
    given : sequence
        Content of a recovery file, which may hold anything.

    Returns
    -------
    dict
        Pending value by path.
    """
    found: dict[str, PendingValue] = {}
    for item in given[:_MOST]:
        if not isinstance(item, Mapping) or item.keys() != PendingValue.__dataclass_fields__.keys():
            continue
        words = (item["path"], item["text"], item["problem"], item["units"])
        if all(isinstance(word, str) for word in words) and item["units"] in tuple(Units):
            one = PendingValue(**item)
            found[one.path] = replace(one, units=Units(item["units"]))
    return found


def _value(design: Design, path: str) -> Any:
    here: Any = document_of(design)
    try:
        for step in paths.route(here, path):
            here = here[step]
    except (DesignProblem, KeyError, IndexError, TypeError):
        return None
    return here


def _lengths(document: Mapping[str, Any], way: Sequence[str | int]) -> list[int]:
    """Lengths of the lists below the top level that a path goes through."""
    here: Any = document
    found: list[int] = []
    for place, step in enumerate(way):
        if isinstance(here, list) and place > 1:
            found.append(len(here))
        try:
            here = here[step]
        except (KeyError, IndexError, TypeError):
            break
    return found
