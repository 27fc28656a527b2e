"""MP4 where FFmpeg is not as it should be: one sentence, before anything is drawn."""

import subprocess
import sys
from pathlib import Path

import imageio_ffmpeg
import numpy as np
import pytest

from render.common.problems import RequestProblem
from render.common.tags import Tag
from render.output.ffmpeg import ENCODER, ffmpeg_program
from render.output.film import Film, film_at

FILM, TAG = Film((64, 48), 4, 1.0), Tag("Rod", "0123456789ab")


def refused(folder: Path) -> str:
    """Ask for an MP4 and give the refusal, which comes before any work and leaves no file."""
    path = folder / "a.mp4"
    with pytest.raises(RequestProblem) as caught, film_at(path, FILM, TAG):
        pytest.fail("the work must not begin")
    assert not path.exists()
    return str(caught.value)


def test_the_bundled_one_has_the_encoder() -> None:
    run = subprocess.run([ffmpeg_program(), "-version"], capture_output=True, check=True, text=True)
    assert f"--enable-{ENCODER} " in run.stdout


def test_none_on_this_machine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def none() -> str:
        raise RuntimeError("No ffmpeg exe could be found.")

    monkeypatch.setattr(imageio_ffmpeg, "get_ffmpeg_exe", none)
    assert refused(tmp_path) == (
        "output: an MP4 needs FFmpeg, which is not on this machine; install FFmpeg, or give a "
        "name that ends in .gif."
    )
    with film_at(tmp_path / "a.gif", FILM, TAG) as write:
        assert write(lambda number: np.full((48, 64, 3), 50 * number, np.uint8)) > 0


def test_a_place_where_none_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("IMAGEIO_FFMPEG_EXE", "not-there/ffmpeg")
    words = refused(tmp_path)
    assert words.startswith('output: FFmpeg, which makes MP4, cannot be run at "not-there/ffmpeg" ')
    assert words.endswith("give a name that ends in .gif.")
    assert "\n" not in words


@pytest.mark.skipif(sys.platform == "win32", reason="a script with #! is no program there")
def test_one_without_the_encoder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    program = tmp_path / "ffmpeg"
    program.write_text("#!/bin/sh\necho ' V....D libopenh264  OpenH264 (codec h264)'\n")
    program.chmod(0o755)
    monkeypatch.setenv("IMAGEIO_FFMPEG_EXE", str(program))
    assert '/ffmpeg" has no libx264, which encodes MP4; set IMAGEIO_FFMPEG_EXE' in refused(tmp_path)
