"""Bytes of packed stages, named by what is in them before they are compressed."""

import hashlib
import json
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from threading import Lock

import numpy as np
from numpy.typing import NDArray

from render.browser.stage_json import Json
from scenes.packing.images import STORED, deflated, pixmap, webp

__all__ = ["NAME_LENGTH", "Blobs", "Encoder", "Parcel"]

_QUICK = 1
"""Level at which numbers are compressed while somebody waits for them."""

_MOST_ENCODED = 48_000_000
"""Bytes kept encoded, so that undoing an edit costs no encoding."""

NAME_LENGTH = 32
"""Hexadecimal digits of a name: half of SHA-256."""


@dataclass(frozen=True, slots=True)
class Parcel:
    """JSON with the bytes that it names.

    Parameters
    ----------
    name : str
        Name of the JSON's own bytes.
    blobs : dict of str to bytes
        All that it needs, itself included.
    """

    name: str
    blobs: Mapping[str, bytes]


class Encoder:
    """Names and encodes bulk data; what was encoded lately is not encoded again.

    Two threads may use it at once.
    """

    def __init__(self) -> None:
        self._encoded: OrderedDict[str, bytes] = OrderedDict()
        self._size = 0
        self._lock = Lock()

    def encoded(self, kind: str, raw: bytes, encode: Callable[[], bytes]) -> tuple[str, bytes]:
        """Name of raw bytes, and what `encode` makes of them.

        Parameters
        ----------
        kind : str
            What they are; the same bytes of another kind have another name.
        raw : bytes
        encode : callable
            Gives the encoded bytes; not called if they are kept.
        """
        name = _name_of(kind, raw)
        with self._lock:
            data = self._encoded.get(name)
        if data is None:
            data = encode()
        with self._lock:
            if name not in self._encoded:
                self._size += len(data)
            self._encoded[name] = data
            self._encoded.move_to_end(name)
            while self._size > _MOST_ENCODED and len(self._encoded) > 1:
                self._size -= len(self._encoded.popitem(last=False)[1])
        return name, data


def _name_of(kind: str, raw: bytes) -> str:
    digest = hashlib.sha256(kind.encode() + b"\0")
    digest.update(raw)
    return digest.hexdigest()[:NAME_LENGTH]


class Blobs:
    """The bytes that one part of a stage names.

    Parameters
    ----------
    encoder : Encoder
    stored : bool
        Store bulk data as they are, for a draft: it is sent at once and soon replaced.
    """

    def __init__(self, encoder: Encoder, *, stored: bool = False) -> None:
        self._encoder = encoder
        self._stored = stored
        self.used: dict[str, bytes] = {}

    def picture(self, image: NDArray[np.uint8]) -> str:
        """Keep an image, and give its name.

        Parameters
        ----------
        image : (h, w, channels) uint8
        """
        if self._stored:
            return self._store(pixmap(image))
        kind = f"map {image.shape}"
        return self._keep(kind, image.tobytes(), lambda: webp(image, quick=True))

    def columns(self, whole: NDArray[np.integer]) -> str:
        """Keep whole numbers, and give their name.

        Parameters
        ----------
        whole : (n, columns) int
        """
        if self._stored:
            return self._store(deflated(whole, level=STORED))
        kind = f"columns {whole.dtype} {whole.shape}"
        return self._keep(kind, whole.tobytes(), lambda: deflated(whole, level=_QUICK))

    def parcel(self, data: Json) -> Parcel:
        """JSON with all bytes that it names.

        Parameters
        ----------
        data : dict
        """
        text = json.dumps(data, separators=(",", ":")).encode()
        return Parcel(self._keep("json", text, lambda: text), self.used)

    def _store(self, data: bytes) -> str:
        name = _name_of("stored", data)
        self.used[name] = data
        return name

    def _keep(self, kind: str, raw: bytes, encode: Callable[[], bytes]) -> str:
        name, data = self._encoder.encoded(kind, raw, encode)
        self.used[name] = data
        return name
