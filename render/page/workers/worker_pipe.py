"""A worker's end of its pipe, with a heartbeat for the page.

While there is work, a thread sends a heartbeat once a second, which distinguishes a busy process
from a stopped one. The thread is also a watchdog: a worker that does not use its pipe for too long
ends itself.
"""

import os
import time
from dataclasses import dataclass
from importlib import import_module
from multiprocessing.connection import Connection
from threading import Event, Lock, Thread
from typing import Any, Protocol

__all__ = ["BEAT", "STUCK", "Alive", "Idle", "Pipe", "run_worker"]

BEAT = 1.0
"""Seconds between two heartbeats."""

_NICENESS = 5
"""Added to a background process: a busy core gives it a quarter of its time."""

STUCK = 86
"""Exit code of a worker that made no progress within its step limit."""


@dataclass(frozen=True, slots=True)
class Alive:
    """Heartbeat of a worker that is busy."""


@dataclass(frozen=True, slots=True)
class Idle:
    """The worker has nothing to do.

    Parameters
    ----------
    taken : int
        Number of messages that it has received so far.
    """

    taken: int


class Pipe(Protocol):
    """The worker's end of a pipe to the page."""

    def recv(self) -> Any:
        """Wait for the next message.

        Raises
        ------
        EOFError
            If the page has ended.
        """

    def poll(self, timeout: float = 0.0, *, progress: bool = True) -> bool:
        """Return whether a message is available.

        Parameters
        ----------
        timeout : float
            Longest time to wait for one, s.
        progress : bool
            Whether the call shows that the work goes on; it does not where another thread works.
        """

    def send(self, obj: Any) -> None:
        """Send a message to the page.

        Parameters
        ----------
        obj : picklable object
        """


class _BeatingPipe:
    """A pipe with heartbeat and watchdog.

    Parameters
    ----------
    pipe : Connection
    step_limit : float
        Longest time between two calls from the work, s; after that the process ends itself.
    """

    def __init__(self, pipe: Connection, step_limit: float) -> None:
        self._pipe = pipe
        self._sending = Lock()
        self._busy = Event()
        self._busy.set()
        self._taken = 0
        # Counted in heartbeats, not by a clock: a program that was suspended, or a machine that
        # slept, is not stuck.
        self._beats_left = self._step_beats = max(1, round(step_limit / BEAT))
        Thread(target=self._beat, daemon=True).start()

    def recv(self) -> Any:
        if not self._pipe.poll():
            self._busy.clear()
            self._put(Idle(self._taken))
        message = self._pipe.recv()
        self._taken += 1
        self._beats_left = self._step_beats
        self._busy.set()
        return message

    def poll(self, timeout: float = 0.0, *, progress: bool = True) -> bool:
        if progress:
            self._beats_left = self._step_beats
        return self._pipe.poll(timeout)

    def send(self, obj: Any) -> None:
        self._beats_left = self._step_beats
        self._put(obj)

    def _put(self, message: Any) -> None:
        with self._sending:
            self._pipe.send(message)

    def _beat(self) -> None:
        while True:
            self._busy.wait()
            self._beats_left -= 1
            if self._beats_left < 0:
                os._exit(STUCK)
            try:
                self._put(Alive())
            except OSError:
                return
            time.sleep(BEAT)


def run_worker(
    module: str, name: str, pipe: Connection, step_limit: float, background: bool
) -> None:
    """Run a worker's function in this process.

    Parameters
    ----------
    module, name : str
        Module and name of the function. It is imported here, so that a slow import is covered by
        the heartbeat.
    pipe : Connection
    step_limit : float
        Longest time between two calls from the work to its pipe, s.
    background : bool
        Whether other processes go first where there are too few cores for all.
    """
    if background and hasattr(os, "nice"):
        os.nice(_NICENESS)
    beating = _BeatingPipe(pipe, step_limit)
    getattr(import_module(module), name)(beating)
