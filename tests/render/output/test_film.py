"""Moving pictures other than GIF: MP4, WebP and folders, read back by other programs."""

import re
import subprocess
from pathlib import Path

import imageio_ffmpeg
import numpy as np
import psutil
import pytest
from numpy.typing import NDArray
from PIL import Image

from render.common.problems import DrawingProblem, RequestProblem
from render.common.progress import Progress
from render.common.tags import Tag
from render.output.capture import scene_of
from render.output.film import Film, film_at
from scenes.design.variants import design_hash
from scenes.files.atomic import remove_unfinished

TAG = Tag("Rod & reel <1>", "0123456789ab")


def moving(count: int, height: int = 48, width: int = 64) -> list[NDArray[np.uint8]]:
    """Give frames with a soft blob that goes round."""
    y, x = np.mgrid[0:height, 0:width]
    frames = []
    for number in range(count):
        turn = 2 * np.pi * number / count
        away = np.hypot(x - 32 - 16 * np.cos(turn), y - 24 - 12 * np.sin(turn))
        glow = 150 * np.exp(-((away / 9) ** 2))
        frames.append(
            np.stack((40 + glow, 60 + 0.5 * glow, 90 - 0.3 * glow), axis=-1).astype(np.uint8)
        )
    return frames


def write(path: Path, frames: list[NDArray[np.uint8]], seconds: float) -> None:
    film = Film((frames[0].shape[1], frames[0].shape[0]), len(frames), seconds)
    with film_at(path, film, TAG) as put:
        put(lambda number: frames[number])


def ffmpeg(*arguments: str) -> tuple[bytes, str]:
    """Run FFmpeg as a reader: what it writes, and what it tells."""
    run = subprocess.run(
        [imageio_ffmpeg.get_ffmpeg_exe(), "-hide_banner", "-nostdin", *arguments],
        capture_output=True,
        check=False,
    )
    return run.stdout, run.stderr.decode()


@pytest.mark.parametrize(("frames", "seconds"), [(24, 2.0), (36, 7.0), (10, 3.0)])
def test_mp4(tmp_path: Path, frames: int, seconds: float) -> None:
    pictures = moving(frames)
    write(tmp_path / "a.mp4", pictures, seconds)
    reading = ("-i", str(tmp_path / "a.mp4"), "-fps_mode", "passthrough")
    data, told = ffmpeg(*reading, "-f", "rawvideo", "-pix_fmt", "rgb24", "-")
    assert re.search(r"Video: h264 .*yuv420p\(tv, bt709.*64x48", told)
    read = np.frombuffer(data, np.uint8).reshape(-1, 48, 64, 3)
    assert len(read) == frames
    assert np.abs(read.astype(int) - pictures).mean(axis=(1, 2, 3)).max() < 3
    # The time at which each frame is shown, as a list of stamps in its own clock.
    stamps, _ = ffmpeg(*reading, "-c", "copy", "-f", "framecrc", "-")
    clock = re.search(rb"#tb 0: (\d+)/(\d+)", stamps)
    assert clock is not None
    tick = int(clock[1]) / int(clock[2])
    rows = [row.split(b",") for row in stamps.splitlines() if not row.startswith(b"#")]
    shown = sorted(int(row[2]) * tick for row in rows)
    np.testing.assert_allclose(
        shown - np.array(shown[0]), seconds * np.arange(frames) / frames, atol=2e-3
    )


def test_mp4_carries_title_and_hash(tmp_path: Path) -> None:
    write(tmp_path / "a.mp4", moving(4), 1.0)
    _, told = ffmpeg("-i", str(tmp_path / "a.mp4"))
    assert re.search(r"title\s*: Rod & reel <1>", told)
    assert re.search(r"comment\s*: .*design 0123456789ab", told)


def test_mp4_is_the_same_each_time(tmp_path: Path) -> None:
    for name in ("a.mp4", "b.mp4"):
        write(tmp_path / name, moving(6), 1.0)
    assert (tmp_path / "a.mp4").read_bytes() == (tmp_path / "b.mp4").read_bytes()


def test_an_mp4_plays_before_all_of_it_is_there(tmp_path: Path) -> None:
    write(tmp_path / "a.mp4", moving(6), 1.0)
    data, boxes = (tmp_path / "a.mp4").read_bytes(), []
    while data:
        boxes.append(data[4:8])
        data = data[int.from_bytes(data[:4], "big") :]
    # The index ("moov") stands before the pictures ("mdat"): ISO/IEC 14496-12.
    assert boxes.index(b"moov") < boxes.index(b"mdat")


