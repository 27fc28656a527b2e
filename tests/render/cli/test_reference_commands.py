"""The commands that explain the fields of a design file."""

import json
from pathlib import Path

import pytest

from render.cli import main as cli
from scenes.reference.schema import design_schema
from scenes.reference.tables import tables

Captured = pytest.CaptureFixture[str]


@pytest.fixture(autouse=True)
def in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def run(capsys: Captured, *arguments: str) -> tuple[int, str, str]:
    code = cli.main(arguments)
    return code, *capsys.readouterr()


def test_fields_lists_every_table(capsys: Captured) -> None:
    code, out, _ = run(capsys, "fields")
    assert code == 0
    listed = {line.partition("  ")[0] for line in out.splitlines()}
    assert {table.name for table in tables()} <= listed


@pytest.mark.parametrize("table", tables(), ids=lambda table: table.name)
def test_fields_of_a_table_are_all_shown(capsys: Captured, table) -> None:
    code, out, _ = run(capsys, "fields", *table.name.split())
    assert code == 0
    _, _, shown = out.partition(f"{table.name}: ")
    firsts = {line.split(" ")[0] for line in shown.splitlines()}
    assert {field.key for field in table.fields} <= firsts


def test_a_field_is_shown_with_all_that_is_known_of_it(capsys: Captured) -> None:
    _, out, _ = run(capsys, "fields", "relief.gap")
    for part in (
        "mesh strip",
        "The gap along the blank between strips.",
        "mm or in",
        "0 to 1000 mm; 0 to 39.3 in",
        "one of gap, strip_width or covered_share",
        "21.2",
    ):
        assert part in out


def test_an_unknown_name_is_refused_in_a_sentence(capsys: Captured) -> None:
    code, out, err = run(capsys, "fields", "gpa")
    assert (code, out) == (2, "")
    assert err == ('fields: "gpa" is not a table, a kind of layer or a field; did you mean gap?\n')


def test_the_schema_is_printed_or_written(capsys: Captured) -> None:
    code, out, _ = run(capsys, "schema")
    assert code == 0
    assert json.loads(out) == design_schema()
    code, said, _ = run(capsys, "schema", "-o", "turnlight.schema.json")
    assert code == 0
    assert said == "turnlight.schema.json: the JSON Schema of a design file\n"
    assert Path("turnlight.schema.json").read_text(encoding="utf-8") == out


def test_the_schema_never_replaces_a_design(capsys: Captured) -> None:
    Path("mine.toml").write_text("mine", encoding="utf-8")
    code, _, err = run(capsys, "schema", "-o", "mine.toml")
    assert code == 2
    assert err.startswith('output: "mine.toml" ends in ".toml", which says no kind; give .json')
    assert Path("mine.toml").read_text(encoding="utf-8") == "mine"


def test_several_names_are_explained_one_after_another(capsys: Captured) -> None:
    alone = [run(capsys, "fields", *name)[1] for name in (["cover"], ["mesh", "strip"], ["finish"])]
    code, out, _ = run(capsys, "fields", "cover", "mesh", "strip", "finish")
    assert (code, out) == (0, "\n".join(alone))


def test_of_several_names_the_unknown_one_is_refused(capsys: Captured) -> None:
    code, out, err = run(capsys, "fields", "cover", "finnish")
    assert (code, out) == (2, "")
    assert err.startswith('fields: "finnish" is not a table')
    assert err.endswith("did you mean finish?\n")
