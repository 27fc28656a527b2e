"""Cache of decoded files, by content: a design's own font is decoded once, not at each edit.

Refusals are kept too, so that a file which used its whole time limit is not decoded again.
"""

import hashlib
import threading
from collections import OrderedDict
from collections.abc import Mapping
from typing import Any

from scenes.decoding.errors import DecodingError, Reason
from scenes.decoding.process import Limits, decode

__all__ = ["decoded"]

_MOST_BYTES = 200_000_000
"""Most bytes of all entries: two decals of the largest size, and many small ones."""

_MOST = 200

Answer = tuple[dict[str, Any], bytearray]
Key = tuple[str, str, bytes]

_KEPT: OrderedDict[Key, Answer | DecodingError] = OrderedDict()
_LOCK = threading.Lock()


def decoded(job: str, data: bytes, arguments: Mapping[str, Any], limits: Limits) -> Answer:
    """Decode a file in a child process (see `decode`), or return the cached result.

    Parameters
    ----------
    job : str
        Name of the job, from `scenes.decoding.child`.
    data : bytes
        The file.
    arguments : mapping
        Arguments of the job, of JSON types.
    limits : Limits

    Returns
    -------
    header : dict
    block : bytearray

    Raises
    ------
    DecodingError
    CancelledError
    """
    key = (job, repr(sorted(arguments.items())), hashlib.sha256(data).digest())
    with _LOCK:
        found = _KEPT.get(key)
        if found is not None:
            _KEPT.move_to_end(key)
    if found is None:
        try:
            found = decode(job, data, arguments, limits)
        except DecodingError as error:
            if error.reason is Reason.PROCESS:
                raise
            found = error
        _keep(key, found)
    if isinstance(found, DecodingError):
        raise DecodingError(found.reason, **found.details)
    return found


def _keep(key: Key, answer: Answer | DecodingError) -> None:
    with _LOCK:
        _KEPT[key] = answer
        _KEPT.move_to_end(key)
        while len(_KEPT) > 1 and (len(_KEPT) > _MOST or _held() > _MOST_BYTES):
            _KEPT.popitem(last=False)


def _held() -> int:
    return sum(len(answer[1]) for answer in _KEPT.values() if not isinstance(answer, DecodingError))
