"""A process beside the page's own, told what to do and listened to without ever waiting for it."""

import asyncio
import multiprocessing
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from multiprocessing.connection import Connection
from threading import Condition, Thread
from typing import Any

__all__ = ["Companion"]

_FAREWELL = 2.0
"""Seconds that a process has to end by itself."""

# Forking would copy a window of VTK's and threads half-way through their work.
_CONTEXT = multiprocessing.get_context("spawn")


class Companion:
    """A process that works for the page.

    It ends when this one does, however that ends: its pipe is then closed.

    Parameters
    ----------
    work : callable
        What it does, given its end of a pipe; importable by name.
    received : callable
        Called on the event loop's thread with each message that comes from it.
    lost : callable
        Called there if it ends by itself.
    newest : bool
        Whether a message makes earlier ones useless that it has not taken yet.
    """

    def __init__(
        self,
        work: Callable[[Connection], None],
        received: Callable[[Any], None],
        lost: Callable[[], None],
        *,
        newest: bool = False,
    ) -> None:
        self._work, self._received, self._lost = work, received, lost
        self._messages: deque[object] = deque(maxlen=1 if newest else None)
        self._waiting = Condition()
        self._closing = False
        self._process: multiprocessing.process.BaseProcess | None = None

    @property
    def running(self) -> bool:
        """Whether it has been started and has not ended."""
        return self._process is not None and self._process.is_alive()

    @property
    def pid(self) -> int | None:
        """Number of the process."""
        return self._process.pid if self._process is not None else None

    def start(self) -> None:
        """Start it; from the thread of a running event loop."""
        loop = asyncio.get_running_loop()
        ours, theirs = _CONTEXT.Pipe()
        self._process = _CONTEXT.Process(target=self._work, args=(theirs,), daemon=True)
        self._process.start()
        theirs.close()
        self._pipe = ours
        for job in (self._listen, self._post):
            Thread(target=job, args=(ours, loop), daemon=True).start()

    def send(self, message: object) -> None:
        """Tell it something, as soon as it listens."""
        with self._waiting:
            self._messages.append(message)
            self._waiting.notify()

    def close(self, *, now: bool = False) -> None:
        """End it; `now` even in the middle of its work."""
        with self._waiting:
            self._closing = True
            self._waiting.notify()
        if self._process is None:
            return
        if now:
            self._process.kill()
        with suppress(OSError):
            self._pipe.close()
        self._process.join(_FAREWELL)
        if self._process.is_alive():
            self._process.kill()
            self._process.join(_FAREWELL)

    def _listen(self, pipe: Connection, loop: asyncio.AbstractEventLoop) -> None:
        with suppress(RuntimeError):  # the loop has ended first
            try:
                while True:
                    loop.call_soon_threadsafe(self._received, pipe.recv())
            except (EOFError, OSError, TypeError):
                if not self._closing:
                    loop.call_soon_threadsafe(self._lost)

    def _post(self, pipe: Connection, _: object) -> None:
        while True:
            with self._waiting:
                self._waiting.wait_for(lambda: self._messages or self._closing)
                if self._closing:
                    return
                message = self._messages.popleft()
            try:
                pipe.send(message)
            except (OSError, TypeError):
                return
