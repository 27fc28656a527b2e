"""What the page can do to a design can be done from the command line, with the same refusals."""

import errno
import io
import os
import subprocess
import sys
import tomllib
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from materials.shelf import Shelf
from render.cli import edit_commands
from render.cli.main import main
from render.common.error_reporting import FAILED, REFUSED
from scenes.customer.number import design_number
from scenes.design.variants import variant
from scenes.files import samples, storage
from scenes.files.companion_files import SHIPPED
from tests.waiting import WITHIN

ROOT = Path(__file__).resolve().parents[3]

SPOOL = [
    "--kind", "metallic", "--size", "A", "--colour", "2f7a55", "--diameter", "0.18", "--tex", "30",
    "--spool", "100", "--price", "5",
]  # fmt: skip


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "mine.toml"
    path.write_text(samples.text("half-scale"), encoding="utf-8")
    return path


def answer_of(name: str) -> str:
    number = design_number(samples.load(name), Shelf.shipped(), SHIPPED)
    return f"I choose as shown.\nDesign number: {number}"


def held(file: Path) -> dict[str, Any]:
    return tomllib.loads(file.read_text(encoding="utf-8"))


def test_fields_are_changed_and_comments_stay(file, capsys):
    comments = file.read_text(encoding="utf-8").count("#")
    assert main(["change", str(file), "relief.gap=22", "cover.thread=Gorse Gold A"]) == 0
    assert capsys.readouterr().out == "mine.toml: gap 22 mm, cover Gorse Gold A\n"
    assert held(file)["layers"][0]["gap"] == 22
    assert held(file)["layers"][1]["thread"] == "Gorse Gold A"
    assert file.read_text(encoding="utf-8").count("#") == comments


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (
            "finish.coat_thickness=0,14",
            'Coat thickness of the finish: "0,14" has a comma in its number and should be 0.14; '
            "give the wet thickness of one coat in mm (finish.coat_thickness).",
        ),
        (
            "blank.stations=[{at = 200, diameter = 19,90}]",
            "Stations of the blank: diameter = 19,90 has a comma in its number; give a decimal "
            "point, diameter = 19.90 (blank.stations).",
        ),
    ],
)
def test_a_decimal_comma_is_refused_with_what_would_be_right(file, capsys, change, words):
    before = file.read_bytes()
    assert main(["change", str(file), change]) == 2
    assert capsys.readouterr().err == f"{words}\n"
    assert file.read_bytes() == before


def test_what_a_change_takes_the_place_of_is_told(file, capsys):
    assert main(["change", str(file), "relief.strip_width=25"]) == 0
    *_, told = capsys.readouterr().out.splitlines()
    words = "the gap of the relief (relief.gap) left out"
    assert told == f"mine.toml: {words}, which what is given takes the place of"
    assert "gap" not in held(file)["layers"][0]


def test_variants_are_listed_renamed_moved_and_made_the_design(file, capsys):
    assert main(["variant", "rename", str(file), "dry", "without finish"]) == 0
    assert main(["move", str(file), "variants.3", "0"]) == 0
    assert main(["variant", "promote", str(file), "wide gap"]) == 0
    assert held(file)["layers"][0]["gap"] == 36
    capsys.readouterr()
    assert main(["variant", "list", str(file)]) == 0
    told = capsys.readouterr().out.splitlines()
    assert [one.partition(":")[0] for one in told] == [
        "without finish",
        "narrow gap",
        "before wide gap",
        "warm trim",
    ]
    assert told[2] == "before wide gap: gap 21.2 mm"


def test_what_variants_lose_with_a_layer_is_told(file, capsys):
    assert main(["remove", str(file), "trim"]) == 0
    assert '"warm trim" changes nothing else, and goes too' in capsys.readouterr().out


