"""A rod with several wraps on the command line: which wrap is worked at, and what is written."""

import csv
import io
import json
import tomllib
from pathlib import Path

import numpy as np
import pdfplumber
import pytest

from render.cli.arguments import DesignOptions, ViewOptions, read_subject
from render.cli.main import main
from render.common.problems import RequestProblem
from render.common.progress import Progress
from render.paper import sheet
from render.request.subject import Pixels, Subject
from scenes.design.rod import other_wraps
from scenes.files import samples
from scenes.parts.view import View

FURTHER = """
[[wraps]]
name = "fore wrap"
placement = { from = 420, to = 440 }
layers = [ { kind = "cover", thread = "Deepwater Navy A", margin = 0 } ]
finish = { coats = 1 }
variants = [ { name = "gold", changes = { "cover.thread" = "Gorse Gold A" } } ]
"""


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "rod.toml"
    path.write_text(samples.text("ringed-grip-wrap") + FURTHER, "utf-8")
    return path


def test_a_wrap_is_worked_at_by_its_name(file: Path) -> None:
    options = DesignOptions(wrap="fore wrap", variant="gold", coats=2)
    design = read_subject(str(file), options).design
    assert design.wrap_name == "fore wrap"
    assert design.layers[0].thread == "Gorse Gold A"
    assert design.finish.coats == 2
    assert next(other_wraps(design)).finish.coats == 3


def test_dry_is_the_whole_rod(file: Path) -> None:
    design = read_subject(str(file), DesignOptions(dry=True)).design
    assert {rod.finish.coats for rod in (design, *other_wraps(design))} == {0}


def test_the_whole_rod_is_a_view(file: Path) -> None:
    for options in (ViewOptions(whole=True), ViewOptions(view="whole-rod")):
        design = read_subject(str(file), DesignOptions(), options).design
        assert design.camera.view is View.WHOLE_ROD
    with pytest.raises(RequestProblem, match="keep one"):
        read_subject(str(file), DesignOptions(), ViewOptions(whole=True, view="close"))


def test_a_wrong_name_is_refused(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(file), "--wrap", "for wrap"]) == 2
    assert capsys.readouterr().err == (
        'wrap: "for wrap" is not a wrap of this design; did you mean fore wrap?\n'
    )
    assert main(["check", "sample:ringed-grip-wrap", "--wrap", "fore wrap"]) == 2
    assert "it has only one" in capsys.readouterr().err


def test_check_reports_each_wrap_and_the_rod(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["check", str(file)]) == 0
    lines = capsys.readouterr().out.splitlines()
    heads = [lines.index(head) for head in ('WRAP "first wrap"', 'WRAP "fore wrap"', "THE ROD")]
    assert heads == sorted(heads)
    assert any(line.startswith("  finish on the rod ") for line in lines[heads[2] :])
    assert main(["check", str(file), "--wrap", "fore wrap"]) == 0
    alone = capsys.readouterr().out
    assert "WRAP" not in alone
    assert "THE ROD" not in alone
    assert "420 to 440 mm, 20 mm long" in alone


