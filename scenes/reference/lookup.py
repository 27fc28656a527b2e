"""What a name stands for in the field reference: a table, a kind of layer, a role or a field."""

from collections.abc import Iterable
from dataclasses import dataclass

from scenes.problems import DesignProblem, near, one_of, shown
from scenes.reference.tables import FieldReference, TableReference, tables

__all__ = ["Found", "find"]

_MOST_SHOWN_INSIDE = 2
"""Tables in a field that are shown with it: kinds of layer are too many."""


@dataclass(frozen=True, slots=True)
class Found:
    """What a name stands for.

    Parameters
    ----------
    fields : tuple of (TableReference, FieldReference)
        Fields of that name, each with its table.
    tables : tuple of TableReference
        Tables of that name, kinds of layer with that role, and tables that the fields hold.
    """

    fields: tuple[tuple[TableReference, FieldReference], ...]
    tables: tuple[TableReference, ...]


def find(name: str) -> Found:
    """Find tables and fields by a name; capitals, hyphens and underscores do not matter.

    Parameters
    ----------
    name : str
        Name of a table, a kind of layer, a role or a field; or a path such as ``relief.gap`` or
        ``blank.stations.0.at``.

    Raises
    ------
    DesignProblem
        If nothing has this name.
    """
    steps = [step for step in name.split(".") if step and not step.isdecimal()]
    *owners, last = steps or [name]
    among = tables()
    for owner in owners:
        fields, named = _named(owner, among)
        among = named or _inside(fields)
        if not among:
            raise _unknown(owner)
    fields, named = _named(last, among)
    if owners:
        named = ()
    if not fields and not named:
        raise _unknown(
            last, [field.key for table in among for field in table.fields] * bool(owners)
        )
    inside = _inside(fields)
    shown_inside = inside if len(inside) <= _MOST_SHOWN_INSIDE else ()
    return Found(fields, tuple(dict.fromkeys([*named, *shown_inside])))


Fields = tuple[tuple[TableReference, FieldReference], ...]


def _named(name: str, among: Iterable[TableReference]) -> tuple[Fields, tuple[TableReference, ...]]:
    """Find fields with a name, and tables with that name or role."""
    fields = tuple(
        (table, field) for table in among for field in table.fields if _same(field.key, name)
    )
    named = tuple(one for one in among if _same(one.name, name) or _same(one.role, name))
    return fields, named


def _inside(fields: Fields) -> tuple[TableReference, ...]:
    models = {model for _, field in fields for model in field.holds}
    return tuple(table for table in tables() if table.model in models)


def _same(name: str, asked: str) -> bool:
    return bool(name) and _plain(name) == _plain(asked)


def _plain(name: str) -> str:
    return " ".join(name.casefold().replace("-", " ").replace("_", " ").split())


def _unknown(name: str, fields: Iterable[str] = ()) -> DesignProblem:
    """Refuse a name; with near names among some fields, or else among all."""
    named = [each for table in tables() for each in (table.name, table.role) if each]
    keys = [field.key for table in tables() for field in table.fields]
    close = near(name, fields or [*named, *keys])
    hint = f"did you mean {one_of(close)}?" if close else f"give {one_of(dict.fromkeys(named))}."
    what = "a field there" if fields else "a table, a kind of layer or a field"
    return DesignProblem(f"{shown(name)} is not {what}; {hint}")