def test_a_field_is_left_out_again(file):
    assert main(["change", str(file), "relief.crossing_height=0.7"]) == 0
    assert held(file)["layers"][0]["crossing_height"] == 0.7
    assert main(["change", str(file), "relief.crossing_height="]) == 0
    assert "crossing_height" not in held(file)["layers"][0]


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["change", "FILE", "relief.gap=99"], "leaves no strip"),
        (["change", "FILE", "relief.gap"], "is not a field and a value"),
        (["change", "FILE"], "nothing to change"),
        (["change", "sample:half-scale", "relief.gap=20"], "is a sample"),
        (["add", "FILE", "zigzag"], "neither a kind of layer nor a list"),
        (["add", "FILE", "cover", "--at", "99"], "no position"),
        (["remove", "FILE", "relief"], "relief"),
        (["move", "FILE", "trim.threads.0", "9"], "give 0 to 3"),
        (["duplicate", "FILE", "finish"], "no entry"),
        (["variant", "promote", "FILE", "wide"], "did you mean wide gap?"),
        (["variant", "rename", "FILE", "dry", "wide gap"], "used twice"),
        (["shelf", "remove", "FILE", "Heron Silver A"], "not there"),
    ],
)
def test_what_cannot_be_done_is_refused_and_the_file_stays(file, capsys, arguments, sentence):
    given = [str(file) if one == "FILE" else one for one in arguments]
    assert main(given) == 2
    assert sentence in capsys.readouterr().err
    assert file.read_text(encoding="utf-8") == samples.text("half-scale")


def test_lists_are_rearranged(file):
    first = held(file)["layers"][2]["threads"][0]
    assert main(["move", str(file), "trim.threads.0", "2"]) == 0
    assert held(file)["layers"][2]["threads"][2] == first
    assert main(["duplicate", str(file), "trim.threads.2"]) == 0
    assert main(["remove", str(file), "trim.threads.0"]) == 0
    assert len(held(file)["layers"][2]["threads"]) == 4
    assert main(["add", str(file), "seam trim"]) == 0
    assert main(["add", str(file), "blank.stations"]) == 0
    assert [one["kind"] for one in held(file)["layers"]].count("seam trim") == 2
    assert len(held(file)["blank"]["stations"]) == 6


def test_a_thread_is_put_on_the_own_shelf(file, capsys):
    assert main(["shelf", "add", str(file), "Mill Pond Green A", *SPOOL]) == 0
    assert held(file)["shelf"] == "my-shelf.toml"
    assert Shelf.load(file.with_name("my-shelf.toml"))["Mill Pond Green A"].spool_m == 100
    capsys.readouterr()
    assert main(["shelf", "list", str(file)]) == 0
    own = [line for line in capsys.readouterr().out.splitlines() if line.startswith("*")]
    assert [line[2:].split("  ")[0] for line in own] == ["Mill Pond Green A"]
    assert main(["change", str(file), "cover.thread=Mill Pond Green A"]) == 0


@pytest.mark.parametrize(
    "arguments",
    [
        ["change", "FILE", "relief.gap=22"],
        ["add", "FILE", "seam trim"],
        ["remove", "FILE", "trim.threads.0"],
        ["move", "FILE", "trim.threads.0", "2"],
        ["duplicate", "FILE", "trim.threads.2"],
        ["shelf", "add", "FILE", "Mill Pond Green A", *SPOOL],
    ],
)
def test_an_edit_of_another_program_meanwhile_is_not_written_over(
    file, capsys, monkeypatch, arguments
):
    check = edit_commands.Desk._check

    def checked_meanwhile(*given: Any) -> None:
        check(*given)
        with file.open("a", encoding="utf-8") as text:
            text.write("# theirs\n")

    monkeypatch.setattr(edit_commands.Desk, "_check", staticmethod(checked_meanwhile))
    assert main([str(file) if one == "FILE" else one for one in arguments]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err == (
        '"mine.toml" was changed by another program meanwhile, and stays as it is; give the '
        "command again.\n"
    )
    held_now = file.read_text(encoding="utf-8")
    assert held_now.replace("# theirs\n", "") == samples.text("half-scale")
    assert [one.name for one in file.parent.iterdir()] == ["mine.toml"]


def test_of_commands_at_the_same_time_none_loses_an_edit(file):
    """As many layers as commands that said so: each of the others was refused."""
    before = len(held(file)["layers"])
    add = [sys.executable, "-m", "render", "add", str(file), "seam trim"]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    several = [
        subprocess.Popen(add, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        for _ in range(3)
    ]
    said = [one.communicate(timeout=WITHIN) for one in several]
    codes = [one.returncode for one in several]
    assert len(held(file)["layers"]) - before == codes.count(0) > 0
    for code, (out, err) in zip(codes, said, strict=True):
        assert code in (0, 2)
        assert (b"added" in out, b"changed by another program" in err) == (code == 0, code == 2)


def test_an_answer_is_entered_with_the_day_and_told(file, capsys, monkeypatch):
    chosen = variant(samples.load("half-scale"), "wide gap")
    number = design_number(chosen, Shelf.shipped(), SHIPPED)
    comments = file.read_text(encoding="utf-8").count("#")
    assert main(["agree", str(file), f"I choose B.\nDesign number: {number}\nRemark: fine"]) == 0
    told = capsys.readouterr().out.splitlines()
    assert told[0] == "mine.toml: agreed: wide gap"
    assert told[1].startswith("Agreed by the customer on 20")
    assert "make that variant the design." in told[1]
    (entry,) = held(file)["agreed"]
    assert (entry["number"], entry["scheme"], entry["remark"]) == (number, "wide gap", "fine")
    assert date.fromisoformat(entry["date"]) <= date.today()
    assert file.read_text(encoding="utf-8").count("#") == comments
    monkeypatch.setattr("sys.stdin", io.StringIO(f"design number {number.lower()}"))
    assert main(["agree", str(file), "-"]) == 2
    assert "is entered already" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("the second one, please", "holds no design number"),
        ("Design number: 7K3Q-9XMQ", "a letter of it has changed on its way"),
        (answer_of("cord-lattice"), "is the number of another design"),
    ],
)
def test_another_answer_is_refused_and_nothing_is_written(file, capsys, text, said):
    before = file.read_bytes()
    assert main(["agree", str(file), text]) == 2
    told = capsys.readouterr()
    assert said in told.err
    assert told.err.count("\n") == 1
    assert file.read_bytes() == before


