"""What several tests of one file share: worked out once, and let go when the file is through."""

import functools
import gc
from collections.abc import Callable
from typing import Any, TypeVar

from render.common.heap import give_back_freed_memory

__all__ = ["forget", "kept"]

T = TypeVar("T", bound=Callable[..., Any])

_KEPT: list[Any] = []


def kept(function: T) -> T:
    """Remember what a function returns until the last test of the file has run.

    A wrap takes tens of megabytes, and a process of tests goes through hundreds of them.

    Parameters
    ----------
    function : callable
        Its arguments can be hashed.
    """
    cached: Any = functools.cache(function)
    _KEPT.append(cached)
    return cached


def forget() -> None:
    """Let go of everything that is kept, and give its memory back to the system."""
    held = [cached for cached in _KEPT if cached.cache_info().currsize]
    for cached in held:
        cached.cache_clear()
    if held:
        gc.collect()
        give_back_freed_memory()
