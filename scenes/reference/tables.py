"""Every table that a design file may have, and its fields, read from the models."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from typing import Any, Literal, get_args, get_origin

from pydantic.fields import FieldInfo

from scenes.design.document import Design
from scenes.files.toml_writing import inline_text
from scenes.parts.annotations import (
    enum_in,
    is_list,
    kinds_of,
    list_limits,
    meaning_of,
    models_in,
)
from scenes.parts.layer import LayerModel
from scenes.parts.order import Day
from scenes.parts.part import Part
from scenes.problems import one_of
from scenes.quantities import (
    Colour,
    Count,
    FileName,
    Length,
    Marker,
    Quantity,
    Units,
    Words,
    example_of,
    marker_of,
)
from scenes.reference.examples import sample_values

__all__ = ["FieldReference", "TableReference", "tables"]

LENGTH_UNIT = "mm or in"
"""Unit of a length: the file's."""

_LONGEST_EXAMPLE = 60
"""Most characters of an example that is taken from a sample."""


@dataclass(frozen=True, slots=True)
class FieldReference:
    """One field of a table.

    Parameters
    ----------
    key : str
        Name in the file.
    name : str
        Name in the model.
    meaning : str
        One or more sentences, without the last full stop.
    unit : str
        Unit in the file; empty if the value has none.
    allowed : str
        Range of a number, in both units for a length; words to choose from, or what else is
        allowed.
    default : str
        Value without the field, in TOML; "required" if the field must be given, empty if there
        is nothing in its place. Lengths are in mm.
    example : str
        A value in TOML. Lengths are in mm.
    holds : tuple of type of Part
        Models of the tables in it.
    """

    key: str
    name: str
    meaning: str
    unit: str
    allowed: str
    default: str
    example: str
    holds: tuple[type[Part], ...]


@dataclass(frozen=True, slots=True)
class TableReference:
    """One table of a design file.

    Parameters
    ----------
    name : str
        Kind of the table if it has one, else the field that holds it.
    role : str
        Role of a layer, by which paths name it; else empty.
    places : tuple of str
        Where it stands in a file.
    meaning : str
        One sentence.
    model : type of Part
    fields : tuple of FieldReference
        In the order of the model.
    """

    name: str
    role: str
    places: tuple[str, ...]
    meaning: str
    model: type[Part]
    fields: tuple[FieldReference, ...]


@cache
def tables() -> tuple[TableReference, ...]:
    """List every table, the whole file first, each before the tables inside it."""
    holders: dict[type[Part], list[tuple[type[Part], str]]] = {Design: []}
    _collect(Design, holders)
    names = _names(holders)
    return tuple(
        TableReference(
            names[model],
            str(model.role) if issubclass(model, LayerModel) else "",
            tuple(_places(model, held, names)),
            " ".join((model.__doc__ or "").strip().split("\n\n")[0].split()),
            model,
            tuple(_fields(model)),
        )
        for model, held in holders.items()
    )


def _collect(model: type[Part], holders: dict[type[Part], list[tuple[type[Part], str]]]) -> None:
    """Note which fields hold which models, from one model downwards."""
    for name, field in model.model_fields.items():
        for inner in models_in(field.annotation):
            known = inner in holders
            holders.setdefault(inner, []).append((model, name))
            if not known:
                _collect(inner, holders)


def _names(holders: dict[type[Part], list[tuple[type[Part], str]]]) -> dict[type[Part], str]:
    """Name each model by its kind, or else by the field that holds it most often and is no kind."""
    kinds = {kind for model in holders for kind in kinds_of([model])}
    names: dict[type[Part], str] = {}
    for model, held in holders.items():
        own = kinds_of([model]) or [field for _, field in held if field not in kinds]
        names[model] = max(own, key=own.count) if own else "design"
    return names