def test_an_mp4_has_even_sides(tmp_path: Path) -> None:
    with (
        pytest.raises(RequestProblem, match="give 66x48"),
        film_at(tmp_path / "a.mp4", Film((65, 48), 4, 1.0), TAG),
    ):
        pytest.fail("the work must not begin")


def test_webp(tmp_path: Path) -> None:
    pictures = moving(7)
    write(tmp_path / "a.webp", pictures, 1.0)
    with Image.open(tmp_path / "a.webp") as image:
        assert image.n_frames == 7  # type: ignore[attr-defined]
        assert image.info["loop"] == 0
        packet = image.info["xmp"].decode()
        assert "Rod &amp; reel &lt;1&gt;" in packet
        assert "0123456789ab" in packet
        lasts = 0
        for number, frame in enumerate(pictures):
            image.seek(number)
            image.load()
            lasts += image.info["duration"]
            assert np.abs(np.asarray(image.convert("RGB")).astype(int) - frame).mean() < 3
        assert lasts == 1000


def test_the_encoder_ends_before_its_file_is_removed_at_once(tmp_path: Path) -> None:
    """Else one that has only just started makes its file anew, and nobody removes that."""
    running: list[psutil.Process] = []

    def picture(number: int) -> NDArray[np.uint8]:
        running.extend(one for one in psutil.Process().children() if "ffmpeg" in one.name())
        remove_unfinished()
        assert not any(one.is_running() for one in running)
        return moving(1)[0]

    with (
        pytest.raises(DrawingProblem),
        film_at(tmp_path / "a.mp4", Film((64, 48), 4, 1.0), TAG) as put,
    ):
        put(picture)
    assert running
    assert list(tmp_path.iterdir()) == []


def test_a_failed_film_leaves_nothing(tmp_path: Path) -> None:
    def stop(number: int) -> NDArray[np.uint8]:
        if number == 2:
            raise KeyboardInterrupt
        return moving(4)[number]

    for name in ("a.gif", "a.mp4", "a.webp", "turn"):
        with (
            pytest.raises(KeyboardInterrupt),
            film_at(tmp_path / name, Film((64, 48), 4, 1.0), TAG) as put,
        ):
            put(stop)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("frames", "seconds", "words"),
    [
        (0, 6.0, "frames: 0 is not between 2 and 720"),
        (1, 6.0, "frames: 1 is not between"),
        (100_000, 6.0, "frames: 100000 is not between"),
        (-3, 6.0, "frames: -3 is not between"),
        (60, float("nan"), "seconds: nan is not between"),
        (60, float("inf"), "seconds: inf is not between"),
        (60, -6.0, "seconds: -6 is not between"),
        (60, 0.0, "seconds: 0 is not between"),
    ],
)
def test_bad_films(frames: int, seconds: float, words: str) -> None:
    with pytest.raises(RequestProblem, match=words):
        Film((64, 48), frames, seconds)


def test_the_last_frame_is_not_the_first() -> None:
    film = Film((64, 48), 12, 1.0)
    turns = [film.turn(number) for number in range(12)]
    np.testing.assert_allclose(np.diff(turns), 2 * np.pi / 12)
    assert turns[-1] == pytest.approx(2 * np.pi * 11 / 12)


@pytest.mark.render
def test_a_folder_of_frames(frames_folder: Path, sample_wrap) -> None:  # type: ignore[no-untyped-def]
    paths = sorted(frames_folder.iterdir())
    assert [path.name for path in paths] == [f"turn-{number}.png" for number in range(6)]
    with Image.open(paths[0]) as image:
        assert image.text["Design"] == design_hash(sample_wrap("half-scale").design)  # type: ignore[attr-defined]


@pytest.mark.render
@pytest.mark.usefixtures("coarse_mesh")
def test_frames_are_exactly_the_stills(frames, sample_wrap) -> None:  # type: ignore[no-untyped-def]
    size = (frames[0].shape[1], frames[0].shape[0])
    with scene_of(sample_wrap("half-scale"), size, Progress.none()) as scene:
        # In another order, so that nothing may hang on what was drawn before.
        for number in (4, 0, 3):
            still = scene.picture(2 * np.pi * number / len(frames))
            np.testing.assert_array_equal(still, frames[number])


@pytest.mark.render
def test_the_rod_turns_evenly_and_without_a_jump(frames) -> None:  # type: ignore[no-untyped-def]
    steps = [
        np.abs(after.astype(int) - before).mean()
        for before, after in zip(frames, [*frames[1:], frames[0]], strict=True)
    ]
    assert min(steps) > 0.5
    # The step over the join is like any other.
    assert steps[-1] < 1.5 * max(steps[:-1])
    assert steps[-1] > 0.5 * min(steps[:-1])
