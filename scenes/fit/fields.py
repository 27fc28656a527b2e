"""A field of a design, found by its path: its value, and the values it may have."""

from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from scenes.design import paths
from scenes.design.document import Design, document_of
from scenes.design.layers import layer_path
from scenes.problems import DesignProblem, nearest, one_of, printable
from scenes.quantities import Marker, marker_of

__all__ = ["Field", "field_at"]


@dataclass(frozen=True, slots=True)
class Field:
    """A field as in the file of the design.

    Parameters
    ----------
    path : str
        Usual path: layers by their role or name.
    marker : Marker or None
        Reads and writes the value; None for words, lists and tables.
    value : object
        In the file's units; None if the design leaves the field out.
    given : bool
        Whether the design gives it; False for a default.
    """

    path: str
    marker: Marker | None
    value: Any
    given: bool


def field_at(design: Design, path: str) -> Field:
    """Find a field.

    Parameters
    ----------
    design : Design
    path : str

    Raises
    ------
    DesignProblem
        If there is no such field.
    """
    document = document_of(design, defaults=True)
    route = paths.route(document, path)
    part: object = design
    table: Any = document
    field: FieldInfo | None = None
    given = False
    for step in route:
        if isinstance(step, int) and isinstance(part, tuple) and step < len(part):
            part, table, field = part[step], table[step], None
            continue
        if not isinstance(part, BaseModel) or isinstance(step, int):
            raise DesignProblem(f"{printable(path)} leads to no field.", field=printable(path))
        fields = {
            info.alias or name: (name, info) for name, info in type(part).model_fields.items()
        }
        if step not in fields:
            close = nearest(step, fields)
            hint = f"did you mean {close}?" if close else f"give {one_of(fields)}."
            raise DesignProblem(f"{printable(path)} is not a field; {hint}", field=printable(path))
        name, field = fields[step]
        given = name in part.model_fields_set
        part = getattr(part, name)
        table = table.get(step) if isinstance(table, dict) else None
    usual = path
    if route[0] == "layers" and isinstance(route[1], int):
        named = layer_path(list(design.layers), route[1])
        usual = ".".join([named, *map(str, route[2:])])
    return Field(usual, marker_of(field) if field else None, table, given)
