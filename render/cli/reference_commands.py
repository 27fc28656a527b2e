"""Commands that explain what may stand in a design file, to people and to text editors."""

import json
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.table import Table

from render.cli.streams import print_line, print_table
from render.common.files import check_suffix, replacing
from render.common.problems import RequestProblem
from scenes.problems import DesignProblem
from scenes.reference.lookup import Found, find
from scenes.reference.schema import design_schema
from scenes.reference.tables import FieldReference, TableReference, tables

__all__ = ["fields", "schema"]

_COLUMNS = ("meaning", "unit", "range", "default", "example")


def fields(*name: str) -> None:
    """Explain the fields of a design file: meaning, unit, range, default and example.

    Lengths in defaults and examples are in mm.

    Parameters
    ----------
    name : str
        Tables such as finish, kinds of layer such as mesh strip, or fields such as gap or
        relief.gap; without one, all tables are listed.
    """
    if not name:
        print_table(_overview())
        return
    for index, found in enumerate(_found(name)):
        if index:
            print_line("")
        _print_found(found)


def _found(words: Sequence[str]) -> list[Found]:
    """Find what some words stand for; a name may take several of them.

    Raises
    ------
    RequestProblem
    """
    found: list[Found] = []
    rest = list(words)
    while rest:
        for count in range(len(rest), 0, -1):
            try:
                found.append(find(" ".join(rest[:count])))
            except DesignProblem as problem:
                refused = problem
                continue
            rest = rest[count:]
            break
        else:
            raise RequestProblem(f"fields: {refused}") from None
    return found


def _print_found(found: Found) -> None:
    if found.fields:
        print_table(_table(found.fields, held=True))
    for index, table in enumerate(found.tables):
        if index or found.fields:
            print_line("")
        print_line(f"{table.name}: {' or '.join(table.places)}")
        print_line(table.meaning)
        print_table(_table([(table, field) for field in table.fields], held=False))


def schema(*, output: Annotated[Path | None, Parameter(name=["--output", "-o"])] = None) -> None:
    """Write the JSON Schema of a design file, with which text editors complete and check it.

    The first line of a design that was made from a sample names it: turnlight.schema.json, a
    file beside the design.

    Parameters
    ----------
    output : Path, optional
        A JSON file; without it the schema is printed.
    """
    if output is not None:
        check_suffix(output, [".json"])
    text = json.dumps(design_schema(), indent=2, ensure_ascii=False)
    if output is None:
        print_line(text)
        return
    with replacing(output) as unfinished:
        unfinished.write_text(f"{text}\n", encoding="utf-8")
    print_line(f"{output}: the JSON Schema of a design file")


def _overview() -> Table:
    listed = Table(box=None, pad_edge=False)
    for heading in ("name", "what it is", "in a file"):
        listed.add_column(heading, no_wrap=heading == "name")
    for table in tables():
        listed.add_row(table.name, table.meaning, " or ".join(table.places))
    return listed


def _table(listed: Iterable[tuple[TableReference, FieldReference]], *, held: bool) -> Table:
    """Tabulate fields, with the table that holds each if they are of several."""
    made = Table(box=None, pad_edge=False)
    made.add_column("field", no_wrap=True)
    if held:
        made.add_column("of", no_wrap=True)
    for heading in _COLUMNS:
        made.add_column(heading, overflow="fold")
    for table, field in listed:
        owner = [table.name] if held else []
        meaning = f"{field.meaning[:1].upper()}{field.meaning[1:]}."
        made.add_row(
            field.key, *owner, meaning, field.unit, field.allowed, field.default, field.example
        )
    return made
