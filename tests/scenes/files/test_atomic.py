"""Unfinished files: removed whatever happens, and by the next program where nothing else could."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from scenes.files import atomic
from scenes.files.atomic import (
    PlaceProblem,
    Unfinished,
    check_place,
    finished,
    remove_unfinished,
    write_new,
)

LONG_AGO = (1_000_000_000, 1_000_000_000)


@pytest.fixture(autouse=True)
def as_in_a_new_program(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setattr(atomic, "_swept", set())
    monkeypatch.setattr(atomic, "_finished", {})
    return


def names(folder: Path) -> list[str]:
    return sorted(one.name for one in folder.iterdir())


def left_behind(folder: Path, name: str) -> Path:
    path = folder / name
    path.write_bytes(b"half")
    os.utime(path, LONG_AGO)
    return path


def test_what_a_killed_program_left_is_swept_by_the_next(tmp_path: Path) -> None:
    left_behind(tmp_path, ".turnlight-0123456789ab.png")
    left_behind(tmp_path, ".turnlight-0123456789ab")
    turns = tmp_path / ".turnlight-ba9876543210"
    turns.mkdir()
    left_behind(turns, "turn-0.png")
    os.utime(turns, LONG_AGO)
    with Unfinished(tmp_path / "a.png"):
        pass
    if os.name != "nt":
        assert names(tmp_path) == []


@pytest.mark.parametrize(
    "name",
    [
        "turnlight-0123456789ab.png",
        ".turnlight-0123456789ab.png.bak",
        ".turnlight-0123456789AB.png",
        ".turnlight-notes.txt",
        "a.png",
    ],
)
def test_what_is_not_ours_is_not_swept(tmp_path: Path, name: str) -> None:
    left_behind(tmp_path, name)
    with Unfinished(tmp_path / "b.png"):
        pass
    assert names(tmp_path) == [name]


def test_what_another_program_is_making_is_not_swept(tmp_path: Path) -> None:
    with Unfinished(tmp_path / "a.png", suffix=".png") as other:
        os.utime(other.path, LONG_AGO)
        with Unfinished(tmp_path / "turn", folder=True) as folder:
            os.utime(folder.path, LONG_AGO)
            atomic._swept.clear()
            with Unfinished(tmp_path / "b.png"):
                pass
            assert set(names(tmp_path)) == {other.path.name, folder.path.name}
    (tmp_path / ".turnlight-0123456789ab.png").write_bytes(b"young: who knows whose")
    atomic._swept.clear()
    with Unfinished(tmp_path / "b.png"):
        pass
    assert names(tmp_path) == [".turnlight-0123456789ab.png"]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes on this system")
def test_a_link_or_a_pipe_of_such_a_name_is_not_followed(tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    target = left_behind(outside, "precious.png")
    folder = tmp_path / "folder"
    folder.mkdir()
    (folder / ".turnlight-0123456789ab.png").symlink_to(target)
    os.mkfifo(folder / ".turnlight-ba9876543210.png")
    os.utime(folder / ".turnlight-0123456789ab.png", LONG_AGO, follow_symlinks=False)
    os.utime(folder / ".turnlight-ba9876543210.png", LONG_AGO)
    with Unfinished(folder / "a.png"):
        pass
    assert len(names(folder)) == 2
    assert target.read_bytes() == b"half"


def test_a_program_that_ends_at_once_leaves_nothing_unfinished(tmp_path: Path) -> None:
    with Unfinished(tmp_path / "a.png") as one, Unfinished(tmp_path / "turn", folder=True) as other:
        one.path.write_bytes(b"half")
        (other.path / "turn-0.png").write_bytes(b"half")
        remove_unfinished()
        assert names(tmp_path) == []
    assert finished() == []


@pytest.mark.parametrize("new", [True, False])
def test_what_is_in_its_place_is_told_wherever_it_was_stopped(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, new: bool
) -> None:
    move = os.link if new else os.replace

    def stopped_right_behind(*given: str) -> None:
        move(*given)
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "link" if new else "replace", stopped_right_behind)
    with (
        pytest.raises(KeyboardInterrupt),
        Unfinished(tmp_path / "a.png", called=Path("a.png")) as unfinished,
    ):
        (unfinished.put_new if new else unfinished.put)()
    assert finished() == [Path("a.png")]
    assert names(tmp_path) == ["a.png"]


def test_what_could_not_be_put_in_its_place_is_not_told(tmp_path: Path) -> None:
    (tmp_path / "a.png").write_bytes(b"theirs")
    with pytest.raises(FileExistsError), Unfinished(tmp_path / "a.png") as unfinished:
        unfinished.put_new()
    assert finished() == []
    assert (tmp_path / "a.png").read_bytes() == b"theirs"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes on this system")
def test_pipes_devices_and_long_names_are_no_places(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.png")
    for path in (tmp_path / "pipe.png", Path("/dev/full")):
        with pytest.raises(PlaceProblem, match="is no ordinary file; give another name"):
            check_place(path)
    with pytest.raises(PlaceProblem, match="has a name that is too long; give a shorter one"):
        check_place(tmp_path / f"{'x' * 300}.png")


@pytest.mark.parametrize("name", ["COM¹.png", "nul", "a.png.", "a.png "])
def test_names_that_windows_keeps_are_no_places_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    check_place(tmp_path / name)
    monkeypatch.setattr(atomic, "_ON_WINDOWS", True)
    with pytest.raises(PlaceProblem, match="has a name that Windows keeps for itself"):
        check_place(tmp_path / name)


def test_a_new_file_is_written_over_nothing_and_through_no_link(tmp_path: Path) -> None:
    assert write_new(tmp_path / "a.png", b"new")
    assert not write_new(tmp_path / "a.png", b"newer")
    (tmp_path / "link.png").symlink_to(tmp_path / "elsewhere.png")
    assert not write_new(tmp_path / "link.png", b"new")
    with pytest.raises(PlaceProblem, match="is no ordinary file"):
        check_place(tmp_path / "link.png", follow=False)
    assert names(tmp_path) == ["a.png", "link.png"]
    assert (tmp_path / "a.png").read_bytes() == b"new"
