"""GIF files, read by an independent decoder, written here from the specification alone.

[GIF1990], sections 17 to 27 and appendices E and F.
"""

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from scipy.ndimage import uniform_filter

from render.common.problems import RequestProblem
from render.common.tags import Tag
from render.output.film import Film, centiseconds, film_at
from render.output.palette import COLOURS, Palette

TAG = Tag("Ossery half-scale · \u017c", "0123456789ab")
LOOP_BLOCK = bytes.fromhex("21 ff 0b") + b"NETSCAPE2.0" + bytes.fromhex("03 01 00 00 00")
"""The loop block of reference.md, section Files."""


# ---- The decoder


@dataclass
class Frame:
    delay: int = 0
    disposal: int = 0
    transparent: int | None = None
    left: int = 0
    top: int = 0
    width: int = 0
    height: int = 0
    local_table: bool = False
    indices: NDArray[np.uint8] = field(default_factory=lambda: np.empty(0, np.uint8))


@dataclass
class Gif:
    version: bytes
    width: int
    height: int
    table: NDArray[np.uint8]
    frames: list[Frame] = field(default_factory=list)
    comments: list[bytes] = field(default_factory=list)
    loop_block: bytes = b""
    trailing: bytes = b""

    def pictures(self) -> list[NDArray[np.uint8]]:
        """Show the frames one after the other, each left in place for the next (section 23)."""
        canvas = np.zeros((self.height, self.width, 3), np.uint8)
        shown = []
        for frame in self.frames:
            assert frame.disposal in (0, 1)
            part = canvas[
                frame.top : frame.top + frame.height, frame.left : frame.left + frame.width
            ]
            drawn = np.ones_like(frame.indices, bool)
            if frame.transparent is not None:
                drawn = frame.indices != frame.transparent
            part[drawn] = self.table[frame.indices[drawn]]
            shown.append(canvas.copy())
        return shown


def read(data: bytes) -> Gif:
    """Read a GIF, or fail at the first byte that the specification does not allow."""
    assert data[:3] == b"GIF"
    width, height = _word(data, 6), _word(data, 8)
    packed = data[10]
    assert packed & 0x80, "no global colour table"
    at = 13
    size = 2 << (packed & 7)
    table = np.frombuffer(data[at : at + 3 * size], np.uint8).reshape(-1, 3)
    at += 3 * size
    gif = Gif(data[3:6], width, height, table)
    frame = Frame()
    while data[at] != 0x3B:
        if data[at] == 0x21:
            label, start = data[at + 1], at
            blocks, at = _sub_blocks(data, at + 2)
            if label == 0xF9:
                control = blocks[0]
                assert len(control) == 4
                frame.disposal = control[0] >> 2 & 7
                frame.delay = _word(control, 1)
                frame.transparent = control[3] if control[0] & 1 else None
            elif label == 0xFF and blocks[0] == b"NETSCAPE2.0":
                gif.loop_block = data[start:at]
            elif label == 0xFE:
                gif.comments.append(b"".join(blocks))
            else:
                raise AssertionError(f"unexpected extension {label:#x}")
        elif data[at] == 0x2C:
            frame.left, frame.top = _word(data, at + 1), _word(data, at + 3)
            frame.width, frame.height = _word(data, at + 5), _word(data, at + 7)
            packed = data[at + 9]
            frame.local_table = bool(packed & 0x80)
            at += 10 + (3 * (2 << (packed & 7)) if frame.local_table else 0)
            least = data[at]
            blocks, at = _sub_blocks(data, at + 1)
            pixels = _uncompressed(b"".join(blocks), least)
            rows = np.frombuffer(pixels, np.uint8).reshape(frame.height, frame.width)
            frame.indices = _interlaced(rows) if packed & 0x40 else rows
            gif.frames.append(frame)
            frame = Frame()
        else:
            raise AssertionError(f"unexpected block {data[at]:#x}")
    gif.trailing = data[at + 1 :]
    return gif