def _places(
    model: type[Part], held: list[tuple[type[Part], str]], names: dict[type[Part], str]
) -> Iterator[str]:
    kind = "".join(f", kind = {inline_text(kind)}" for kind in kinds_of([model]))
    if not held:
        yield "the whole file"
    for name in dict.fromkeys(name for _, name in held):
        owners = [owner for owner, field in held if field == name]
        key = owners[0].model_fields[name].alias or name
        listed = is_list(owners[0].model_fields[name].annotation)
        if Design in owners:
            yield (f"[[{key}]]" if listed else f"[{key}]") + kind
        inside = [names[owner] for owner in owners if owner is not Design]
        if inside:
            lead = "an entry of " if listed else ""
            yield f"{lead}{key} in {one_of(inside)}{kind}"


def _fields(model: type[Part]) -> Iterator[FieldReference]:
    for name, field in model.model_fields.items():
        marker = marker_of(field)
        yield FieldReference(
            field.alias or name,
            name,
            meaning_of(model, name),
            _unit(marker),
            _allowed(field, marker),
            _default(model, name, marker),
            _example(model, name, marker),
            tuple(models_in(field.annotation)),
        )


def _unit(marker: Marker | None) -> str:
    if isinstance(marker, Length):
        return LENGTH_UNIT
    return marker.unit(Units.MM).strip() if isinstance(marker, Quantity) else ""


def _allowed(field: FieldInfo, marker: Marker | None) -> str:
    """Say which values are allowed."""
    match marker:
        case Length():
            return f"{marker.bounds(Units.MM, 'to')}; {marker.bounds(Units.IN, 'to')}"
        case Quantity():
            return marker.bounds(Units.MM, "to").removesuffix(marker.unit(Units.MM))
        case Count():
            return f"whole, {marker.low} to {marker.high}"
        case FileName():
            return f"a file beside the design, {one_of(marker.endings)}"
        case Words():
            return f"text, {marker.longest} characters at most"
        case Day():
            return "a date, year-month-day"
        case Colour():
            return " or ".join([*map(inline_text, marker.names), '"#rrggbb"'])
        case Marker():
            schema = marker.json_schema(Units.MM)
            return "table" if schema["type"] == "object" else f"1 to {schema['maximum']}"
    if get_origin(field.annotation) is Literal:
        return ", ".join(map(inline_text, get_args(field.annotation)))
    enum = enum_in(field.annotation)
    if enum is not None:
        return ", ".join(inline_text(member.value) for member in enum)
    if is_list(field.annotation):
        least, most = list_limits(field)
        return f"list, {least} to {most} entries"
    return "table" if any(models_in(field.annotation)) else "true, false"


def _default(model: type[Part], name: str, marker: Marker | None) -> str:
    field = model.model_fields[name]
    if name in model.alternatives:
        return f"one of {one_of(model.alternatives)}"
    if field.is_required():
        return "required"
    value = field.default
    if value is None or value in ("", ()) or isinstance(value, Part):
        return ""
    return _text(value, marker) + (" mm" if isinstance(marker, Length) else "")


def _example(model: type[Part], name: str, marker: Marker | None) -> str:
    """Give an example: the model's own, one of the samples, or the default."""
    field = model.model_fields[name]
    own = example_of(field)
    if own is not None:
        return own.text
    key = field.alias or name
    if get_origin(field.annotation) is Literal:
        return inline_text(get_args(field.annotation)[0])
    if any(models_in(field.annotation)):
        return f"[{key}]"
    for value in sample_values().get((model, key), ()):
        text = inline_text(value)
        if len(text) <= _LONGEST_EXAMPLE and "\n" not in text:
            return text
    return "" if field.is_required() or field.default is None else _text(field.default, marker)


def _text(held: Any, marker: Marker | None) -> str:
    """Write a model's value as in a file in mm."""
    value = held.value if isinstance(held, StrEnum) else held
    return inline_text(value if marker is None else marker.write(value, Units.MM))
