"""How tests run coroutines: on a loop of their own, whatever runs in the test's thread."""

import asyncio
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from typing import Any, TypeVar

__all__ = ["run"]

T = TypeVar("T")


def run(work: Coroutine[Any, Any, T]) -> T:
    """Run a coroutine to its end.

    In a thread of its own: playwright's synchronous interface keeps a loop in the main thread for
    as long as a browser is open, and a second cannot run there.

    Parameters
    ----------
    work : coroutine
    """
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(asyncio.run, work).result()
