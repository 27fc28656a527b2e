"""The JSON Schema of a design file, judged by a library of its own: jsonschema.

A battery of documents, each one change away from a sample, is given to the model and to the schema.
"""

import copy
import json
import math
import tomllib
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given
from jsonschema import Draft7Validator, Draft202012Validator
from jsonschema.protocols import Validator

from scenes.design.document import Design, design_from, document_of
from scenes.files import samples
from scenes.parts.annotations import enum_in, is_list, kinds_of, list_limits, models_in
from scenes.parts.part import Part
from scenes.problems import DesignProblem
from scenes.quantities import (
    IN,
    Colour,
    Count,
    FileName,
    Length,
    Marker,
    Quantity,
    Units,
    Words,
    marker_of,
)
from scenes.reference.schema import SCHEMA_FILE, design_schema
from tests.kept import kept
from tests.scenes.design.test_any_document import (
    BOUNDED,
    DOCUMENTS,
    NEARBY,
    WEIRD,
    changed_documents,
)

Json = dict[str, Any]
Place = tuple[str | int, ...]


@kept
def validator() -> Validator:
    return Draft202012Validator(design_schema())


def errors(document: Any) -> list[str]:
    return [f"{one.json_path}: {one.message}" for one in validator().iter_errors(document)]


def valid(document: Any) -> bool:
    return validator().is_valid(document)


def refused(document: Any) -> bool:
    try:
        design_from(document)
    except DesignProblem:
        return True
    return False


def test_it_is_a_schema_of_both_drafts() -> None:
    """By the metaschemas of [JSONSchema2020] and of draft 7, which older editors know."""
    schema = design_schema()
    Draft202012Validator.check_schema(schema)
    Draft7Validator.check_schema(schema)
    assert json.loads(json.dumps(schema)) == schema


@pytest.mark.parametrize("name", samples.names())
def test_samples_are_valid_and_name_it(name: str) -> None:
    text = samples.text(name)
    assert text.splitlines()[0] == f"#:schema {SCHEMA_FILE}"
    document = tomllib.loads(text)
    assert errors(document) == []
    assert Draft7Validator(design_schema()).is_valid(document)


@pytest.mark.parametrize("document", DOCUMENTS, ids=samples.names())
def test_a_sample_with_every_field_is_valid(document: Json) -> None:
    assert errors(document) == []


def test_every_leaf_is_described() -> None:
    schema = design_schema()
    tables = [schema, *(one for one in schema["$defs"].values() if "type" in one)]
    assert len(tables) > 25
    for table in tables:
        for key, field in table["properties"].items():
            assert len(field["description"]) > 6, key
            assert field["description"][0].isupper(), key
            assert field["description"].endswith("."), key


# ---- one change away from a sample


def places(model: type[Part], table: Json, above: Place = ()) -> Iterator[tuple[Place, Any]]:
    """Yield every field that a table gives: its place, and the model's field."""
    for name, field in model.model_fields.items():
        key = field.alias or name
        if key not in table:
            continue
        yield (*above, key), field
        models = list(models_in(field.annotation))
        listed = isinstance(table[key], list)
        for index, entry in enumerate(table[key] if listed else [table[key]]):
            if models:
                kinds = [one for one in models if entry.get("kind") in kinds_of([one])]
                inside = (*above, key, index) if listed else (*above, key)
                yield from places((kinds or models)[0], entry, inside)


