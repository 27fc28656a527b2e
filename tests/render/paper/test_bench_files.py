"""The bench as CSV and JSON, read back by other readers."""

import csv
import dataclasses
import io
import json
from pathlib import Path

import pytest

from geometry.grid import Detail
from materials.shelf import Shelf
from render.cli import main as cli
from render.common.problems import RequestProblem
from render.paper.bench_files import csv_text, json_text, write_numbers
from scenes.bench.report import bench_report
from scenes.building.build import Plan, build
from scenes.figures.figures import BenchReport
from scenes.files import samples
from scenes.quantities import Units

NAMES = ["half-scale", "two-start-band"]


@pytest.fixture(scope="module")
def benches() -> dict[str, BenchReport]:
    made = {}
    for name in NAMES:
        plan = Plan(samples.load(name).without_variants(), Shelf.shipped())
        made[name] = bench_report(build(plan, Detail.DRAFT))
    return made


def units_of(name: str) -> Units:
    return samples.load(name).units


@pytest.mark.parametrize("name", NAMES)
def test_csv_holds_every_figure_and_cell(benches: dict[str, BenchReport], name: str) -> None:
    bench = benches[name]
    lines = list(csv.DictReader(io.StringIO(csv_text(bench, units_of(name)))))
    assert all(None not in line and None not in line.values() for line in lines)
    figures = {line["key"]: line for line in lines if not line["table"]}
    scale = units_of(name).in_mm
    for key in ("strip_width", "strip_length", "pitch"):
        held = bench.figure(key)
        assert held is not None
        assert float(figures[key]["value"]) == pytest.approx(held.value / scale, rel=1e-6)
        assert figures[key]["unit"] == units_of(name).value
        assert float(figures[key]["plus_minus"]) > 0
        assert figures[key]["how"]
    marks = bench.table("marks")
    assert marks is not None
    lower = [
        float(line["value"]) for line in lines if (line["table"], line["key"]) == ("marks", "lower")
    ]
    held_marks = [cell / scale for cell in marks.column("lower") if isinstance(cell, float)]
    assert lower == pytest.approx(held_marks, rel=1e-6)


@pytest.mark.parametrize("name", NAMES)
def test_json_tells_the_same_as_csv(benches: dict[str, BenchReport], name: str) -> None:
    document = json.loads(json_text(benches[name], units_of(name)))
    lines = list(csv.DictReader(io.StringIO(csv_text(benches[name], units_of(name)))))
    from_csv = {
        line["key"]: line["value"]
        for line in lines
        if not line["table"] and not line["row"] and line["section"] != "design"
    }
    figures = [one for section in document["sections"] for one in section["figures"]]
    assert {one["key"]: str(one["value"]) for one in figures} == from_csv
    assert document["units"] == units_of(name).value
    assert [step["title"] for step in document["order of work"]] == [
        step.title for step in benches[name].steps
    ]


def test_a_text_is_never_a_formula(benches: dict[str, BenchReport]) -> None:
    bench = dataclasses.replace(benches["half-scale"], title='=HYPERLINK("x")')
    lines = list(csv.reader(io.StringIO(csv_text(bench, Units.MM))))
    assert lines[1][5] == '\'=HYPERLINK("x")'
    assert not any(cell.startswith(("=", "@", "+")) for line in lines for cell in line)


def test_a_file_that_cannot_be_written_stays(
    benches: dict[str, BenchReport], tmp_path: Path
) -> None:
    with pytest.raises(RequestProblem, match="is not there"):
        write_numbers(benches["half-scale"], Units.MM, tmp_path / "no" / "a.csv")
    assert list(tmp_path.iterdir()) == []


def test_the_command_writes_both(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    for name in ("a.csv", "a.json"):
        assert cli.main(["sheet", "sample:two-start-band", "-o", name]) == 0
        out, err = capsys.readouterr()
        assert out == f"{name}: 6 sections, lengths in in\n"
        # How long it takes depends on the machine.
        assert not err or (err.startswith("Takes about ") and err.count("\n") == 1)
        assert Path(name).stat().st_size > 2000
    assert cli.main(["sheet", "sample:two-start-band", "-o", "a.xls"]) == 2
    assert "give .pdf, .csv or .json" in capsys.readouterr().err
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.csv", "a.json"]
