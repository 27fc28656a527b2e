"""A disk without room: one sentence that names the file and what to do, and nothing half-made.

The system's limit on the size of a file stands in for the disk's: what writes meets the same
refusal, in the middle of its work. Where small disks can be made, FFmpeg meets a real one.
"""

import os
import subprocess
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from render.common import files
from render.common.files import replacing
from render.common.problems import DrawingProblem
from render.common.tags import Tag, save_png
from render.output.film import Film, film_at
from scenes.files import atomic

TAG = Tag("Full", "0123456789ab")
NOISE = np.random.default_rng(1).integers(0, 256, (90, 160, 3), np.uint8)

SENTENCE = (
    r'^output: ".*a[^"]*" cannot be written, because (there is no room left on the disk; free some|'
    r"it grows larger than files may be there; ask for less) or give another place\.$"
)


@pytest.fixture
def little_room() -> Iterator[None]:
    resource = pytest.importorskip("resource", reason="no limits on this system")
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (4_000, hard))
    yield
    resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def write_film(path: Path) -> None:
    with film_at(path, Film((160, 90), 20, 2.0), TAG) as put:
        put(lambda number: np.roll(NOISE, 7 * number, axis=1))


@pytest.mark.usefixtures("little_room")
@pytest.mark.parametrize("name", ["a.gif", "a.webp", "a"])
def test_a_film(tmp_path: Path, name: str) -> None:
    with pytest.raises(DrawingProblem, match=SENTENCE):
        write_film(tmp_path / name)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.usefixtures("little_room")
def test_a_picture(tmp_path: Path) -> None:
    (tmp_path / "a.png").write_bytes(b"old")
    with (
        pytest.raises(DrawingProblem, match=SENTENCE),
        replacing(tmp_path / "a.png") as file,
    ):
        save_png(NOISE, file, TAG)
    assert [one.name for one in tmp_path.iterdir()] == ["a.png"]
    assert (tmp_path / "a.png").read_bytes() == b"old"


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 256 kB."""
    place = tmp_path / "disk"
    place.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=256k", "tmpfs", str(place)]
    try:
        made = subprocess.run(mount, capture_output=True, check=False).returncode == 0
    except OSError:
        made = False
    if not made:
        pytest.skip("disks can be made by the administrator only, and not everywhere")
    yield place
    subprocess.run(["umount", str(place)], check=True)


def test_a_film_on_a_small_disk(small_disk: Path) -> None:
    (small_disk / "other").write_bytes(bytes(240_000))
    with pytest.raises(DrawingProblem, match=SENTENCE):
        write_film(small_disk / "a.mp4")
    assert [one.name for one in small_disk.iterdir()] == ["other"]


def test_an_encoder_that_does_not_say_why(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(atomic, "_has_no_room", lambda _: True)
    for failure in (OSError("encoder error -2"), DrawingProblem("The film could not be encoded.")):
        with pytest.raises(DrawingProblem, match=SENTENCE), replacing(tmp_path / "a.png"):
            raise failure
    assert list(tmp_path.iterdir()) == []


def test_what_has_nothing_to_do_with_the_disk_is_told_as_it_is(tmp_path: Path) -> None:
    for failure in (
        FileNotFoundError(2, "No such file or directory", "chart.png"),
        DrawingProblem("No shader."),
    ):
        with pytest.raises(type(failure)) as caught, replacing(tmp_path / "a.png"):
            raise failure
        assert caught.value is failure


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes on this system")
def test_a_pipe_or_a_device_is_refused_before_the_work(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "a.gif")
    (tmp_path / "b.gif").symlink_to("/dev/full")
    for name in ("a.gif", "b.gif"):
        with (
            pytest.raises(files.RequestProblem, match="is no ordinary file; give another name"),
            replacing(tmp_path / name),
        ):
            pytest.fail("the work must not begin")
    assert not (tmp_path / "a.gif").is_file()
    assert Path("/dev/full").is_char_device()
