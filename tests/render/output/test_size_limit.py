"""Films made to fit: what is lowered, what is said, and what cannot be."""

import re
import subprocess
from pathlib import Path
from typing import Any, cast

import imageio_ffmpeg
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from render.common.problems import RequestProblem
from render.common.progress import Progress
from render.common.tags import Tag
from render.output.film import Film, film_at
from render.output.size_limit import (
    check_held,
    check_limit,
    fit,
    scaled,
    smaller,
    writing_steps,
)
from render.output.turntable import _Turning
from tests.kept import kept

SIZE = (480, 270)
TAG = Tag("Rod", "0123456789ab")

Pixels = NDArray[np.uint8]


class Drawn:
    """Frames of a turning texture that counts how often each is drawn."""

    def __init__(self, frames: int, size: tuple[int, int] = SIZE) -> None:
        self._frames, self._size = frames, size
        self.kept: dict[int, Pixels] = {}
        self.times: list[int] = []

    def size(self, scale: float) -> tuple[int, int]:
        return smaller(self._size, scale)

    def picture(self, number: int, scale: float) -> Pixels:
        if number not in self.kept:
            self.times.append(number)
            self.kept[number] = self._draw(number)
        return scaled(self.kept[number], self.size(scale))

    def _draw(self, number: int) -> Pixels:
        return texture(self._size, round(360 * number / self._frames))


@kept
def texture(size: tuple[int, int], degrees: int) -> Pixels:
    width, height = size
    y, x = np.mgrid[0:height, 0:width]
    angle = np.deg2rad(degrees)
    waves = 40 * np.sin(x / 5 + angle) * np.cos(y / 7 - 2 * angle) + 30 * np.sin(y / 31 + angle)
    tone = 110 + waves + np.random.default_rng(1).normal(0, 4, (height, width))
    colours = np.stack((tone, 0.8 * tone + 20, 0.6 * tone + 50), axis=-1)
    return np.clip(colours, 0, 255).astype(np.uint8)


def fitted(path: Path, frames: int, max_mb: float) -> tuple[Film, Drawn]:
    film, drawn = Film(SIZE, frames, 3.0), Drawn(frames)
    with film_at(path, film, TAG) as write:
        return fit(write, film, drawn, max_mb, Progress.none()), drawn


def whole(path: Path, frames: int) -> float:
    """Megabytes of the film as asked for."""
    film, drawn = Film(SIZE, frames, 3.0), Drawn(frames)
    with film_at(path, film, TAG) as write:
        return write(lambda number: drawn.picture(number, 1.0)) / 1e6


@pytest.mark.parametrize(
    ("suffix", "share"), [(".gif", 0.6), (".gif", 0.2), (".webp", 0.3), (".mp4", 0.3)]
)
def test_it_fits_and_is_what_it_says(tmp_path: Path, suffix: str, share: float) -> None:
    path = tmp_path / f"a{suffix}"
    most = share * whole(path, 24)
    made, drawn = fitted(path, 24, most)
    # Not over, and not needlessly under.
    assert 0.5 * most < path.stat().st_size / 1e6 <= most
    assert made.seconds == 3.0
    assert made.size[0] / made.size[1] == pytest.approx(16 / 9, rel=0.02)
    assert 24 % made.frames == 0
    # Each frame was drawn once at most, and only those that some film shows.
    assert len(drawn.times) == len(set(drawn.times))
    assert read(path) == (made.size, made.frames)
    assert [one.name for one in tmp_path.iterdir()] == [path.name]


def read(path: Path) -> tuple[tuple[int, int], int]:
    if path.suffix != ".mp4":
        with Image.open(path) as image:
            return image.size, image.n_frames  # type: ignore[attr-defined]
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-i", str(path), "-f", "framecrc", "-"]
    told = subprocess.run(command, capture_output=True, check=True, text=True).stdout
    size = re.search(r"#dimensions 0: (\d+)x(\d+)", told)
    assert size is not None
    return (int(size[1]), int(size[2])), sum(not row.startswith("#") for row in told.splitlines())


def test_what_fits_already_stays_as_it_was(tmp_path: Path) -> None:
    size = whole(tmp_path / "a.gif", 6)
    made, _ = fitted(tmp_path / "b.gif", 6, 1.01 * size)
    assert made == Film(SIZE, 6, 3.0)
    assert (tmp_path / "a.gif").read_bytes() == (tmp_path / "b.gif").read_bytes()


def test_frames_that_are_kept_are_those_drawn_for_their_place(tmp_path: Path) -> None:
    made, drawn = fitted(tmp_path / "a.webp", 36, 0.2 * whole(tmp_path / "a.webp", 36))
    every = 36 // made.frames
    assert every > 1
    with Image.open(tmp_path / "a.webp") as image:
        for number in (0, made.frames - 1):
            image.seek(number)
            shown = np.asarray(image.convert("RGB")).astype(float)
            apart = [
                np.abs(shown - scaled(drawn.kept[one], made.size)).mean() for one in drawn.kept
            ]
            assert list(drawn.kept)[int(np.argmin(apart))] == number * every


