"""Folders that may be anybody's: only ordinary files, few of them opened, little of each read."""

import os
from pathlib import Path

import pytest

from materials.ordinary import NotOrdinaryError, read_ordinary
from materials.shelf import Shelf
from scenes.files import file_import, neighbours, own_shelf, samples
from scenes.files.companion_files import CompanionFiles
from scenes.problems import DesignProblem

PIPES = pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no such files on this system")


def sparse(path: Path, size: int, beginning: bytes = b"") -> Path:
    """A file of a size that is nowhere on the disk."""
    with path.open("wb") as file:
        file.write(beginning)
        file.truncate(size)
    return path


@PIPES
def test_pipes_devices_and_folders_are_not_opened(tmp_path, monkeypatch) -> None:
    os.mkfifo(tmp_path / "pipe.toml")
    (tmp_path / "folder.toml").mkdir()
    (tmp_path / "device.toml").symlink_to("/dev/zero")
    (tmp_path / ".hidden.toml").write_text("a")
    (tmp_path / "B.TOML").write_text("b")
    (tmp_path / "a.toml").write_text("a")
    assert [one.name for one in neighbours.neighbours(tmp_path, (".toml",))] == ["a.toml", "B.TOML"]
    for name in ("pipe.toml", "folder.toml", "device.toml"):
        with pytest.raises(NotOrdinaryError):
            read_ordinary(tmp_path / name, 10)
        with pytest.raises(DesignProblem, match="is no ordinary file; give one that is"):
            CompanionFiles(tmp_path).read("pipe.toml", "decal.font")
    # One that becomes a pipe between the look and the opening is not waited for either.
    looked = os.stat(tmp_path / "a.toml")
    monkeypatch.setattr(Path, "stat", lambda *_, **__: looked)
    with pytest.raises(NotOrdinaryError):
        read_ordinary(tmp_path / "pipe.toml", 10)


def test_of_a_large_file_only_the_beginning_is_read(tmp_path) -> None:
    path = sparse(tmp_path / "large.toml", 3_000_000_000, b"turnlight = 1")
    assert read_ordinary(path, 9) == (b"turnlight", 3_000_000_000)


def test_of_a_crowded_folder_some_are_listed(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(neighbours, "_MOST_ENTRIES", 30)
    for number in range(50):
        (tmp_path / f"{number}.png").write_bytes(b"")
    assert len(list(neighbours.neighbours(tmp_path, (".png",)))) == 30
    assert list(neighbours.neighbours(tmp_path / "none", (".png",))) == []


def test_only_as_many_files_are_looked_at_as_are_listed(tmp_path, monkeypatch) -> None:
    for number in range(500):
        (tmp_path / f"{number:03}.png").write_bytes(b"")
    design = samples.load("heron-plate")
    marker = file_import.file_marker(design, "picture.picture")
    asked: list[Path] = []
    is_file = Path.is_file
    monkeypatch.setattr(Path, "is_file", lambda self: asked.append(self) or is_file(self))
    found = [one.name for one in file_import.choices(tmp_path, marker) if not one.shipped]
    assert found == [f"{number:03}.png" for number in range(200)]
    assert len([one for one in asked if one.parent == tmp_path]) == 200


def test_of_a_thousand_designs_beside_a_shelf_some_are_read(tmp_path, monkeypatch) -> None:
    shelf = tmp_path / "my-shelf.toml"
    text = samples.text("half-scale").replace("units =", 'shelf = "my-shelf.toml"\nunits =', 1)
    for number in range(5):
        (tmp_path / f"{number}.toml").write_text("title = 1")
    (tmp_path / "5.toml").write_text(text, encoding="utf-8")
    assert own_shelf.design_missing_thread(shelf, Shelf.shipped(), None) == "5.toml"
    monkeypatch.setattr(own_shelf, "_MOST_READ", 5)
    assert own_shelf.design_missing_thread(shelf, Shelf.shipped(), None) == ""
