"""The messages of the page's socket: read within limits, and packed.

The browser's half of the framework speaks a remote procedure call over binary frames. Each frame is
a header of three 32-bit little-endian numbers (message, offset, whole size) and a part of a
MessagePack map. The framework's own reader reserves whatever a header claims; this one holds only
what has arrived.
"""

import re
import secrets
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import msgpack

__all__ = [
    "HEADER_LENGTH",
    "MOST_BYTES",
    "Assembler",
    "Malformed",
    "Request",
    "chunks",
    "packed_answer",
    "packed_publication",
    "packed_refusal",
    "read_request",
]

HEADER_LENGTH = 12

MOST_BYTES = 1_000_000
"""Of a message from a client. The longest that the page sends is a field's text, some 20 kB."""

_MOST_PARTS = 8
"""Messages of one client that may be incomplete at the same time."""

_MOST_ENTRIES = 10_000
"""Of one list or map in a message."""

_DEEPEST = 12
"""Lists and maps within one another in a message."""

_MOST_ARGUMENTS = 16
_CHUNK = 4_194_304
"""Bytes of one frame that is sent, as the framework's own server sends them."""

_REFUSED = -32001
"""Code of a refusal: what the framework uses for an error of the method itself."""

_ID = re.compile(r"(?:rpc|system):[A-Za-z0-9_.]{1,80}:[0-9]{1,12}")
_METHOD = re.compile(r"[a-z.]{1,40}")


class Malformed(ValueError):
    """A message that no page of Turnlight's sends; the client is let go."""


@dataclass(frozen=True, slots=True)
class Request:
    """One call of a client.

    Parameters
    ----------
    number : str
        What the client calls it by; the answer carries it.
    method : str
    arguments : list
    keywords : dict
    """

    number: str
    method: str
    arguments: list[Any]
    keywords: dict[str, Any]


class Assembler:
    """Puts the parts of one client's messages together."""

    def __init__(self) -> None:
        self._parts: dict[int, tuple[int, bytearray]] = {}

    def take(self, frame: bytes) -> bytes | None:
        """Take a frame; give the message that it completes, if it completes one.

        Raises
        ------
        Malformed
            If the frame does not fit, or the client's messages are too large.
        """
        if len(frame) < HEADER_LENGTH:
            raise Malformed("a frame without a header")
        number, offset, whole = (
            int.from_bytes(frame[place : place + 4], "little") for place in (0, 4, 8)
        )
        if not 0 < whole <= MOST_BYTES:
            raise Malformed(f"a message of {whole} bytes")
        expected, data = self._parts.setdefault(number, (whole, bytearray()))
        if expected != whole or offset != len(data) or len(frame) == HEADER_LENGTH:
            raise Malformed("a part that does not follow")
        data += frame[HEADER_LENGTH:]
        if len(data) > whole:
            raise Malformed("a part that is too long")
        if len(data) == whole:
            del self._parts[number]
            return bytes(data)
        held = sum(len(part) for _, part in self._parts.values())
        if len(self._parts) > _MOST_PARTS or held > MOST_BYTES:
            raise Malformed("too many messages begun")
        return None


def read_request(message: bytes) -> Request | None:
    """Read a whole message.

    Returns
    -------
    Request or None
        None if the client expects no answer; the framework lets it do so, and nothing is done.

    Raises
    ------
    Malformed
    """
    try:
        content = msgpack.unpackb(
            message,
            max_ext_len=0,
            max_array_len=_MOST_ENTRIES,
            max_map_len=_MOST_ENTRIES,
        )
    # Its errors are a ValueError, a subclass of it, or an error of the C stack's limit.
    except (ValueError, TypeError, RecursionError, msgpack.exceptions.UnpackException):
        raise Malformed("not MessagePack") from None
    if not isinstance(content, dict) or _depth(content) > _DEEPEST:
        raise Malformed("no call")
    if "id" not in content:
        return None
    number, method = content["id"], content.get("method")
    arguments, keywords = content.get("args", []), content.get("kwargs", {})
    if not (isinstance(number, str) and _ID.fullmatch(number)):
        raise Malformed("a call without a number")
    if not (isinstance(method, str) and _METHOD.fullmatch(method)):
        raise Malformed("a call without a method")
    if not (isinstance(arguments, list) and isinstance(keywords, dict)):
        raise Malformed("a call without arguments")
    if len(arguments) > _MOST_ARGUMENTS:
        raise Malformed("a call with too many arguments")
    return Request(number, method, arguments, keywords)


def _depth(content: object) -> int:
    """Lists and maps within one another, counted as far as it matters."""
    level, depth = [content], 0
    while level and depth <= _DEEPEST:
        inner: list[object] = []
        for value in level:
            if isinstance(value, dict):
                inner.extend(value.values())
            elif isinstance(value, list):
                inner.extend(value)
        level = [value for value in inner if isinstance(value, (dict, list))]
        depth += 1
    return depth


def packed_answer(number: str, result: object) -> bytes:
    """Pack the answer to a call."""
    return _packed({"wslink": "1.0", "id": number, "result": result})


def packed_refusal(number: str, sentence: str) -> bytes:
    """Pack the refusal of a call: one sentence, and nothing of how it came about."""
    error = {"code": _REFUSED, "message": sentence}
    return _packed({"wslink": "1.0", "id": number, "error": error})


def packed_publication(topic: str, content: Mapping[str, Any]) -> bytes:
    """Pack what is sent to a client unasked."""
    return _packed({"wslink": "1.0", "id": f"publish:{topic}:0", "result": content})


def _packed(content: object) -> bytes:
    return bytes(msgpack.packb(content))


def chunks(message: bytes) -> Iterator[bytes]:
    """Cut a message into frames, each with its header."""
    number = secrets.token_bytes(4)
    whole = len(message).to_bytes(4, "little")
    for offset in range(0, len(message), _CHUNK):
        yield number + offset.to_bytes(4, "little") + whole + message[offset : offset + _CHUNK]
