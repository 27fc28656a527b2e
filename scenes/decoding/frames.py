"""Messages between parent and child: a JSON header and a block of bytes, with their lengths first.

Received data are never unpickled or executed, because a decoder that a hostile file controls could
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
"""Lengths of header and block, bytes."""

_MOST_HEADER = 100_000

_CHUNK = 1 << 20
"""Most bytes read at a time."""


class FrameError(Exception):
    """The received data are no frame, or a frame that is too large."""


def frame_header(header: Mapping[str, Any], size: int) -> bytes:
    """Give the bytes that precede the block of a frame.

    Parameters
    ----------
    header : dict
        Of JSON types.
    size : int
        Bytes of the block.
    """
    text = json.dumps(header).encode("ascii")
    return _LENGTHS.pack(len(text), size) + text


def read_frame(read: Callable[[int], bytes], most: int) -> Frame:
    """Read a header and its block.

    Parameters
    ----------
    read : callable
        Returns at most as many bytes as its argument says; none at the end of the stream.
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
