"""A process beside the page's own, told what to do and listened to without ever waiting for it.

A process that ends by itself, or gives no sign of life while it has work, is told of at once and
cleared away. One that has had nothing to do for a minute is ended, which gives back all of its
memory. In both cases the next message starts another.
"""

import asyncio
import multiprocessing
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from enum import StrEnum
from multiprocessing import connection
from threading import Condition, Lock, Thread
from typing import Any

from render.page.workers.worker_pipe import BEAT, STUCK, Alive, Idle, Pipe, run_worker

__all__ = ["Companion", "Loss"]

_FAREWELL = 2.0
"""Seconds that a process has to be gone once it has been killed."""

_SILENT_BEATS = 6
"""Beats that may stay away before a process with work in hand is taken for stopped."""

_SILENT_START = 30
"""The same before its first: Python and what it imports come first."""

_REST = 60.0
"""Seconds without work after which a process is ended."""

_MOST_LOSSES, _LOSSES_WITHIN = 3, 600.0
"""So often in so many seconds a lost process may be started anew without anybody asking."""

# Forking would copy a window of VTK's and threads half-way through their work.
_CONTEXT = multiprocessing.get_context("spawn")

_CHILDREN = Lock()
"""Held where the system is asked about a process: two threads would take each other's answer."""


class Loss(StrEnum):
    """How a process was lost, in words that end a sentence."""

    ENDED = "its process was ended"
    HUNG = "its process no longer answered"
    ABSENT = "its process cannot be started"


class Companion:
    """A process that works for the page.

    It ends when this one does, however that ends: its pipe is then closed.

    Parameters
    ----------
    work : callable
        What it does, given its end of a pipe; importable by name. It must come back to the pipe
        (`recv`, `poll` or `send`) within `step_limit`.
    received : callable
        Called on the event loop's thread with each message that comes from it.
    lost : callable
        Called there if it ends by itself or hangs, with the `Loss` and whether the caller may have
        it started again: False after three losses within ten minutes. What was sent to it and not
        answered is lost too.
    newest : bool
        Whether a message makes earlier ones useless that it has not taken yet.
    step_limit : float
        Seconds that one step of its work may take.
    """

    def __init__(
        self,
        work: Callable[[Pipe], None],
        received: Callable[[Any], None],
        lost: Callable[[Loss, bool], None],
        *,
        newest: bool = False,
        step_limit: float = 120.0,
    ) -> None:
        self._work, self._received, self._lost = work, received, lost
        self._newest, self._step_limit = newest, step_limit
        self._run: _Run | None = None
        self._losses: deque[float] = deque(maxlen=_MOST_LOSSES + 1)

    @property
    def running(self) -> bool:
        """Whether there is a process."""
        return self._run is not None

    @property
    def idle(self) -> bool:
        """Whether nothing that was sent is still being worked at."""
        return self._run is None or not self._run.owes

    @property
    def pid(self) -> int | None:
        """Number of the process."""
        return None if self._run is None else self._run.pid

    def send(self, message: object) -> None:
        """Tell it something, as soon as it listens; from the thread of a running event loop.

        Starts the process where there is none.
        """
        loop = asyncio.get_running_loop()
        if self._run is None:
            try:
                self._run = _Run(self._work, self._step_limit, self._newest, loop, self)
            except OSError:
                loop.call_soon(self._lose, None, Loss.ABSENT)
                return
        self._run.send(message)
        self._expect(self._run)

    def close(self) -> None:
        """End it, even in the middle of its work; what is sent later starts another."""
        if self._run is not None:
            run, self._run = self._run, None
            run.end()

    # --- on the event loop's thread ---------------------------------------------------------

    def heard(self, run: "_Run", message: object) -> None:
        """Take what a process says."""
        if run is not self._run:
            return
        run.silent, run.heard = 0, True
        if isinstance(message, Idle):
            run.answered = message.taken
            if not run.owes:
                run.watched = False
                run.set_timer(_REST, self._rest)
        elif not isinstance(message, Alive):
            self._received(message)

    def over(self, run: "_Run", exit_code: int | None) -> None:
        """Learn that a process has ended."""
        if run is self._run:
            self._lose(run, Loss.HUNG if exit_code == STUCK else Loss.ENDED)

    def _expect(self, run: "_Run") -> None:
        """Count how long it is silent while it has work."""
        if not run.watched:
            run.silent, run.watched = 0, True
            run.set_timer(BEAT, self._count)

    def _count(self, run: "_Run") -> None:
        # In turns of the loop, not by the clock: after a stop of this whole program, or a sleep
        # of the machine, both sides have been silent alike.
        run.silent += 1
        if run.silent > (_SILENT_BEATS if run.heard else _SILENT_START):
            self._lose(run, Loss.HUNG)
        else:
            run.set_timer(BEAT, self._count)

    def _rest(self, _: "_Run") -> None:
        self.close()

    def _lose(self, run: "_Run | None", loss: Loss) -> None:
        if run is not None:
            self._run = None
            run.end(wait=False)
        now = asyncio.get_running_loop().time()
        self._losses.append(now)
        lately = sum(now - when < _LOSSES_WITHIN for when in self._losses)
        self._lost(loss, lately <= _MOST_LOSSES)


