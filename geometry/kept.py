"""What was laid is kept by what it was made of, so that an edit lays anew only what it changes.

A layer's result depends on the layer and on the surface under it, and on nothing else. So it is
known by a digest of the layer's numbers and of the key of that surface, which is such a digest
itself. Materials are indices here: an edit of colours changes none of them, and lays nothing. A
surface that has no key, since it was made elsewhere, is known by its arrays.

What took longest to be asked for again is dropped first, and what is large is not kept at all: a
wrap in full detail takes half a hundred megabytes a layer. Failures are not kept.
"""

import dataclasses
import hashlib
import struct
from collections import Counter, OrderedDict
from collections.abc import Callable, Iterator
from enum import Enum
from threading import Lock
from typing import Any, TypeVar
from weakref import WeakKeyDictionary

import numpy as np

from geometry.blank import Blank
from geometry.grid import Grid
from geometry.surface import Layer, Surface

__all__ = ["KEPT", "MOST_BYTES", "Kept"]

MOST_BYTES = 64_000_000
"""Most bytes of all that is kept: a few drafts of a wrap."""

_LARGEST_SHARE = 1 / 3
"""Largest share of them that one result may take, what it shares with others included: a chain of
larger ones would only push out its own beginning."""

_LEAST_BYTES = 15
"""Bytes that a surface takes at each point at least: one of a bare blank."""

_KEYS: WeakKeyDictionary[Surface, bytes] = WeakKeyDictionary()
"""Keys of surfaces: the same wherever they are kept, since they say what a surface was made of."""

_KEYS_LOCK = Lock()

T = TypeVar("T")


