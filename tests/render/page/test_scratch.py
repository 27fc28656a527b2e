"""The page's temporary folder: what killed programs left is removed, and nothing else."""

import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from render.common.problems import RequestProblem
from render.page import scratch
from render.page.scratch import Scratch

ROOT = Path(__file__).resolve().parents[3]


@pytest.fixture(autouse=True)
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "tmp"
    folder.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(folder))
    monkeypatch.setattr(scratch, "_NEW", -1.0)
    return folder


def test_what_a_killed_program_left_is_removed_and_what_runs_is_not(place: Path) -> None:
    program = (
        "import tempfile, time; from render.page.scratch import Scratch\n"
        f"tempfile.tempdir = {str(place)!r}\n"
        "made = Scratch(); (made.path / 'wrap.gif').write_bytes(b'x')\n"
        "print(made.path, flush=True); time.sleep(60)\n"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", program], cwd=ROOT, stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    with process, process.stdout:
        theirs = Path(process.stdout.readline().strip())
        mine = Scratch()
        assert (theirs / "wrap.gif").exists()
        process.kill()
        process.wait()
    other = Scratch()
    assert not theirs.exists()
    assert mine.path.is_dir()
    mine.close()
    other.close()
    assert list(place.iterdir()) == []


def test_what_is_not_surely_ours_stays(place: Path, tmp_path: Path) -> None:
    (place / "turnlight-of-an-older-program").mkdir()
    (place / "other-program").mkdir()
    (place / "other-program" / "in-use.lock").touch()
    (place / "turnlight-a-file").touch()
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "in-use.lock").touch()
    (place / "turnlight-a-link").symlink_to(outside)
    (place / "turnlight-with-a-link").mkdir()
    (place / "turnlight-with-a-link" / "in-use.lock").symlink_to(outside / "in-use.lock")
    before = {path.name for path in place.iterdir()}
    Scratch().close()
    assert {path.name for path in place.iterdir()} == before
    assert (outside / "in-use.lock").exists()


def test_a_program_that_is_just_starting_is_left_alone(
    place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    starting = place / "turnlight-starting"
    starting.mkdir()
    (starting / "in-use.lock").touch()
    monkeypatch.setattr(scratch, "_NEW", 60.0)
    Scratch().close()
    assert starting.is_dir()
    monkeypatch.setattr(scratch, "_NEW", -1.0)
    Scratch().close()
    assert not starting.exists()


def test_no_room_for_it_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    def full(**_: object) -> str:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(tempfile, "mkdtemp", full)
    with pytest.raises(RequestProblem, match=r"which TMPDIR names.* no room left on the disk"):
        Scratch()