# ---- A file without layers

BARE = """# My rod
turnlight = 1
units = "{units}"
title = "Bare"

[blank]
colour = "#20242a"
stations = [{{ at = {first}, diameter = {thick} }}, {{ at = {last}, diameter = {thin} }}]

[placement]
from = {start}
to = {end}
"""
MM = {"units": "mm", "first": 100, "thick": 20, "last": 600, "thin": 17, "start": 200, "end": 400}
INCHES = {"units": "in", "first": 4, "thick": 0.8, "last": 24, "thin": 0.7, "start": 4, "end": 16}


@pytest.mark.parametrize("values", [MM, INCHES], ids=["mm", "up to the first reading"])
@pytest.mark.parametrize(
    ("kind", "layers"),
    [
        ("cover", ["cover"]),
        ("marbled coat", ["marbled coat"]),
        # A relief must have a cover over it, and letters lie on one.
        ("mesh strip", ["mesh strip", "cover"]),
        ("cord lattice", ["cord lattice", "cover"]),
        ("decal", ["cover", "decal"]),
    ],
)
def test_the_first_layer_is_added(kind, layers, values, tmp_path, capsys) -> None:
    path = tmp_path / "bare.toml"
    path.write_text(BARE.format(**values), encoding="utf-8")
    assert main(["add", str(path), kind]) == 0
    assert capsys.readouterr().out.startswith(f"bare.toml: {kind} added, the first layer")
    assert path.read_text(encoding="utf-8").startswith("# My rod\n")
    assert [layer.kind for layer in storage.load(path).layers] == layers


def test_what_cannot_be_the_first_layer_is_refused_and_nothing_is_written(tmp_path, capsys) -> None:
    path = tmp_path / "bare.toml"
    text = BARE.format(**MM)
    path.write_text(text, encoding="utf-8")
    assert main(["add", str(path), "seam trim"]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert path.read_text(encoding="utf-8") == text


# ---- What cannot be written


def test_a_full_disk_is_a_failure_of_the_machine_for_every_command(
    file, tmp_path, capsys, monkeypatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    before = file.read_bytes()
    for step in ("fsync", "replace"):
        monkeypatch.setattr(os, step, full)
    for words in (
        ["change", file, "relief.gap=22"],
        ["new", tmp_path / "new.toml", "--from", "half-scale"],
        ["shelf", "add", file, "New One", *SPOOL],
        ["schema", "-o", tmp_path / "schema.json"],
    ):
        assert main([str(word) for word in words]) == FAILED
        out, err = capsys.readouterr()
        assert out == ""
        assert "because there is no room left on the disk; free some or" in err
    assert file.read_bytes() == before
    assert list(tmp_path.iterdir()) == [file]


def test_a_file_that_may_not_be_changed_is_worked_on_as_a_copy(file, capsys, monkeypatch) -> None:
    before = file.read_bytes()
    monkeypatch.setattr(os, "access", lambda *_: False)
    assert main(["change", str(file), "relief.gap=22"]) == REFUSED
    assert capsys.readouterr().err.endswith("may not be changed; work on a copy of it elsewhere.\n")
    assert file.read_bytes() == before
