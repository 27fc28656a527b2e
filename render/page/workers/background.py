"""Work in a thread of its own, while the page goes on: it ends with whoever waits for it.

`asyncio.to_thread` will not do for what may take long: its threads cannot be called off, and the
program does not end before they do.
"""

import asyncio
import threading
from collections.abc import Callable
from contextlib import suppress
from typing import Any, TypeVar

from aiohttp import web

from scenes.decoding.cancelling import Cancellation
from scenes.problems import DESIGN_REFUSALS

__all__ = ["in_background", "tried_in_background"]

T = TypeVar("T")

_LOOK = 0.25
"""Seconds between looks whether a browser still waits."""


async def in_background(work: Callable[[], T], request: web.Request | None = None) -> T:
    """Do some work in a thread, and wait for it.

    Parameters
    ----------
    work : callable
        Files that it decodes (`scenes.decoding`) are called off with it.
    request : aiohttp Request, optional
        The work is called off when the browser that sent it has gone.

    Raises
    ------
    HTTPServiceUnavailable
        If the browser has gone; nobody reads it.
    """
    loop = asyncio.get_running_loop()
    done: asyncio.Future[T] = loop.create_future()
    cancellation = Cancellation()

    def run() -> None:
        try:
            with cancellation.covering():
                result = work()
        except BaseException as error:
            settle(done.set_exception, error)
        else:
            settle(done.set_result, result)

    def settle(how: Callable[[Any], None], outcome: object) -> None:
        with suppress(RuntimeError):  # the loop has ended first
            loop.call_soon_threadsafe(lambda: None if done.done() else how(outcome))

    threading.Thread(target=run, name="background", daemon=True).start()
    try:
        while not done.done():
            if request is not None and _has_gone(request):
                raise web.HTTPServiceUnavailable
            await asyncio.wait({done}, timeout=None if request is None else _LOOK)
        return done.result()
    finally:
        cancellation.cancel()
        done.cancel()


async def tried_in_background(
    work: Callable[[], object], request: web.Request | None = None
) -> None:
    """Try in a thread what is then done on the event loop, so that nobody waits for it there.

    What takes long, decoding a stranger's font or picture, is known afterwards, a refusal too;
    that is raised when it is met again.
    """
    with suppress(*DESIGN_REFUSALS):
        await in_background(work, request)


def _has_gone(request: web.Request) -> bool:
    return request.transport is None or request.transport.is_closing()
