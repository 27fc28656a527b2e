"""A reader of GIF files, written from the specification alone.

Graphics Interchange Format, version 89a (CompuServe, 31 July 1990), sections 17 to 27 and
appendix F.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray


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