class Kept:
    """Results by what they were made of, the least recently used first.

    Threads may use it at once; two that want the same result at one time both compute it.

    Parameters
    ----------
    most_bytes : int
        Most bytes of all arrays that are kept; an array that results share counts once.
    """

    def __init__(self, most_bytes: int = MOST_BYTES) -> None:
        self._most = most_bytes
        self._results: OrderedDict[bytes, tuple[Any, tuple[np.ndarray[Any, Any], ...]]] = (
            OrderedDict()
        )
        self._holders: Counter[int] = Counter()
        self._bytes = 0
        self._lock = Lock()

    @property
    def bytes_kept(self) -> int:
        """Bytes of all arrays that are kept."""
        return self._bytes

    def laid(self, layer: Layer, surface: Surface) -> Surface:
        """Lay a layer, or take what was kept of the same one on the same surface.

        Parameters
        ----------
        layer : Layer
            A dataclass of numbers, arrays, surfaces and their like.
        surface : Surface
            What the layer is laid on.
        """
        return self.result(
            "laid", (layer, surface), lambda: layer.apply(surface), points=surface.radius.size
        )

    def bare(self, blank: Blank, grid: Grid, material: int) -> Surface:
        """Make the surface of a bare blank, as `Surface.bare` does, or take the one that was kept.

        Parameters
        ----------
        blank : Blank
            Its radius is the surface's.
        grid : Grid
            Stations and angles.
        material : int
            Palette index of the blank.
        """
        return self.result(
            "bare",
            (blank, grid, material),
            lambda: Surface.bare(blank, grid, material),
            points=grid.points,
        )

    def result(
        self, what: str, inputs: tuple[object, ...], compute: Callable[[], T], *, points: int
    ) -> T:
        """Compute something, or take what was kept of it.

        Parameters
        ----------
        what : str
            Name of the computation.
        inputs : tuple
            All that the result depends on: numbers, texts, arrays, surfaces, tuples and dataclasses
            of them.
        compute : callable
            Gives the result, which nobody changes; what it raises is passed on.
        points : int
            Points of the grid that it is computed on.

        Raises
        ------
        TypeError
            If an input is nothing that can be told apart by its content.
        """
        # It would not be kept: no time is spent on its key.
        if _LEAST_BYTES * points > self._largest:
            return compute()
        digest = hashlib.blake2b(what.encode() + b"\0", digest_size=32)
        for part in self._parts(inputs):
            digest.update(part)
        key = digest.digest()
        with self._lock:
            found = self._results.get(key)
            if found is not None:
                self._results.move_to_end(key)
                # A key of 32 bytes stands for one computation, and so for one type.
                result: T = found[0]
                return result
        made = compute()
        surfaces, arrays = _contents(made)
        with _KEYS_LOCK:
            for number, surface in enumerate(surfaces):
                # One that the result has from its inputs keeps the key that it has.
                _KEYS.setdefault(surface, key + number.to_bytes(4, "big"))
        with self._lock:
            self._keep(key, made, arrays)
        return made

    def same(self, surface: Surface) -> Surface:
        """Give another object of the same arrays, which is known by the same key.

        Parameters
        ----------
        surface : Surface
            What the other one shows too.
        """
        twin = surface.with_arrays()
        with _KEYS_LOCK:
            key = _KEYS.get(surface)
            if key is not None:
                _KEYS[twin] = key
        return twin

    def forget(self) -> None:
        """Drop all that is kept, as before a measurement of what laying costs."""
        with self._lock:
            self._results.clear()
            self._holders.clear()
            self._bytes = 0

    @property
    def _largest(self) -> float:
        return self._most * _LARGEST_SHARE

    def _keep(self, key: bytes, made: object, arrays: tuple[np.ndarray[Any, Any], ...]) -> None:
        """Keep a result if it is not too large, and drop what there is no room for."""
        if key in self._results or sum(array.nbytes for array in arrays) > self._largest:
            return
        self._results[key] = made, arrays
        for array in arrays:
            self._holders[id(array)] += 1
            if self._holders[id(array)] == 1:
                self._bytes += array.nbytes
        while self._bytes > self._most:
            _, (_, dropped) = self._results.popitem(last=False)
            for array in dropped:
                self._holders[id(array)] -= 1
                if not self._holders[id(array)]:
                    del self._holders[id(array)]
                    self._bytes -= array.nbytes

    def _parts(self, value: object) -> Iterator[bytes]:
        """Bytes that tell a value from every other, each with its type and length before it."""
        if isinstance(value, Surface):
            with _KEYS_LOCK:
                key = _KEYS.get(value)
            if key is None:
                digest = hashlib.blake2b(digest_size=32)
                for entry in dataclasses.fields(value):
                    for part in self._parts(getattr(value, entry.name)):
                        digest.update(part)
                key = digest.digest()
                with _KEYS_LOCK:
                    _KEYS[value] = key
            yield _head("surface", len(key)) + key
        elif isinstance(value, Enum):
            text = f"{type(value).__qualname__}.{value.name}".encode()
            yield _head("enum", len(text)) + text
        elif value is None or isinstance(value, bool | int | np.bool_ | np.integer):
            text = str(value).encode()
            yield _head("whole", len(text)) + text
        elif isinstance(value, float | np.floating):
            yield _head(type(value).__name__, 8) + struct.pack("<d", float(value))
        elif isinstance(value, str):
            yield _head("text", len(value.encode())) + value.encode()
        elif isinstance(value, np.ndarray) and not value.dtype.hasobject:
            yield _head(f"array {value.dtype.str} {value.shape}", value.nbytes)
            yield np.ascontiguousarray(value).tobytes()
        elif isinstance(value, tuple | list):
            yield _head("row", len(value))
            for entry in value:
                yield from self._parts(entry)
        elif dataclasses.is_dataclass(value) and not isinstance(value, type):
            fields = dataclasses.fields(value)
            yield _head(f"{type(value).__module__}.{type(value).__qualname__}", len(fields))
            for entry in fields:
                yield from self._parts(getattr(value, entry.name))
        else:
            raise TypeError(f"{type(value).__name__} is not told apart by its content")


KEPT = Kept()
"""What is kept in this process."""


def _head(kind: str, length: int) -> bytes:
    return f"{kind} {length}:".encode()


def _contents(
    result: object,
) -> tuple[tuple[Surface, ...], tuple[np.ndarray[Any, Any], ...]]:
    """Surfaces of a result, and the arrays that it holds in memory, each once."""
    surfaces: list[Surface] = []
    arrays: dict[int, np.ndarray[Any, Any]] = {}

    def walk(value: object) -> None:
        if isinstance(value, np.ndarray):
            while isinstance(value.base, np.ndarray):
                value = value.base
            arrays[id(value)] = value
        elif isinstance(value, tuple | list):
            for entry in value:
                walk(entry)
        elif dataclasses.is_dataclass(value) and not isinstance(value, type):
            if isinstance(value, Surface):
                surfaces.append(value)
            for field in dataclasses.fields(value):
                walk(getattr(value, field.name))

    walk(result)
    return tuple(surfaces), tuple(arrays.values())