def wrong_values(field: Any, units: str) -> list[Any]:
    """Values beside what a field may have: of another type, or just beyond its range."""
    marker = marker_of(field)
    wrong: list[Any] = [{"x": 1}] if not any(models_in(field.annotation)) else [3]
    if isinstance(marker, Quantity):
        scale = IN if units == "in" and isinstance(marker, Length) else 1.0
        low, high = marker.low / scale, marker.high / scale
        reach = 0.01 * max(abs(low), abs(high))
        wrong += [low - reach, high + reach, "3/8 in", "0,14", True, [1.0]]
    elif isinstance(marker, Count):
        wrong += [marker.low - 1, marker.high + 1, marker.low + 0.5, "2", False]
    elif isinstance(marker, Colour):
        wrong += ["#12345", "#1234567", "#12345g", "red", 0x123456]
    elif isinstance(marker, FileName):
        endings = marker.endings[0]
        wrong += [f"../a{endings}", f"a/b{endings}", f".{endings}", "a.exe", "x" * 120 + endings, 1]
    elif isinstance(marker, Words):
        wrong += ["x" * (marker.longest + 1), "bell\x07", 1]
        wrong += ["", "  "] if marker.shortest else []
    elif marker is not None:
        wrong = [{}, 0, 99]
    elif is_list(field.annotation):
        wrong += ["text", [3]] + ([[]] if list_limits(field)[0] else [])
    elif enum_in(field.annotation) is not None:
        wrong += ["no such word", 0, True]
    elif field.annotation is bool:
        wrong += [0, "true"]
    return wrong


def put(document: Json, place: Place, value: Any) -> Json:
    changed = copy.deepcopy(document)
    here: Any = changed
    for step in place[:-1]:
        here = here[step]
    here[place[-1]] = value
    return changed


def one_of_each() -> list[tuple[Json, Place, Any]]:
    """Places in the samples: each field of each model once in mm and once in inches, if it is."""
    found: dict[tuple[str, int], tuple[Json, Place, Any]] = {}
    for document in DOCUMENTS:
        bare = {key: value for key, value in document.items() if key != "variants"}
        for place, field in places(Design, document):
            holder = document if place[0] == "variants" else bare
            found.setdefault((document["units"], id(field)), (holder, place, field))
    return list(found.values())


def test_what_has_the_wrong_type_or_range_is_refused_by_both() -> None:
    tried, disagreed = 0, []
    for document, place, field in one_of_each():
        for value in wrong_values(field, document["units"]):
            changed = put(document, place, value)
            tried += 1
            by_model, by_schema = refused(changed), not valid(changed)
            if not (by_model and by_schema):
                disagreed.append((place, value, by_model, by_schema))
    assert disagreed == []
    assert tried > 800


def test_unknown_and_missing_fields_are_refused_by_both() -> None:
    disagreed, tried = [], 0
    for document, place, field in one_of_each():
        unknown = put(document, (*place[:-1], "frobnicate"), 1)
        spoilt = [unknown]
        if field.is_required():
            dropped = copy.deepcopy(document)
            here: Any = dropped
            for step in place[:-1]:
                here = here[step]
            del here[place[-1]]
            spoilt.append(dropped)
        for changed in spoilt:
            tried += 1
            if valid(changed) or not refused(changed):
                disagreed.append((place, changed is unknown))
    assert disagreed == []
    assert tried > 200


def test_lists_are_as_long_as_the_model_allows() -> None:
    tried = 0
    for document, place, field in one_of_each():
        most = list_limits(field)[1] if is_list(field.annotation) else None
        here: Any = document
        for step in place:
            here = here[step]
        if most is None or not here or most > 500:
            continue
        tried += 1
        changed = put(document, place, [here[0]] * (most + 1))
        assert refused(changed), place
        assert not valid(changed), place
    assert tried > 10


def right_values(marker: Marker, units: str) -> list[Any]:
    """Values at the very ends of what a field may have."""
    if isinstance(marker, Quantity):
        scale = IN if units == "in" and isinstance(marker, Length) else 1.0
        return [marker.low / scale, marker.high / scale]
    if isinstance(marker, Count):
        return [marker.low, marker.high]
    if isinstance(marker, FileName):
        return [f"a b{ending.upper()}" for ending in marker.endings]
    if isinstance(marker, Colour):
        return ["#aBcDeF", *marker.names]
    if isinstance(marker, Words):
        return ["Ω 釣" + "x" * (marker.longest - 3)] + ([""] if marker.shortest == 0 else [])
    return []


