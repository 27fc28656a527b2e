"""What a picture file says of itself, read by its chunks [PNG3]."""

import struct
from pathlib import Path

import numpy as np

from render.common.tags import Tag, save_png

PIXELS = np.zeros((4, 6, 3), np.uint8)
TAG = Tag("Heath rod", "abc")


def chunk(path: Path, name: bytes) -> bytes | None:
    """The content of a chunk: length, name, content, checksum, one after another."""
    data, at = path.read_bytes(), 8
    while at < len(data):
        (length,) = struct.unpack_from(">I", data, at)
        if data[at + 4 : at + 8] == name:
            return data[at + 8 : at + 8 + length]
        at += 12 + length
    return None


def test_a_picture_for_paper_says_how_many_pixels_an_inch_has(tmp_path: Path) -> None:
    save_png(PIXELS, tmp_path / "a.png", TAG, resolution=300)
    content = chunk(tmp_path / "a.png", b"pHYs")
    assert content is not None
    across, up, unit = struct.unpack(">IIB", content)
    # Pixels to a metre, of which an inch is 0.0254; unit 1 is the metre.
    assert (across, up, unit) == (round(300 / 0.0254), round(300 / 0.0254), 1)
    save_png(PIXELS, tmp_path / "b.png", TAG)
    assert chunk(tmp_path / "b.png", b"pHYs") is None
    assert chunk(tmp_path / "b.png", b"sRGB") == b"\0"