def test_what_cannot_be_reached_is_told_with_the_smallest(tmp_path: Path) -> None:
    (tmp_path / "a.gif").write_bytes(b"old")
    with pytest.raises(RequestProblem) as caught:
        fitted(tmp_path / "a.gif", 24, 0.02)
    told = str(caught.value)
    assert told.startswith("max-mb: 0.02 MB cannot be reached; the smallest, 240x136 with 12 ")
    assert told.endswith(" MB.")
    assert (tmp_path / "a.gif").read_bytes() == b"old"
    assert [one.name for one in tmp_path.iterdir()] == ["a.gif"]
    # And what it says is so.
    least = float(told.split()[-2])
    made, _ = fitted(tmp_path / "a.gif", 24, 1.05 * least)
    assert made.frames == 12
    assert 240 <= made.size[0] <= 250


def test_little_is_drawn_for_what_cannot_be(tmp_path: Path) -> None:
    film, drawn = Film(SIZE, 60, 6.0), Drawn(60)
    with (
        film_at(tmp_path / "a.gif", film, TAG) as write,
        pytest.raises(RequestProblem, match="cannot be reached"),
    ):
        fit(write, film, drawn, 0.01, Progress.none())
    assert sorted(drawn.times) == list(range(0, 60, 5))


class Told(Progress):
    """Progress that keeps what it is told."""

    def __init__(self, total: int = 0, *, quiet: bool | None = None) -> None:
        super().__init__(total, quiet=quiet)
        self.shares: list[float] = []
        self.words: list[str] = []

    def advance(self, share: float = 1) -> None:
        self.shares.append(share)

    def describe(self, words: str) -> None:
        self.words.append(words)


def test_all_attempts_share_one_bar(tmp_path: Path) -> None:
    film, drawn, progress = Film(SIZE, 24, 3.0), Drawn(24), Told.none()
    with film_at(tmp_path / "a.gif", film, TAG) as write:
        fit(write, film, drawn, 0.2 * whole(tmp_path / "a.gif", 24), progress)
    assert min(progress.shares) >= 0
    assert sum(progress.shares) == pytest.approx(writing_steps(24))
    assert all(words.startswith("writing ") for words in progress.words)


def test_frames_are_counted_as_they_are_drawn(tmp_path: Path) -> None:
    """The smallest film draws every other frame first, and the count does not begin again."""

    class Drawing:
        def picture(self, turn: float) -> Pixels:
            return texture(SIZE, round(np.rad2deg(turn)))

    film, progress = Film(SIZE, 24, 3.0), Told.none()
    turning = _Turning(cast(Any, Drawing()), film, 0.0, progress)
    with film_at(tmp_path / "a.gif", film, TAG) as write:
        fit(write, film, turning, 0.9 * whole(tmp_path / "a.gif", 24), progress)
    counted = [words for words in progress.words if words.startswith("frame ")]
    assert counted == [f"frame {number} of 24" for number in range(1, 25)]


def test_ctrl_c_leaves_the_old_file(tmp_path: Path) -> None:
    (tmp_path / "a.gif").write_bytes(b"old")
    drawn, film = Drawn(24), Film(SIZE, 24, 3.0)

    def stop(number: int, scale: float) -> Pixels:
        if len(drawn.times) == 14:
            raise KeyboardInterrupt
        return Drawn.picture(drawn, number, scale)

    drawn.picture = stop  # type: ignore[method-assign]
    with pytest.raises(KeyboardInterrupt), film_at(tmp_path / "a.gif", film, TAG) as write:
        fit(write, film, drawn, 0.4, Progress.none())
    assert (tmp_path / "a.gif").read_bytes() == b"old"
    assert [one.name for one in tmp_path.iterdir()] == ["a.gif"]


@pytest.mark.parametrize(
    ("max_mb", "name", "words"),
    [
        (0.0, "a.gif", "max-mb: 0 is not between 0.01 and 10000"),
        (-1.0, "a.gif", "max-mb: -1 is not between"),
        (float("nan"), "a.gif", "max-mb: nan is not between"),
        (float("inf"), "a.gif", "max-mb: inf is not between"),
        (2.0, "a.png", "only a moving picture"),
        (2.0, "turn", "only a moving picture"),
    ],
)
def test_limits_that_are_none(max_mb: float, name: str, words: str) -> None:
    with pytest.raises(RequestProblem, match=words):
        check_limit(max_mb, Path(name), (".gif", ".webp", ".mp4"))


def test_more_than_can_be_held() -> None:
    check_held(60, (1920, 1080))
    with pytest.raises(RequestProblem, match="720 of 1920x1080 are more than fit in memory; give "):
        check_held(720, (1920, 1080))


def test_sizes_shrink_evenly() -> None:
    assert smaller((641, 361), 1.0) == (641, 361)
    assert smaller((640, 360), 0.5) == (320, 180)
    assert smaller((640, 20), 0.1) == (64, 16)
    for side in smaller((1279, 719), 0.7):
        assert side % 2 == 0


def test_scaling_keeps_the_mean() -> None:
    picture = texture(SIZE, 90)
    small = scaled(picture, (160, 90))
    assert small.shape == (90, 160, 3)
    np.testing.assert_allclose(small.mean(axis=(0, 1)), picture.mean(axis=(0, 1)), atol=0.6)