def _word(data: bytes, at: int) -> int:
    return data[at] | data[at + 1] << 8


def _sub_blocks(data: bytes, at: int) -> tuple[list[bytes], int]:
    blocks = []
    while data[at]:
        blocks.append(data[at + 1 : at + 1 + data[at]])
        at += 1 + data[at]
    return blocks, at + 1


def _uncompressed(data: bytes, least: int) -> bytes:
    """Undo variable-length-code LZW (appendix F)."""
    clear, end = 1 << least, (1 << least) + 1
    table: list[bytes] = []
    out: list[bytes] = []
    bits, held, width, before = 0, 0, least + 1, b""
    for byte in data:
        bits |= byte << held
        held += 8
        while held >= width:
            code = bits & ((1 << width) - 1)
            bits >>= width
            held -= width
            if code == clear:
                table = [bytes([i]) for i in range(clear)] + [b"", b""]
                width, before = least + 1, b""
                continue
            if code == end:
                return b"".join(out)
            entry = table[code] if code < len(table) else before + before[:1]
            out.append(entry)
            if before and len(table) < 4096:
                table.append(before + entry[:1])
            if len(table) == 1 << width and width < 12:
                width += 1
            before = entry
    raise AssertionError("no end code")


def _interlaced(rows: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Put interlaced rows in order (appendix E)."""
    height = len(rows)
    order = [
        row
        for first, step in ((0, 8), (4, 8), (2, 4), (1, 2))
        for row in range(first, height, step)
    ]
    result = np.empty_like(rows)
    result[order] = rows
    return result


# ---- What it reads


def written(path: Path, frames: list[NDArray[np.uint8]], seconds: float) -> Gif:
    film = Film((frames[0].shape[1], frames[0].shape[0]), len(frames), seconds)
    with film_at(path, film, TAG) as write:
        write(lambda number: frames[number])
    return read(path.read_bytes())


def painted(count: int, height: int = 48, width: int = 64) -> list[NDArray[np.uint8]]:
    """Give frames with a still gradient, and a coloured bar that moves over it."""
    y, x = np.mgrid[0:height, 0:width]
    ground = np.stack((20 + x // 2, 24 + y, 40 + (x + y) // 3), axis=-1).astype(np.uint8)
    frames = []
    for number in range(count):
        frame = ground.copy()
        at = number * width // count
        frame[10:30, at : at + 6] = (200, 40 + 3 * number, 60)
        frames.append(frame)
    return frames


def test_structure(tmp_path: Path) -> None:
    gif = written(tmp_path / "a.gif", painted(9), 2.0)
    assert gif.version == b"89a"
    assert (gif.width, gif.height) == (64, 48)
    assert len(gif.frames) == 9
    assert gif.loop_block == LOOP_BLOCK
    assert [comment.decode() for comment in gif.comments] == [TAG.line]
    assert gif.trailing == b""


def test_one_palette_serves_all_frames(tmp_path: Path) -> None:
    gif = written(tmp_path / "a.gif", painted(9), 2.0)
    assert not any(frame.local_table for frame in gif.frames)


@pytest.mark.parametrize(
    ("frames", "seconds"), [(9, 2.0), (7, 1.0), (60, 6.0), (24, 0.5), (36, 7.0), (3, 0.1)]
)
def test_delays_add_up_to_the_turn(tmp_path: Path, frames: int, seconds: float) -> None:
    gif = written(tmp_path / "a.gif", painted(frames), seconds)
    delays = [frame.delay for frame in gif.frames]
    assert sum(delays) == round(100 * seconds)
    # Browsers play 0 and 1 as 10 (reference.md, section Files).
    assert min(delays) >= 2
    assert max(delays) - min(delays) <= 1
    assert delays == centiseconds(Film((64, 48), frames, seconds))


def test_rounding_is_spread_over_the_turn() -> None:
    # 7 frames in 1 s: each end is within half a hundredth of where it should be.
    ends = np.cumsum(centiseconds(Film((64, 48), 7, 1.0)))
    assert np.abs(ends - 100 * np.arange(1, 8) / 7).max() <= 0.5


def test_frames_are_the_pictures_within_the_palette(tmp_path: Path) -> None:
    frames = painted(9)
    shown = written(tmp_path / "a.gif", frames, 2.0).pictures()
    palette = Palette.of(frames[::1])
    for frame, picture in zip(frames, shown, strict=True):
        difference = np.abs(picture.astype(int) - frame)
        assert difference.mean() < 2.5
        # Dithering moves a pixel; over a neighbourhood it must not.
        soft = np.abs(
            uniform_filter(picture.astype(float), (5, 5, 0))
            - uniform_filter(frame.astype(float), (5, 5, 0))
        )
        assert soft.mean() < 1.2
    assert len(palette.colours) <= COLOURS


def test_our_decoder_and_pillow_agree(tmp_path: Path) -> None:
    shown = written(tmp_path / "a.gif", painted(9), 2.0).pictures()
    with Image.open(tmp_path / "a.gif") as image:
        assert image.n_frames == 9  # type: ignore[attr-defined]
        for number, picture in enumerate(shown):
            image.seek(number)
            np.testing.assert_array_equal(np.asarray(image.convert("RGB")), picture)


def test_what_stands_still_does_not_swarm(tmp_path: Path) -> None:
    frames = painted(9)
    shown = np.array(written(tmp_path / "a.gif", frames, 2.0).pictures())
    still = (np.array(frames) == frames[0]).all(axis=(0, 3))
    assert still.any()
    assert (shown[:, still] == shown[0, still]).all()


def test_the_same_frames_give_the_same_bytes(tmp_path: Path) -> None:
    written(tmp_path / "a.gif", painted(5), 1.0)
    written(tmp_path / "b.gif", painted(5), 1.0)
    assert (tmp_path / "a.gif").read_bytes() == (tmp_path / "b.gif").read_bytes()


def test_a_small_bright_thing_keeps_its_colour() -> None:
    # A trim is a thousandth of the picture: a palette by count alone would grey it.
    frame = np.empty((200, 300, 3), np.uint8)
    frame[...] = (30 + np.mgrid[0:200, 0:300].sum(axis=0) // 4)[..., None]
    frame[100:102, 50:80] = (0, 150, 130)
    reduced = np.asarray(Palette.of([frame]).image(frame).convert("RGB")).astype(int)
    assert np.abs(reduced[100:102, 50:80] - (0, 150, 130)).max() <= 8


def test_a_picture_of_one_colour() -> None:
    frame = np.full((20, 30, 3), 77, np.uint8)
    image = Palette.of([frame]).image(frame)
    np.testing.assert_array_equal(np.asarray(image.convert("RGB")), frame)


@pytest.mark.render
def test_frames_of_a_turntable_are_its_stills(
    tmp_path: Path, frames: list[NDArray[np.uint8]]
) -> None:
    shown = written(tmp_path / "a.gif", frames, 3.0).pictures()
    for frame, picture in zip(frames, shown, strict=True):
        assert np.abs(picture.astype(int) - frame).mean() < 2.0
        assert np.percentile(np.abs(picture.astype(int) - frame), 99) < 16


def test_too_quick_for_a_gif(tmp_path: Path) -> None:
    film = Film((64, 48), 60, 1.0)
    with (
        pytest.raises(RequestProblem, match="give 50 or fewer, or more seconds"),
        film_at(tmp_path / "a.gif", film, TAG),
    ):
        pytest.fail("the work must not begin")
    assert list(tmp_path.iterdir()) == []


def test_too_slow_for_a_gif(tmp_path: Path) -> None:
    # Two bytes hold 65,535 hundredths; no film of at most 600 s gets there.
    assert max(centiseconds(Film((64, 48), 2, 600.0))) == 30_000
