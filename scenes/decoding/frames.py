"""How parent and child speak: a header in JSON and a block of bytes, each with its length first.

Nothing that arrives is ever unpickled or run: a decoder that a hostile file has taken over could
send anything.
"""

import json
import struct
from collections.abc import Callable, Mapping
from typing import Any

__all__ = ["Frame", "FrameError", "frame_header", "read_frame"]

Frame = tuple[dict[str, Any], bytearray]
"""Header and block."""

_LENGTHS = struct.Struct(">IQ")
"""Bytes of the header, and of the block."""

_MOST_HEADER = 100_000

_CHUNK = 1 << 20
"""Bytes that are asked for at a time."""


class FrameError(Exception):
    """What arrived is no frame, or a larger one than is allowed."""


def frame_header(header: Mapping[str, Any], size: int) -> bytes:
    """Write what goes before a block of `size` bytes."""
    text = json.dumps(header).encode("ascii")
    return _LENGTHS.pack(len(text), size) + text


def read_frame(read: Callable[[int], bytes], most: int) -> Frame:
    """Read a header and its block.

    Parameters
    ----------
    read : callable
        Gives up to so many bytes, none at the end of the stream.
    most : int
        Most bytes of the block.

    Raises
    ------
    EOFError
        If the stream ends before or within the frame.
    FrameError
    """
    length, size = _LENGTHS.unpack(_exactly(read, _LENGTHS.size))
    if length > _MOST_HEADER or size > most:
        raise FrameError
    try:
        header = json.loads(_exactly(read, length))
    except (ValueError, RecursionError):
        raise FrameError from None
    if not isinstance(header, dict):
        raise FrameError
    return header, _exactly(read, size)


def _exactly(read: Callable[[int], bytes], size: int) -> bytearray:
    data = bytearray()
    while len(data) < size:
        part = read(min(_CHUNK, size - len(data)))
        if not part:
            raise EOFError
        data += part
    return data
