"""The messages of the page's sockets: parsed within limits, and packed.

The framework's client uses remote procedure calls over binary frames. Each frame has a header of
three 32-bit little-endian numbers (message, offset, total size) and a part of a MessagePack map.
The framework's own reader allocates whatever size a header claims; this one holds only the bytes
that have arrived.
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
    "Call",
    "Malformed",
    "chunks",
    "packed_answer",
    "packed_publication",
    "packed_refusal",
    "read_call",
]

HEADER_LENGTH = 12

MOST_BYTES = 1_000_000
"""Size limit of a client's message; the longest of the page is a field's text of about 20 kB."""

_MOST_PARTS = 8
"""Messages of one client that may be incomplete at the same time."""

_MOST_ENTRIES = 10_000
"""Entries of one list or map in a message."""

_DEEPEST = 12
"""Nesting depth of lists and maps in a message."""

_MOST_ARGUMENTS = 16
_CHUNK = 4_194_304
"""Content bytes of one frame, as in the framework's own server."""

_REFUSED = -32001
"""Error code of a refusal: the framework's code for an error of the method itself."""

_ID = re.compile(r"(?:rpc|system):[A-Za-z0-9_.]{1,80}:[0-9]{1,12}")
_METHOD = re.compile(r"[a-z.]{1,40}")


class Malformed(ValueError):
    """A message that Turnlight's page never sends; the client is disconnected."""


@dataclass(frozen=True, slots=True)
class Call:
    """One call of a client.

    Parameters
    ----------
    number : str
        Identifier of the call, which the answer repeats.
    method : str
    arguments : list
    keywords : dict
    """

    number: str
    method: str
    arguments: list[Any]
    keywords: dict[str, Any]


class Assembler:
    """Reassembles one client's messages from frames."""

    def __init__(self) -> None:
        self._parts: dict[int, tuple[int, bytearray]] = {}

    def take(self, frame: bytes) -> bytes | None:
        """Take a frame.

        Parameters
        ----------
        frame : bytes
            Header and content.

        Returns
        -------
        bytes or None
            The message that the frame completes; None while it is incomplete.

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


def read_call(message: bytes) -> Call | None:
    """Parse a whole message.

    Parameters
    ----------
    message : bytes

    Returns
    -------
    Request or None
        None if the client expects no answer; such a message is ignored.

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
    return Call(number, method, arguments, keywords)


def _depth(content: object) -> int:
    """Nesting depth of lists and maps, counted to just above the limit."""
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
    """Pack the answer to a call.

    Parameters
    ----------
    number : str
        Identifier of the call.
    result : object
        Plain data.
    """
    return _packed({"wslink": "1.0", "id": number, "result": result})


def packed_refusal(number: str, sentence: str) -> bytes:
    """Pack the refusal of a call: one sentence, without a traceback.

    Parameters
    ----------
    number : str
        Identifier of the call.
    sentence : str
    """
    error = {"code": _REFUSED, "message": sentence}
    return _packed({"wslink": "1.0", "id": number, "error": error})


def packed_publication(topic: str, content: Mapping[str, Any]) -> bytes:
    """Pack a published message.

    Parameters
    ----------
    topic : str
    content : mapping
        Plain data.
    """
    return _packed({"wslink": "1.0", "id": f"publish:{topic}:0", "result": content})


def _packed(content: object) -> bytes:
    return bytes(msgpack.packb(content))


def chunks(message: bytes) -> Iterator[bytes]:
    """Split a message into frames, each with its header.

    Parameters
    ----------
    message : bytes
    """
    number = secrets.token_bytes(4)
    whole = len(message).to_bytes(4, "little")
    for offset in range(0, len(message), _CHUNK):
        yield number + offset.to_bytes(4, "little") + whole + message[offset : offset + _CHUNK]
