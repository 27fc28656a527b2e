"""The field reference: every field of every model is in it, and its examples are right."""

import pytest
from pydantic import TypeAdapter

from materials.shelf import Shelf
from materials.toml_text import parse_value
from scenes.design.document import Design, design_from, document_of
from scenes.design.layers import KINDS
from scenes.files import samples
from scenes.parts.annotations import meaning_of, models_in
from scenes.parts.blank import BlankSpec
from scenes.parts.part import Part
from scenes.problems import DesignProblem
from scenes.quantities import ShelfName, Units, example_of, marker_of
from scenes.reference.lookup import find
from scenes.reference.tables import tables


def models() -> list[type[Part]]:
    """Every model of a design, found from the top."""
    found: list[type[Part]] = [Design]
    for model in found:
        for field in model.model_fields.values():
            found += [inner for inner in models_in(field.annotation) if inner not in found]
    return found


every_model = pytest.mark.parametrize("model", models(), ids=lambda model: model.__name__)


def test_every_kind_is_a_table() -> None:
    assert {kind.name for kind in KINDS} <= {table.name for table in tables()}
    assert {table.model for table in tables()} == set(models())
    names = [table.name for table in tables()]
    assert len(set(names)) == len(names)


@every_model
def test_every_field_is_there_with_meaning_range_and_example(model: type[Part]) -> None:
    table = next(table for table in tables() if table.model is model)
    assert [one.name for one in table.fields] == list(model.model_fields)
    assert table.meaning.endswith(".")
    assert table.places
    for field in table.fields:
        assert field.meaning == meaning_of(model, field.name)
        assert len(field.meaning) > 4, field.key
        assert field.allowed, field.key
        assert field.example, field.key
        assert field in [found for _, found in find(f"{table.name}.{field.key}").fields]


@every_model
def test_examples_are_values_that_the_model_takes(model: type[Part]) -> None:
    table = next(table for table in tables() if table.model is model)
    shelf = Shelf.shipped()
    for field in table.fields:
        if field.example.startswith("[") and field.holds and "{" not in field.example:
            assert field.example == f"[{field.key}]"
            continue
        value = parse_value(field.example)
        info = model.model_fields[field.name]
        if isinstance(marker_of(info), ShelfName):
            assert shelf.thread(value).name == value
        TypeAdapter(info.rebuild_annotation()).validate_python(value, context={"units": Units.MM})


def test_a_missing_list_is_refused_with_its_example() -> None:
    document = document_of(samples.load("half-scale"))
    del document["blank"]["stations"]
    with pytest.raises(DesignProblem) as problem:
        design_from(document)
    example = example_of(BlankSpec.model_fields["stations"])
    assert example is not None
    said = f"blank.stations is missing; give a list such as {example.text}."
    assert str(problem.value) == said


def test_every_own_example_is_shown() -> None:
    for table in tables():
        for field in table.fields:
            own = example_of(table.model.model_fields[field.name])
            assert own is None or field.example == own.text


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ("gap", {"mesh strip.gap"}),
        ("relief.gap", {"mesh strip.gap"}),
        ("Strip-Width", {"mesh strip.strip_width"}),
        ("blank.stations.0.at", {"stations.at"}),
        ("cover.wound.turns", {"wound.turns"}),
        ("trim.threads.1.count", {"threads.count"}),
        ("count", {"cord lattice.count", "threads.count", "grade.count"}),
    ],
)
def test_a_field_is_found_by_name_or_path(asked: str, found: set[str]) -> None:
    assert found <= {f"{table.name}.{field.key}" for table, field in find(asked).fields}


@pytest.mark.parametrize(
    ("asked", "names"),
    [
        ("mesh-strip", ["mesh strip"]),
        ("relief", ["mesh strip", "cord lattice"]),
        ("finish", ["finish"]),
        ("stations", ["stations"]),
        ("blank.fitted", ["grip", "guide"]),
        ("layers", []),
    ],
)
def test_a_table_is_found_by_kind_role_or_field(asked: str, names: list[str]) -> None:
    assert [table.name for table in find(asked).tables] == names


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ("gpa", '"gpa" is not a table, a kind of layer or a field; did you mean gap?'),
        ("finish.coat", '"coat" is not a field there; did you mean coats?'),
        ("releif.gap", '"releif" is not a table, a kind of layer or a field; did you mean relief'),
        (
            "xyzzy",
            '"xyzzy" is not a table, a kind of layer or a field; give design, order, ',
        ),
        ("...", '"..." is not a table'),
    ],
)
def test_an_unknown_name_is_refused_with_near_ones(asked: str, said: str) -> None:
    with pytest.raises(DesignProblem) as problem:
        find(asked)
    assert str(problem.value).startswith(said)