class _Run:
    """One process, from its start until nothing of it is left.

    Parameters
    ----------
    work : callable
    step_limit : float
    newest : bool
    loop : AbstractEventLoop
    companion : Companion
        Told what is heard of it.

    Raises
    ------
    OSError
        If it cannot be started.
    """

    def __init__(
        self,
        work: Callable[[Pipe], None],
        step_limit: float,
        newest: bool,
        loop: asyncio.AbstractEventLoop,
        companion: Companion,
    ) -> None:
        self.silent, self.heard, self.watched = 0, False, False
        self.answered = 0
        self._timer: asyncio.TimerHandle | None = None
        self._loop, self._companion = loop, companion
        self._messages: deque[object] = deque(maxlen=1 if newest else None)
        self._waiting = Condition()
        self._posted = 0
        self._ending = False
        self._pipe, theirs = _CONTEXT.Pipe()
        arguments = (work.__module__, work.__qualname__, theirs, step_limit)
        self._process = _CONTEXT.Process(target=run_worker, args=arguments, daemon=True)
        try:
            with _CHILDREN:
                self._process.start()
        except OSError:
            self._pipe.close()
            raise
        finally:
            theirs.close()
        self.pid = self._process.pid
        self._poster = Thread(target=self._post, daemon=True)
        self._listener = Thread(target=self._listen, daemon=True)
        self._poster.start()
        self._listener.start()

    @property
    def owes(self) -> bool:
        """Whether it has not yet done all that it was told."""
        with self._waiting:
            return bool(self._messages) or self._posted > self.answered

    def send(self, message: object) -> None:
        """Tell it something, as soon as it listens."""
        with self._waiting:
            self._messages.append(message)
            self._waiting.notify()

    def set_timer(self, seconds: float, callback: Callable[["_Run"], None]) -> None:
        """Call back later, in place of what was to be called back before."""
        if self._timer is not None:
            self._timer.cancel()
        self._timer = self._loop.call_later(seconds, callback, self)

    def end(self, *, wait: bool = True) -> None:
        """Kill it; `wait` until it is gone, as far as it goes at once."""
        if self._timer is not None:
            self._timer.cancel()
        self._stop_posting()
        with _CHILDREN, suppress(ValueError):  # it is gone already
            self._process.kill()
        if wait:
            self._listener.join(_FAREWELL)

    def _stop_posting(self) -> None:
        with self._waiting:
            self._ending = True
            self._waiting.notify()

    def _listen(self) -> None:
        """Hear it until it has ended, then clear away what is left of it."""
        try:
            while True:
                self._tell(self._companion.heard, self._pipe.recv())
        except Exception:  # its end, or half a message that can be read as anything
            self._stop_posting()
        # A process that closed its pipe may still be at work; nobody hears it any more.
        with _CHILDREN:
            self._process.kill()
        connection.wait([self._process.sentinel])
        with _CHILDREN:
            self._process.join()
            exit_code = self._process.exitcode
            self._process.close()
        self._tell(self._companion.over, exit_code)
        self._poster.join()
        self._pipe.close()

    def _tell(self, callback: Callable[["_Run", Any], None], argument: object) -> None:
        with suppress(RuntimeError):  # the loop has ended first
            self._loop.call_soon_threadsafe(callback, self, argument)

    def _post(self) -> None:
        while True:
            with self._waiting:
                self._waiting.wait_for(lambda: self._messages or self._ending)
                if self._ending:
                    return
                message = self._messages.popleft()
                self._posted += 1
            try:
                self._pipe.send(message)
            except OSError:
                return