def test_change_reaches_a_further_wrap(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = file.read_text("utf-8")
    assert main(["change", str(file), "wraps.0.placement.to=444"]) == 0
    assert file.read_text("utf-8") == before.replace("to = 440", "to = 444")
    assert main(["change", str(file), "wraps.0.placement.from=379"]) == 2
    assert "start it at 385 mm or beyond" in capsys.readouterr().err
    assert file.read_text("utf-8") == before.replace("to = 440", "to = 444")


def test_numbers_of_the_rod_and_of_each_wrap(file: Path, tmp_path: Path) -> None:
    out = tmp_path / "rod.json"
    assert main(["sheet", str(file), "-o", str(out)]) == 0
    written = json.loads(out.read_text("utf-8"))
    names = [one["title"].rpartition(": ")[2] for one in (written, *written["wraps"])]
    assert names == ["the rod", "first wrap", "fore wrap"]
    table = tmp_path / "rod.csv"
    assert main(["sheet", str(file), "-o", str(table), "--wrap", "fore wrap"]) == 0
    rows = list(csv.reader(io.StringIO(table.read_text("utf-8"))))
    assert [row[5] for row in rows if row[3] == "title"] == ["Heronry rings: fore wrap"]


def test_the_sheet_begins_with_the_rod(
    file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    views: list[View] = []

    def grain(subject: Subject, progress: Progress, view: View = View.WHOLE_WRAP) -> Pixels:
        views.append(view)
        return np.full((56, 377, 3), 128, np.uint8)

    monkeypatch.setattr(sheet, "picture_of", grain)
    out = tmp_path / "rod.pdf"
    assert main(["sheet", str(file), "-o", str(out)]) == 0
    assert views == [View.WHOLE_ROD, View.WHOLE_WRAP, View.WHOLE_WRAP]
    with pdfplumber.open(out) as pdf:
        pages = [page.extract_text() for page in pdf.pages]
    assert "Heronry rings: the rod" in pages[0]
    assert "page 1 of 2" in pages[0]
    assert "Order of work over the rod" in "\n".join(pages[:2])
    assert "coat 2, on" in pages[0]
    firsts = [page for page in pages if "page 1 of" in page]
    assert ["first wrap" in firsts[1], "fore wrap" in firsts[2], len(firsts)] == [True, True, 3]


def test_the_edits_of_one_wrap_reach_each_by_its_name(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = file.read_text("utf-8")
    at = ["--wrap", "fore wrap"]
    assert main(["change", str(file), "placement.to=444", *at]) == 0
    assert file.read_text("utf-8") == before.replace("to = 440", "to = 444")
    assert main(["variant", "list", str(file), *at]) == 0
    assert "gold: " in capsys.readouterr().out
    assert main(["variant", "promote", str(file), "gold", *at]) == 0
    assert main(["add", str(file), "rings", *at]) == 0
    assert main(["remove", str(file), "rings", *at]) == 0
    assert main(["move", str(file), "layers.0", "1", *at]) == 2
    read = tomllib.loads(file.read_text("utf-8"))
    assert read["wraps"][0]["layers"] == [
        {"kind": "cover", "thread": "Gorse Gold A", "margin": 0},
    ]
    assert read["layers"] == tomllib.loads(before)["layers"]
    capsys.readouterr()
    assert main(["change", str(file), "placement.to=450", "--wrap", "for wrap"]) == 2
    assert capsys.readouterr().err.startswith('wrap: "for wrap" is not a wrap of this design')


def test_a_wrap_is_added_and_removed(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = file.read_text("utf-8")
    assert main(["add", str(file), "wrap", "--wrap", "fore wrap"]) == 0
    assert capsys.readouterr().out == "rod.toml: wrap 3 added\n"
    wraps = tomllib.loads(file.read_text("utf-8"))["wraps"]
    assert [wrap["name"] for wrap in wraps] == ["fore wrap", "wrap 3"]
    assert main(["remove", str(file), "wrap"]) == 2
    assert '--wrap: "first wrap", "fore wrap" or "wrap 3"' in capsys.readouterr().err
    assert main(["remove", str(file), "wrap", "--wrap", "wrap 3"]) == 0
    assert file.read_text("utf-8") == before


def test_fit_changes_the_wrap_that_it_is_asked_for(
    file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "fitted.toml"
    wish = ["--wish", "placement.to=446", "--wrap", "fore wrap"]
    assert main(["fit", str(file), *wish, "-o", str(out)]) == 0
    before = file.read_text("utf-8")
    assert out.read_text("utf-8") == before.replace("to = 440", "to = 446")


def test_a_thread_is_swapped_on_the_whole_rod(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = file.read_text("utf-8")
    first = next(line for line in text.splitlines() if line.startswith('thread = "'))
    old = first.split('"')[1]
    file.write_text(text.replace("Deepwater Navy A", old), "utf-8")
    text = file.read_text("utf-8")
    assert main(["change", str(file), "--swap", f"{old}=Tarn Teal A"]) == 0
    design = tomllib.loads(file.read_text("utf-8"))
    variants = "[[variants]]"
    here, there = (one.split(variants)[0] for one in (text, file.read_text("utf-8")))
    assert here.replace(old, "Tarn Teal A") == there
    assert design["wraps"][0]["layers"][0]["thread"] == "Tarn Teal A"
    capsys.readouterr()
    before = file.read_bytes()
    for swap, said in (
        ("Tarn Teel A=Gorse Gold A", 'is no thread of this design; did you mean "Tarn Teal A"?'),
        ("Tarn Teal A", "is not two threads; write it like"),
        ("Tarn Teal A=No Such A", 'there is no thread "No Such A"'),
    ):
        assert main(["change", str(file), "--swap", swap]) == 2
        assert said in capsys.readouterr().err
        assert file.read_bytes() == before


def test_guides_come_from_a_list(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    guide = '\n[[blank.fitted]]\nkind = "guide"  # bound plainly\nat = 550\nlength = 30\n'
    guide += 'thread = "Gorse Gold A"\n'
    file.write_text(samples.text("ringed-grip-wrap") + guide, "utf-8")
    table = file.parent / "guides.csv"
    table.write_text("place;foot;ring\n570;12;6\n\n420;26;16\n500;18;10\n", "utf-8")
    assert main(["change", str(file), "--guides", str(table)]) == 0
    text = file.read_text("utf-8")
    fitted = tomllib.loads(text)["blank"]["fitted"]
    before = tomllib.loads(samples.text("ringed-grip-wrap"))["blank"]["fitted"]
    assert fitted[: len(before)] == before
    found = [(one["at"], one["length"], one["ring"]) for one in fitted[len(before) :]]
    assert found == [(420, 26, 16), (500, 18, 10), (570, 12, 6)]
    assert {one["thread"] for one in fitted[len(before) :]} == {"Gorse Gold A"}
    assert "# bound plainly" in text
    capsys.readouterr()
    for lines, said in (
        ("place\n", "the list holds no guide"),
        ("420;26\n500\n", '"500" in line 2 does not hold two or three numbers'),
        ("420;x\n", '"x" in line 1 is not a number'),
        ("420;260\n", "260 mm is not between 2 and 150 mm"),
        ("420;26\n" * 500, "entries are more than 24"),
    ):
        table.write_text(lines, "utf-8")
        assert main(["change", str(file), "--guides", str(table)]) == 2
        assert said in capsys.readouterr().err
        assert file.read_text("utf-8") == text
