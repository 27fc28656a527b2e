"""A worker's side of its pipe, with the sign of life that the page hears from it.

While there is work in hand a thread of its own beats once a second, so that a process that was
stopped is told from one that is busy. It also watches the work: a worker that neither asks nor
tells anything for too long ends itself.
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
"""Seconds between two signs of life."""

STUCK = 86
"""Exit code of a worker whose work no longer gets on."""


@dataclass(frozen=True, slots=True)
class Alive:
    """The worker is busy, and not stopped."""


@dataclass(frozen=True, slots=True)
class Idle:
    """The worker has nothing to do.

    Parameters
    ----------
    taken : int
        Messages that it has taken so far.
    """

    taken: int


class Pipe(Protocol):
    """What a worker needs of its pipe."""

    def recv(self) -> Any:
        """Wait for the next message; EOFError once the page has gone."""

    def poll(self, timeout: float = 0.0) -> bool:
        """Tell whether a message is there, or comes within `timeout` seconds."""

    def send(self, obj: Any) -> None:
        """Tell the page something."""


class _BeatingPipe:
    """A pipe through which the page hears whether the worker is alive.

    Parameters
    ----------
    pipe : Connection
    step_limit : float
        Seconds between two calls from the work, after which the process ends itself.
    """

    def __init__(self, pipe: Connection, step_limit: float) -> None:
        self._pipe = pipe
        self._sending = Lock()
        self._busy = Event()
        self._busy.set()
        self._taken = 0
        # Counted in beats, not read off a clock: a program that was stopped as a whole, or a
        # machine that slept, is not stuck.
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

    def poll(self, timeout: float = 0.0) -> bool:
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


def run_worker(module: str, name: str, pipe: Connection, step_limit: float) -> None:
    """Run a worker's function in this process.

    Parameters
    ----------
    module, name : str
        Where the function is. It is imported here, so that a slow import has signs of life too.
    pipe : Connection
    step_limit : float
        Seconds between two calls from the work to its pipe.
    """
    beating = _BeatingPipe(pipe, step_limit)
    getattr(import_module(module), name)(beating)
