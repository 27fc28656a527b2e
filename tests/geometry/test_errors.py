"""Geometry's errors name quantities of its own; which field of a file that is, others know."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import geometry
from scenes.design.document import Design
from scenes.design.layers import LAYER_KINDS
from scenes.parts.blank import Grip
from scenes.parts.guides import GuideFoot

FOLDER = Path(geometry.__file__).parent
SOURCES = sorted(FOLDER.rglob("*.py"))

Function = ast.FunctionDef | ast.AsyncFunctionDef


def tables() -> dict[str, set[str]]:
    """Fields of every table of a design, by each name that paths have for the table."""
    fields: dict[str, set[str]] = {"layers": {"[0-9]+"}, "grip": set(), "guide": set()}
    for name, field in Design.model_fields.items():
        model = field.annotation
        fields[name] = set(getattr(model, "model_fields", {})) | fields.get(name, set())
    for model in LAYER_KINDS.values():
        fields.setdefault(str(model.role), set()).update(model.model_fields)
    for name, model in (("grip", Grip), ("guide", GuideFoot)):
        fields[name] = {field.alias or key for key, field in model.model_fields.items()}
    return {name: members for name, members in fields.items() if members}


def paths_in(text: str) -> list[str]:
    """Paths of the design file that stand in a text."""
    patterns = (
        rf"(?<![\w./]){table}\.(?:{'|'.join(sorted(fields))})\b"
        for table, fields in tables().items()
    )
    return [found for pattern in patterns for found in re.findall(pattern, text)]


def words_of(tree: ast.AST) -> Iterator[str]:
    """Every text in a program, docstrings too."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.value


def refusals(tree: ast.AST, known: frozenset[str]) -> Iterator[tuple[ast.Call, frozenset[str]]]:
    """Every `GeometryError` that is made, with the parameters and attributes known there."""
    for node in ast.iter_child_nodes(tree):
        here = known
        if isinstance(node, ast.ClassDef):
            here = frozenset(
                one.target.id
                for one in node.body
                if isinstance(one, ast.AnnAssign) and isinstance(one.target, ast.Name)
            )
        elif isinstance(node, Function):
            arguments = node.args
            every = arguments.posonlyargs + arguments.args + arguments.kwonlyargs
            here = frozenset(one.arg for one in every)
            here = known | here if "self" in here else here
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "GeometryError":
            yield node, known
        yield from refusals(node, here)


def quantities_of(argument: ast.expr, tree: ast.AST) -> set[str]:
    """Every text that an argument may be: itself, or what its name was given before."""
    if isinstance(argument, ast.Constant):
        return {argument.value}
    assert isinstance(argument, ast.Name), ast.dump(argument)
    given = [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Assign)
        and any(isinstance(one, ast.Name) and one.id == argument.id for one in node.targets)
    ]
    return {
        one.value
        for value in given
        for one in (value.body, value.orelse)  # a choice between two
    }


def test_the_test_knows_a_path() -> None:
    words = "relief.angle, layers.2, blank.stations, grip.to and trim.offset"
    assert sorted(paths_in(words)) == sorted(re.findall(r"\w+\.\w+", words))
    assert paths_in("`geometry.layers.cover`, tests/geometry/layers/test_taut.py, cover.py") == []


@pytest.mark.parametrize("source", SOURCES, ids=lambda path: str(path.relative_to(FOLDER)))
def test_geometry_names_no_path_of_the_design_file(source: Path) -> None:
    tree = ast.parse(source.read_text("utf-8"))
    assert [path for words in words_of(tree) for path in paths_in(words)] == []


def test_every_error_names_a_parameter() -> None:
    count = 0
    for source in SOURCES:
        tree = ast.parse(source.read_text("utf-8"))
        for call, known in refusals(tree, frozenset()):
            count += 1
            assert quantities_of(call.args[0], tree) <= known, f"{source.name}:{call.lineno}"
    assert count > 10
