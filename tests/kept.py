"""What several tests of one file share: worked out once, and let go when the file is through."""

import functools
from collections.abc import Callable
from typing import Any, TypeVar

__all__ = ["forget", "kept"]

T = TypeVar("T", bound=Callable[..., Any])

_KEPT: list[Callable[[], None]] = []


def kept(function: T) -> T:
    """Remember what a function returns until the last test of the file has run.

    A wrap takes tens of megabytes, and a process of tests goes through hundreds of them.

    Parameters
    ----------
    function : callable
        Its arguments can be hashed.
    """
    cached: Any = functools.cache(function)
    _KEPT.append(cached.cache_clear)
    return cached


def forget() -> None:
    """Let go of everything that is kept."""
    for clear in _KEPT:
        clear()
