"""The JSON Schema of a design file, with which a text editor completes and checks it.

It is made from the models and written in draft 2020-12 [JSONSchema2020]; whatever it checks,
draft 7 checks too, because some editors know no newer one. Whatever a design file may hold is
valid. What depends on several fields, such as whether a strip fits round the blank, is left to
``turnlight check``, and so is 2.0 in place of a whole number, which JSON does not tell from 2.

A length has other bounds in inches than in millimetres. So there are three definitions of a table
with lengths: one that describes its fields, and one of bounds alone for each unit, between which
``units`` decides. Pydantic's own generator can do neither this nor defaults in the file's units.

An editor that completes a field would write its default in whatever units the file is in; so the
default of a length stands in its description, not under ``default``.
"""

from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any

from pydantic.fields import FieldInfo

from materials.shelf import Shelf
from materials.toml_text import parse_value
from scenes.parts.annotations import (
    enum_in,
    is_list,
    kinds_of,
    list_limits,
    models_in,
)
from scenes.parts.layer import LayerModel
from scenes.parts.part import Part
from scenes.quantities import Length, ShelfName, Units, marker_of
from scenes.reference.tables import LENGTH_UNIT, FieldReference, TableReference, tables

__all__ = ["SCHEMA_FILE", "design_schema"]

Json = dict[str, Any]

SCHEMA_FILE = "turnlight.schema.json"
"""Name of the schema's file beside a design, as the first line of a sample gives it."""

_THREAD = "shelf-thread"


def design_schema() -> Json:
    """Make the JSON Schema of a design file.

    Returns
    -------
    dict
        Plain data, ready to be written as JSON.
    """
    root, *others = tables()
    definitions = {_definition(table.model): _described(table) for table in others}
    for units in Units:
        for table in tables():
            bounds = _bounds(table.model, units)
            if bounds:
                definitions[_definition(table.model, units)] = _some({"properties": bounds})
    threads = [thread.name for thread in Shelf.shipped().threads]
    definitions[_THREAD] = {"description": "A thread of the shipped shelf.", "enum": threads}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Turnlight design",
        **_described(root),
        "if": _given("units", Units.IN.value),
        "then": _reference(root.model, Units.IN),
        "else": _reference(root.model, Units.MM),
        "$defs": definitions,
    }


@cache
def _definition_names() -> dict[type[Part], str]:
    return {table.model: table.name.replace(" ", "-").replace("_", "-") for table in tables()}


def _definition(model: type[Part], units: Units | None = None) -> str:
    name = _definition_names()[model]
    return name if units is None else f"{name}-{units.value}"


def _reference(model: type[Part], units: Units | None = None) -> Json:
    return {"$ref": f"#/$defs/{_definition(model, units)}"}


def _described(table: TableReference) -> Json:
    """Describe a table: its fields, which it must have, and which exclude each other."""
    model = table.model
    properties = {field.key: _field(model, field) for field in table.fields}
    renamed = _former_names(model)
    for former, current in renamed.items():
        properties[former] = properties[current] | {
            "description": f"Former name of {current}.",
            "deprecated": True,
        }
    described: Json = {
        "description": table.meaning,
        "type": "object",
        "properties": properties,
        "required": [field.key for field in table.fields if _is_needed(model, field)],
        "additionalProperties": False,
        **_only_one(model.alternatives),
    }
    if renamed:
        described["not"] = {"anyOf": [_some({"required": list(pair)}) for pair in renamed.items()]}
    return described


def _some(conditions: Json) -> Json:
    """Ask for something of a table of which more is described elsewhere.

    Some editors report every field that is not named in a part of a schema, unless that says
    otherwise.
    """
    return conditions | {"additionalProperties": True}


def _given(key: str, value: str) -> Json:
    """Ask whether a field has a value."""
    return _some({"properties": {key: {"const": value}}, "required": [key]})


def _only_one(alternatives: Sequence[str]) -> Json:
    """Forbid all other alternatives where one is given, so that an error names the field."""
    if len(alternatives) < 2:
        return {}
    first, *others = alternatives
    return {
        "if": _some({"required": [first]}),
        "then": _some({"properties": dict.fromkeys(others, False)}),
        "else": _some(_only_one(others)),
    }


def _former_names(model: type[Part]) -> Mapping[str, str]:
    return model.former_names if issubclass(model, LayerModel) else {}


