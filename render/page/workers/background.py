"""Work in a background thread that is cancelled with the coroutine that awaits it.

`asyncio.to_thread` does not suit long work: its threads cannot be cancelled, and the program cannot
end before they do.
"""

import asyncio
import threading
from collections.abc import Callable
from contextlib import suppress
from typing import Any, TypeVar

from aiohttp import web

from scenes.decoding.cancelling import Cancellation
from scenes.problems import DESIGN_REFUSALS

__all__ = ["run_in_background", "try_in_background"]

T = TypeVar("T")

_CHECK_PERIOD = 0.25
"""Seconds between two checks that the browser is still connected."""


async def run_in_background(work: Callable[[], T], request: web.Request | None = None) -> T:
    """Run a function in a thread and await its result.

    Parameters
    ----------
    work : callable
        Called without arguments. Decoding that it has started (`scenes.decoding`) is cancelled with
        it.
    request : aiohttp Request, optional
        The work is cancelled when the browser that sent this request disconnects.

    Raises
    ------
    HTTPServiceUnavailable
        If the browser has disconnected; it is not seen by anybody.
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

    def settle(set_outcome: Callable[[Any], None], outcome: object) -> None:
        with suppress(RuntimeError):  # the loop has ended first
            loop.call_soon_threadsafe(lambda: None if done.done() else set_outcome(outcome))

    threading.Thread(target=run, name="background", daemon=True).start()
    try:
        while not done.done():
            if request is not None and _is_disconnected(request):
                raise web.HTTPServiceUnavailable
            await asyncio.wait({done}, timeout=None if request is None else _CHECK_PERIOD)
        return done.result()
    finally:
        cancellation.cancel()
        done.cancel()


async def try_in_background(work: Callable[[], object], request: web.Request | None = None) -> None:
    """Run a check in a thread before the same work is done on the event loop.

    The slow part, decoding a font or a picture, is cached by it, so that the event loop does not
    wait. A refusal is dropped here, because the work on the event loop raises it again.

    Parameters
    ----------
    work : callable
        Called without arguments.
    request : aiohttp Request, optional
        As for `run_in_background`.
    """
    with suppress(*DESIGN_REFUSALS):
        await run_in_background(work, request)


def _is_disconnected(request: web.Request) -> bool:
    return request.transport is None or request.transport.is_closing()
