"""Files are replaced wholly or left alone."""

import os
from pathlib import Path

import pytest

from render.common.files import check_suffix, replacing
from render.common.problems import DrawingProblem, RequestProblem


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_a_file_is_replaced(tmp_path: Path) -> None:
    target = tmp_path / "a.png"
    target.write_bytes(b"old")
    with replacing(target) as file:
        assert file.parent == tmp_path
        assert file.suffix == ".png"
        file.write_bytes(b"new")
        assert target.read_bytes() == b"old"
    assert target.read_bytes() == b"new"
    assert names(tmp_path) == ["a.png"]


@pytest.mark.parametrize("failure", [KeyboardInterrupt, ValueError, MemoryError])
def test_after_a_failure_the_old_file_stays_and_nothing_else(
    tmp_path: Path, failure: type[BaseException]
) -> None:
    target = tmp_path / "a.gif"
    target.write_bytes(b"old")
    with pytest.raises(failure), replacing(target) as file:  # noqa: PT012
        file.write_bytes(b"half")
        raise failure
    assert target.read_bytes() == b"old"
    assert names(tmp_path) == ["a.gif"]


def test_a_link_stays_and_what_it_leads_to_is_replaced(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    real = tmp_path / "real" / "a.png"
    real.write_bytes(b"old")
    link = tmp_path / "a.png"
    try:
        link.symlink_to(real)
    except OSError:
        # Windows lets only some people make links; nothing else is tested by making none.
        return
    with replacing(link) as file:
        file.write_bytes(b"new")
    assert link.is_symlink()
    assert real.read_bytes() == b"new"


def test_permissions_stay(tmp_path: Path) -> None:
    target = tmp_path / "a.png"
    target.write_bytes(b"old")
    target.chmod(0o640)
    mode = target.stat().st_mode
    with replacing(target) as file:
        file.write_bytes(b"new")
    assert target.stat().st_mode == mode


def test_a_folder_appears_whole(tmp_path: Path) -> None:
    target = tmp_path / "turn"
    with replacing(target, folder=True) as folder:
        (folder / "0.png").write_bytes(b"x")
        assert not target.exists()
    assert names(target) == ["0.png"]
    assert names(tmp_path) == ["turn"]


def test_an_empty_folder_is_filled(tmp_path: Path) -> None:
    (tmp_path / "turn").mkdir()
    with replacing(tmp_path / "turn", folder=True) as folder:
        (folder / "0.png").write_bytes(b"x")
    assert names(tmp_path / "turn") == ["0.png"]


def test_a_folder_is_removed_on_a_failure(tmp_path: Path) -> None:
    with pytest.raises(KeyboardInterrupt), replacing(tmp_path / "turn", folder=True) as folder:  # noqa: PT012
        (folder / "0.png").write_bytes(b"x")
        raise KeyboardInterrupt
    assert names(tmp_path) == []


def refused(path: Path, *, folder: bool = False) -> str:
    with (
        pytest.raises(RequestProblem) as caught,
        replacing(path, folder=folder),
    ):
        pytest.fail("the work must not begin")
    sentence = str(caught.value)
    assert sentence.isprintable()
    assert sentence.endswith(".")
    return sentence


def test_a_missing_folder(tmp_path: Path) -> None:
    assert "its folder is not there; make it first" in refused(tmp_path / "none" / "a.png")
    assert "its folder is not there; make it first" in refused(
        tmp_path / "none" / "turn", folder=True
    )


def test_a_folder_in_the_way(tmp_path: Path) -> None:
    (tmp_path / "a.png").mkdir()
    assert "is a folder; give a file name in it" in refused(tmp_path / "a.png")


def test_a_file_in_the_way_of_a_folder(tmp_path: Path) -> None:
    (tmp_path / "turn").write_bytes(b"mine")
    assert "is a file; give a new folder" in refused(tmp_path / "turn", folder=True)


def test_a_folder_with_something_in_it(tmp_path: Path) -> None:
    (tmp_path / "turn").mkdir()
    (tmp_path / "turn" / "mine.txt").write_bytes(b"mine")
    assert "with something in it" in refused(tmp_path / "turn", folder=True)
    assert names(tmp_path / "turn") == ["mine.txt"]


@pytest.mark.parametrize("folder", [False, True])
def test_a_read_only_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, folder: bool) -> None:
    def may_not(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    # The administrator may write anywhere, so the system's answer is put in its place.
    monkeypatch.setattr(Path if folder else os, "mkdir" if folder else "open", may_not)
    assert "its folder is read-only" in refused(tmp_path / "a", folder=folder)


def test_a_full_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "open", full)
    with (
        pytest.raises(DrawingProblem, match="there is no room left on the disk; free"),
        replacing(tmp_path / "a.png"),
    ):
        pass


def test_a_read_only_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "a.png").write_bytes(b"old")
    monkeypatch.setattr(os, "access", lambda *_: False)
    assert "may not be changed" in refused(tmp_path / "a.png")


@pytest.mark.parametrize(
    ("name", "suffix"), [("a.png", ".png"), ("b.PNG", ".png"), ("c.d.gif", ".gif")]
)
def test_the_kind_is_read_from_the_name(name: str, suffix: str) -> None:
    assert check_suffix(Path(name), (".png", ".gif")) == suffix


@pytest.mark.parametrize("name", ["a.jpg", "a", ".png", "a.png."])
def test_an_unknown_kind(name: str) -> None:
    with pytest.raises(RequestProblem, match=r"says no kind; give \.png or \.gif\."):
        check_suffix(Path(name), (".png", ".gif"))


def test_with_the_kind_the_place_is_checked(tmp_path: Path) -> None:
    (tmp_path / "turn").mkdir()
    assert check_suffix(tmp_path / "turn", (".gif",), folder=True) == ""
    (tmp_path / "turn" / "mine.txt").write_bytes(b"mine")
    (tmp_path / "a.gif").mkdir()
    for name, says in (
        ("turn", "is a folder with something in it"),
        ("a.gif", "is a folder; give a file name in it"),
        ("none/a.gif", "its folder is not there"),
        (f"{'x' * 300}.gif", "has a name that is too long"),
    ):
        with pytest.raises(RequestProblem, match=says):
            check_suffix(tmp_path / name, (".gif",), folder=True)


def test_no_ending_means_a_folder_where_that_is_allowed() -> None:
    assert check_suffix(Path("turn"), (".gif",), folder=True) == ""
