"""How tests wait: for a condition, never for time to pass, and long enough on a busy machine."""

import time
from collections.abc import Callable

import pytest

__all__ = ["WITHIN", "eventually"]

WITHIN = 120.0
"""Seconds in which what is waited for must have come; where it comes at once this costs nothing."""


def eventually(read: Callable[[], object], wanted: object = True) -> None:
    """Wait until what is read is what is wanted.

    For what a browser shows there is playwright's ``expect``, which waits as long.

    Parameters
    ----------
    read : callable
        What a browser tells comes in only during calls to it, so one must be among them.
    wanted : object
    """
    end = time.monotonic() + WITHIN
    while (found := read()) != wanted:
        if time.monotonic() > end:
            pytest.fail(f"Within {WITHIN:g} s it came to {found!r}, not to {wanted!r}.")
        time.sleep(0.05)
