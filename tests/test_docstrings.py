"""Docstrings describe every parameter, and cite sources that are listed."""

import ast
import inspect
import io
import re
import tokenize
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
BIBLIOGRAPHY = ROOT / "tests" / "REFERENCES.bib"

ROOMS = ("geometry", "materials", "render", "scenes")
"""Folders in which every parameter of a public function is described."""

SHAPED = ("geometry", "materials")
"""Folders in which an array also has its shape, and every parameter a sentence."""

Function = ast.FunctionDef | ast.AsyncFunctionDef

_SECTION = re.compile(r"Parameters\n-{3,}\n(.*?)(?:\n\n[A-Z][a-z]+\n-{3,}\n|\Z)", re.DOTALL)
_KEY = re.compile(r"(?<![\w)\]\"'])\[(?=\w*[a-z0-9])([A-Z][A-Za-z]*[0-9]*(?:-[0-9]+)?)\](?!\()")
_ENTRY = re.compile(r"^@\w+\{([^,\s]+),$", re.MULTILINE)


def sources(*rooms: str) -> list[Path]:
    """Python files in some rooms."""
    found: list[Path] = []
    for room in rooms:
        path = ROOT / room
        found += [path] if path.is_file() else sorted(path.rglob("*.py"))
    return found


@cache
def overridden() -> dict[str, set[str]]:
    """Methods that each class of the product gets from its bases, by the names of classes."""
    bases: dict[str, set[str]] = {}
    methods: dict[str, set[str]] = {}
    for path in sources("geometry", "materials", "scenes", "render"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.ClassDef):
                named = [one.value if isinstance(one, ast.Subscript) else one for one in node.bases]
                bases.setdefault(node.name, set()).update(getattr(one, "id", "") for one in named)
                methods.setdefault(node.name, set()).update(
                    one.name for one in node.body if isinstance(one, Function)
                )

    def inherited(name: str) -> set[str]:
        above = bases.get(name, set()) - {name}
        return set().union(*(methods.get(one, set()) | inherited(one) for one in above))

    return {name: inherited(name) for name in bases}


def public(
    body: list[ast.stmt], inherited: dict[str, set[str]], *, within: str = ""
) -> Iterator[tuple[str, Function]]:
    """Public functions and methods, but for those that override a method of a base."""
    for node in body:
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            yield from public(node.body, inherited, within=node.name)
        if isinstance(node, Function) and not node.name.startswith("_"):
            if node.name not in inherited.get(within, ()):
                yield f"{within}.{node.name}" if within else node.name, node


def parameters(node: Function, *, method: bool) -> list[ast.arg]:
    """Parameters that a caller gives."""
    given = node.args
    every = [*given.posonlyargs, *given.args, *given.kwonlyargs]
    every += [given.vararg] if given.vararg else []
    return [one for one in every if not (method and one.arg in ("self", "cls"))]


def described(docstring: str) -> dict[str, tuple[str, str]]:
    """Type and description by the name of the parameter."""
    section = _SECTION.search(docstring)
    found: dict[str, tuple[str, str]] = {}
    names: list[str] = []
    for line in section.group(1).splitlines() if section else ():
        if line and not line.startswith(" "):
            listed, _, kind = line.partition(" : ")
            names = [name.strip().lstrip("*") for name in listed.split(",")]
            found |= dict.fromkeys(names, (kind, ""))
        else:
            for name in names:
                kind, text = found[name]
                found[name] = kind, f"{text} {line.strip()}".strip()
    return found


def gaps(text: str, inherited: dict[str, set[str]], *, shaped: bool) -> list[str]:
    """What is missing from the docstrings of a file."""
    missing = []
    for name, node in public(ast.parse(text).body, inherited):
        known = described(inspect.cleandoc(ast.get_docstring(node) or ""))
        for one in parameters(node, method="." in name):
            kind, words = known.get(one.arg, ("", ""))
            annotation = ast.unparse(one.annotation) if one.annotation else ""
            if not kind:
                missing.append(f"{name}({one.arg}): no type")
            elif shaped and not words:
                missing.append(f"{name}({one.arg}): no description")
            elif shaped and re.search(r"Array", annotation) and not re.search(r"\(|shape", kind):
                missing.append(f"{name}({one.arg}): no shape")
    return missing


def cited_in(path: Path) -> set[str]:
    """Keys in the docstrings and comments of a Python file, or anywhere in a shader."""
    text = path.read_text("utf-8")
    if path.suffix == ".py":
        kinds = (tokenize.STRING, tokenize.COMMENT)
        tokens = tokenize.generate_tokens(io.StringIO(text).readline)
        text = "\n".join(
            token.string
            for token in tokens
            if token.type in kinds and token.string.startswith(('"""', "#", 'r"""'))
        )
    return set(_KEY.findall(text))


def test_the_parser_knows_what_is_missing() -> None:
    text = '''
def shown(a: float, b: ArrayLike, c: int, d: int, e: NDArray[float]) -> None:
    """Show.

    Parameters
    ----------
    a : float
        Length, mm.
    b, c : float
        Two at once.
    e : (n,) float

    Returns
    -------
    d : int
        Not a parameter.
    """


class Shown:
    def method(self, z: float) -> None:
        """Show."""

    def inherited(self, z: float) -> None:
        """Show."""

    def _private(self, z: float) -> None:
        """Show."""
'''
    inherited = {"Shown": {"inherited"}}
    assert gaps(text, inherited, shaped=False) == ["shown(d): no type", "Shown.method(z): no type"]
    assert gaps(text, inherited, shaped=True) == [
        "shown(b): no shape",
        "shown(d): no type",
        "shown(e): no description",
        "Shown.method(z): no type",
    ]


@pytest.mark.parametrize("room", ROOMS)
def test_every_parameter_of_a_public_function_is_described(room: str) -> None:
    files, inherited = sources(room), overridden()
    assert files
    missing = {
        str(path.relative_to(ROOT)): gaps(path.read_text("utf-8"), inherited, shaped=room in SHAPED)
        for path in files
    }
    assert {path: found for path, found in missing.items() if found} == {}


def test_every_cited_key_is_listed_and_every_listed_source_is_cited() -> None:
    entries = _ENTRY.findall(BIBLIOGRAPHY.read_text("utf-8"))
    assert [key for key, count in Counter(entries).items() if count > 1] == []
    assert entries == sorted(entries, key=str.casefold)
    files = [*sources("geometry", "materials", "scenes", "render", "tests")]
    files += sorted((ROOT / "render").rglob("*.glsl"))
    cited = {path: cited_in(path) for path in files if path != Path(__file__)}
    unknown = {
        str(path.relative_to(ROOT)): keys - set(entries)
        for path, keys in cited.items()
        if keys - set(entries)
    }
    assert unknown == {}
    assert set(entries) - set().union(*cited.values()) == set()