def test_the_ends_of_every_range_are_valid() -> None:
    for document, place, field in one_of_each():
        marker = marker_of(field)
        for value in right_values(marker, document["units"]) if marker else ():
            marker.read(value, Units(document["units"]))
            assert valid(put(document, place, value)), (place, value)


@pytest.mark.parametrize(
    ("kind", "key", "value", "at"),
    [
        # Beside a gap; jsonschema places what is never allowed at the table around it.
        ("mesh strip", "strip_width", 20.0, ""),
        ("mesh strip", "angle", 3, ".angle"),
        ("mesh strip", "kind", "mash strip", ".kind"),
        ("mesh strip", "frobnicate", 1, ""),
        ("cover", "margin", "8", ".margin"),
        ("seam trim", "threads", [{"thread": "Heron Silver A", "count": 0}], ".threads[0].count"),
    ],
)
def test_one_error_names_the_field_at_fault(kind: str, key: str, value: Any, at: str) -> None:
    """An editor shows every error, so a wrong layer must not be held against every kind."""
    half = tomllib.loads(samples.text("half-scale"))
    index = next(i for i, layer in enumerate(half["layers"]) if layer["kind"] == kind)
    changed = put(half, ("layers", index, key), value)
    assert refused(changed)
    assert {one.split(":")[0] for one in errors(changed)} == {f"$.layers[{index}]{at}"}
    assert len(errors(changed)) == 1


def test_no_part_of_it_leaves_open_whether_other_fields_are_allowed() -> None:
    """Some editors report every field that a part does not name and does not allow."""

    def parts(schema: Any) -> Iterator[Json]:
        if isinstance(schema, dict):
            if {"properties", "required", "allOf"} & {k for k, v in schema.items() if v != {}}:
                yield schema
            for key, inner in schema.items():
                names = key in ("properties", "$defs")
                yield from parts(list(inner.values()) if names else inner)
        elif isinstance(schema, list):
            for inner in schema:
                yield from parts(inner)

    found = list(parts(design_schema()))
    assert len(found) > 80
    assert [part for part in found if "additionalProperties" not in part] == []


def test_a_former_name_is_valid_and_said_to_be_one() -> None:
    half = document_of(samples.load("half-scale"))
    index = next(i for i, layer in enumerate(half["layers"]) if layer["kind"] == "cover")
    half["layers"][index].pop("unevenness", None)
    former = put(half, ("layers", index, "hand"), 0.2)
    assert not refused(former)
    assert errors(former) == []
    both = put(former, ("layers", index, "unevenness"), 0.2)
    assert refused(both)
    assert errors(both)
    assert design_schema()["$defs"]["cover"]["properties"]["hand"]["deprecated"] is True


@pytest.mark.parametrize(("units", "most"), [("mm", 1000), ("in", 1000 / 25.4)])
def test_a_length_has_its_bounds_in_the_units_of_the_file(units: str, most: float) -> None:
    """One inch is 25.4 mm by definition (1959)."""
    document = tomllib.loads(samples.text("half-scale")) | {"units": units}
    index = next(i for i, layer in enumerate(document["layers"]) if layer["kind"] == "mesh strip")
    place = ("layers", index, "gap")

    def judged(gap: float) -> list[str]:
        at = f"$.layers[{index}].gap"
        return [one for one in errors(put(document, place, gap)) if one.startswith(at)]

    assert judged(most) == []
    assert len(judged(1.001 * most)) == 1


# ---- whatever the model accepts


def as_in_a_file(value: Any) -> bool:
    """Whether a value can stand in a TOML file, and JSON has it: no null, no infinity, no bytes."""
    if isinstance(value, dict):
        return all(map(as_in_a_file, value.values()))
    if isinstance(value, list):
        return all(map(as_in_a_file, value))
    if isinstance(value, float):
        return math.isfinite(value)
    return isinstance(value, str | int)


@BOUNDED
@given(changed_documents(WEIRD | NEARBY))
def test_whatever_the_model_accepts_is_valid(document: Any) -> None:
    if as_in_a_file(document) and not refused(document):
        assert errors(document) == []
