"""No command writes onto a file that it reads."""

import inspect
import os
import re
from collections.abc import Callable
from importlib import import_module
from pathlib import Path

import numpy as np
import pytest
from cyclopts import App
from PIL import Image

from render.cli import main as cli
from scenes.files import samples

Captured = pytest.CaptureFixture[str]

OF_A_DESIGN = {
    "still": ".png",
    "turntable": ".gif",
    "compare": ".png",
    "export": ".glb",
    "sheet": ".csv",
    "template": ".pdf",
    "decal": ".pdf",
}
"""Commands that make a file of a design, with the ending of one."""
OF_A_PICTURE: dict[tuple[str, ...], str] = {
    ("chart", "import", "--columns", "4"): "the picture itself",
    ("chart", "recolour"): "the chart itself",
    ("chart", "mirror"): "the chart itself",
    ("chart", "turn"): "the chart itself",
    ("chart", "repeat"): "the chart itself",
    ("colour", "--thread", "0,0,2,2", "--card", "4,0,2,2"): "the photograph itself",
}
ELSEWHERE = {"catalogue", "fit", "sequence", "schema"}
"""Commands whose output is a folder or a design file, which they check, or that read no file."""


@pytest.fixture(autouse=True)
def in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def refused(capsys: Captured, *arguments: str) -> str:
    """Run what must be refused: exit code 2, one line, and every file as it was."""
    before = {path.name: path.read_bytes() for path in Path().iterdir()}
    code = cli.main(arguments)
    out, err = capsys.readouterr()
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert {path.name: path.read_bytes() for path in Path().iterdir()} == before
    return err.rstrip("\n")


def made_by(function: Callable[..., object]) -> bool:
    return "output" in inspect.signature(function).parameters


def test_every_command_that_writes_is_tried() -> None:
    written = set()
    for place in cli.COMMANDS:
        module, _, name = place.partition(":")
        command = getattr(import_module(f"render.cli.{module}"), name)
        if isinstance(command, App):
            subcommands = [command[verb] for verb in command if not verb.startswith("-")]
            made = [sub.default_command for sub in subcommands]
        else:
            made = [command]
        if any(function is not None and made_by(function) for function in made):
            written.add(name)
    assert written == {*OF_A_DESIGN, *ELSEWHERE, *(words[0] for words in OF_A_PICTURE)}


@pytest.mark.parametrize("verb", OF_A_DESIGN)
def test_a_design_is_not_written_over(verb: str, capsys: Captured) -> None:
    name = f"mine{OF_A_DESIGN[verb]}"
    Path(name).write_text(samples.text("lettered-band"), encoding="utf-8")
    assert refused(capsys, verb, name, "-o", name) == (
        f'output: "{name}" is the design itself; give another name.'
    )


@pytest.mark.parametrize("words", OF_A_PICTURE, ids=" ".join)
def test_a_picture_is_not_written_over(words: tuple[str, ...], capsys: Captured) -> None:
    Image.fromarray(np.full((4, 8, 3), 90, np.uint8)).save("ok.png")
    verbs, options = words[: 1 + (words[0] == "chart")], words[1 + (words[0] == "chart") :]
    assert refused(capsys, *verbs, "ok.png", *options, "-o", "ok.png") == (
        f'output: "ok.png" is {OF_A_PICTURE[words]}; give another name.'
    )


@pytest.mark.skipif(os.name == "nt", reason="links need rights on Windows")
def test_a_link_to_what_is_read_is_seen_through(capsys: Captured) -> None:
    Image.fromarray(np.full((4, 8, 3), 90, np.uint8)).save("ok.png")
    Path("other.png").symlink_to("ok.png")
    assert "is the chart itself" in refused(capsys, "chart", "mirror", "ok.png", "-o", "other.png")


def test_a_picture_that_the_design_uses_is_not_written_over(capsys: Captured) -> None:
    text = samples.text("badge-panel")
    found = re.search(r'"([^"]+\.png)"', text)
    assert found is not None
    Path("mine.toml").write_text(text, encoding="utf-8")
    Image.fromarray(np.zeros((12, 12, 4), np.uint8)).save(found[1])
    assert "is a file that the design uses" in refused(capsys, "still", "mine.toml", "-o", found[1])


@pytest.mark.parametrize(
    ("words", "lead", "wanted"),
    [
        (["chart", "import", "--columns", "4"], "picture", "a JPEG, PNG or WebP file"),
        (["chart", "mirror"], "chart", "a PNG file"),
        (["colour", "--thread", "0,0,2,2", "--card", "4,0,2,2"], "photo", "a JPEG, PNG or WebP fi"),
    ],
    ids=["import", "mirror", "colour"],
)
def test_a_picture_that_is_not_there_or_a_folder(
    words: list[str], lead: str, wanted: str, capsys: Captured, tmp_path: Path
) -> None:
    (tmp_path / "folder.png").mkdir()
    for name, what in (("nothere.png", "is not there"), ("folder.png", "is a folder")):
        verbs, options = words[: 1 + (words[0] == "chart")], words[1 + (words[0] == "chart") :]
        code = cli.main([*verbs, name, *options, "-o", "out.png"])
        out, err = capsys.readouterr()
        assert (code, out) == (2, "")
        assert err.startswith(f'{lead}: "{name}" {what}; give {wanted}')
    assert not Path("out.png").exists()