def _is_needed(model: type[Part], field: FieldReference) -> bool:
    return model.model_fields[field.name].is_required()


def _field(model: type[Part], field: FieldReference) -> Json:
    info = model.model_fields[field.name]
    return {"description": _description(field), **_value(model, info), **_annotations(info, field)}


def _description(field: FieldReference) -> str:
    sentences = [field.meaning[:1].upper() + field.meaning[1:]]
    if field.unit == LENGTH_UNIT:
        sentences.append(field.allowed)
    elif field.unit:
        sentences.append(f"{field.allowed} {field.unit}")
    if field.unit == LENGTH_UNIT and field.default.endswith(" mm"):
        sentences.append(f"Default: {field.default}")
    return ". ".join(sentences) + "."


def _annotations(info: FieldInfo, field: FieldReference) -> Json:
    """Give default and example; not those of lengths, whose unit they would not have."""
    if field.unit == LENGTH_UNIT or any(models_in(info.annotation)):
        return {}
    found: Json = {}
    if not info.is_required() and field.default and not field.default.startswith("one of "):
        found["default"] = parse_value(field.default)
    if field.example and enum_in(info.annotation) is None:
        found["examples"] = [parse_value(field.example)]
    return found


def _value(model: type[Part], info: FieldInfo) -> Json:
    """Describe what a field may hold, without the bounds of lengths."""
    marker = marker_of(info)
    if isinstance(marker, Length):
        return {"type": "number"}
    if isinstance(marker, ShelfName):
        return {"anyOf": [{"$ref": f"#/$defs/{_THREAD}"}, marker.json_schema(Units.MM)]}
    if marker is not None:
        return marker.json_schema(Units.MM)
    models = list(models_in(info.annotation))
    if models:
        held = _reference(models[0]) if len(models) == 1 else _one_of_kinds(models)
        if not is_list(info.annotation):
            return held
        least, most = list_limits(info)
        limits = {"minItems": least} | ({} if most is None else {"maxItems": most})
        return {"type": "array", "items": held, **limits}
    enum = enum_in(info.annotation)
    if enum is not None:
        return {"enum": [member.value for member in enum]}
    if info.annotation is bool:
        return {"type": "boolean"}
    kinds = kinds_of([model])
    if kinds and info is model.model_fields["kind"]:
        return {"const": kinds[0]}
    raise TypeError(f"a schema cannot describe {info.annotation}")


@cache
def _bounds(model: type[Part], units: Units) -> Json:
    """Bounds of the lengths in a table and in the tables inside it, by field."""
    found: Json = {}
    for name, info in model.model_fields.items():
        marker = marker_of(info)
        key = info.alias or name
        if isinstance(marker, Length):
            bounds = marker.json_schema(units)
            found[key] = {"minimum": bounds["minimum"], "maximum": bounds["maximum"]}
            continue
        inner = [one for one in models_in(info.annotation) if _bounds(one, units)]
        if inner:
            held = _bounds_of_kind(inner, units)
            found[key] = {"items": held} if is_list(info.annotation) else held
    return found


def _bounds_of_kind(models: list[type[Part]], units: Units) -> Json:
    """Refer to the bounds of the one model, or of the one whose kind is given."""
    if not kinds_of(models):
        return _reference(models[0], units)
    return _some({"allOf": _by_kind(models, units)})


def _one_of_kinds(models: list[type[Part]]) -> Json:
    """Describe a table that is of one of several kinds.

    Which kind it is, is asked for each, so that an error names the field at fault; ``oneOf`` would
    say no more than that no kind fits. Editors look for what may be completed in ``anyOf``; its
    last option, which allows everything, keeps it from refusing anything.
    """
    kinds = {
        "description": "The kind of table, which decides its fields.",
        "enum": kinds_of(models),
    }
    return _some(
        {
            "type": "object",
            "properties": {"kind": kinds},
            "required": ["kind"],
            "allOf": _by_kind(models),
            "anyOf": [*map(_reference, models), _some({"type": "object"})],
        }
    )


def _by_kind(models: list[type[Part]], units: Units | None = None) -> list[Json]:
    return [
        {"if": _given("kind", kind), "then": _reference(model, units)}
        for model in models
        for kind in kinds_of([model])
    ]
