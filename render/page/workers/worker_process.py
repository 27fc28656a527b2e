"""A worker process of the page: messages to and from it never block the event loop.

A process that ends by itself, or sends no heartbeat while it has work, is reported at once and
cleaned up. A process that has been idle for a minute is ended, which frees all of its memory. In
both cases the next message starts another process.
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

__all__ = ["Loss", "WorkerProcess"]

_KILL_TIMEOUT = 2.0
"""Seconds to wait for the end of a process that has been killed."""

_SILENT_BEATS = 6
"""Heartbeats that may be missing before a process that has work is taken for stopped."""

_SILENT_START = 30
"""The same before the first heartbeat: Python and its imports have to be loaded."""

_IDLE_LIMIT = 60.0
"""Seconds without work after which a process is ended."""

_MOST_LOSSES, _LOSSES_WITHIN = 3, 600.0
"""Number of losses, within so many seconds, after which a process is restarted automatically."""

# Forking would copy VTK windows, and threads in the middle of their work.
_CONTEXT = multiprocessing.get_context("spawn")

_CHILDREN = Lock()
"""Held around system calls about child processes: two threads could take each other's result."""


class Loss(StrEnum):
    """Cause of the loss of a process, as a clause for a sentence."""

    ENDED = "its process was ended"
    HUNG = "its process no longer answered"
    ABSENT = "its process cannot be started"


class WorkerProcess:
    """A process that works for the page.

    It ends when the page's process ends, for whatever reason, because its pipe is then closed.

    Parameters
    ----------
    work : callable
        Function that the process runs, given its end of a pipe; importable by name. It must use the
        pipe (`recv`, `poll` or `send`) at least once within `step_limit`.
    received : callable
        Called on the event loop's thread with each message from the process.
    lost : callable
        Called on the event loop's thread if the process ends by itself or hangs, with the `Loss`
        and whether the caller may restart it: False after three losses within ten minutes. Messages
        that were sent to it and not answered are lost too.
    newest : bool
        Whether a message replaces earlier ones that the process has not received yet.
    step_limit : float
        Longest time that one step of its work may take, s.
    background : bool
        Whether other processes go first where there are too few cores for all.
    """

    def __init__(
        self,
        work: Callable[[Pipe], None],
        received: Callable[[Any], None],
        lost: Callable[[Loss, bool], None],
        *,
        newest: bool = False,
        step_limit: float = 120.0,
        background: bool = False,
    ) -> None:
        self._background = background
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
        """Whether all messages that were sent have been processed."""
        return self._run is None or not self._run.has_work

    @property
    def pid(self) -> int | None:
        """Process number; None where there is no process."""
        return None if self._run is None else self._run.pid

    def start(self) -> None:
        """Start the process, so that it has loaded what it needs when the first message comes.

        It must be called from the thread of a running event loop, and does not block. A process
        that cannot be started is reported when there is a message for it.
        """
        if self._run is None:
            loop = asyncio.get_running_loop()
            with suppress(OSError):
                self._run = _Run(
                    self._work, self._step_limit, self._newest, self._background, loop, self
                )

    def send(self, message: object) -> None:
        """Send a message, and start the process where there is none.

        It must be called from the thread of a running event loop, and does not block.

        Parameters
        ----------
        message : picklable object
        """
        self.start()
        if self._run is None:
            asyncio.get_running_loop().call_soon(self._lose, None, Loss.ABSENT)
            return
        self._run.send(message)
        self._watch(self._run)

    def close(self) -> None:
        """End the process, even in the middle of its work; a later message starts another."""
        if self._run is not None:
            run, self._run = self._run, None
            run.end()

    # --- on the event loop's thread ---------------------------------------------------------

    def handle_message(self, run: "_Run", message: object) -> None:
        """Handle a message of a process.

        Parameters
        ----------
        run : _Run
            The process; ignored unless it is the current one.
        message : object
        """
        if run is not self._run:
            return
        run.missed_beats, run.started = 0, True
        if isinstance(message, Idle):
            run.answered = message.taken
            if not run.has_work:
                run.watched = False
                run.set_timer(_IDLE_LIMIT, self._end_idle)
        elif not isinstance(message, Alive):
            self._received(message)

    def handle_exit(self, run: "_Run", exit_code: int | None) -> None:
        """Handle the end of a process.

        Parameters
        ----------
        run : _Run
            The process; ignored unless it is the current one.
        exit_code : int or None
        """
        if run is self._run:
            self._lose(run, Loss.HUNG if exit_code == STUCK else Loss.ENDED)

    def _watch(self, run: "_Run") -> None:
        """Start to count missing heartbeats of a process that has work."""
        if not run.watched:
            run.missed_beats, run.watched = 0, True
            run.set_timer(BEAT, self._count_missed_beat)

    def _count_missed_beat(self, run: "_Run") -> None:
        # Counted by timers of the loop, not by the clock: if this whole program was suspended, or
        # the machine slept, both processes have been silent for the same time.
        run.missed_beats += 1
        if run.missed_beats > (_SILENT_BEATS if run.started else _SILENT_START):
            self._lose(run, Loss.HUNG)
        else:
            run.set_timer(BEAT, self._count_missed_beat)

    def _end_idle(self, _: "_Run") -> None:
        self.close()

    def _lose(self, run: "_Run | None", loss: Loss) -> None:
        if run is not None:
            self._run = None
            run.end(wait=False)
        now = asyncio.get_running_loop().time()
        self._losses.append(now)
        recent = sum(now - when < _LOSSES_WITHIN for when in self._losses)
        self._lost(loss, recent <= _MOST_LOSSES)


class _Run:
    """One operating system process, from its start until it has been cleaned up.

    Parameters
    ----------
    work, step_limit, newest, background
        As for `WorkerProcess`.
    loop : AbstractEventLoop
    owner : WorkerProcess
        Receives its messages and its exit.

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
        background: bool,
        loop: asyncio.AbstractEventLoop,
        owner: WorkerProcess,
    ) -> None:
        self.missed_beats, self.started, self.watched = 0, False, False
        self.answered = 0
        self._timer: asyncio.TimerHandle | None = None
        self._loop, self._owner = loop, owner
        self._messages: deque[object] = deque(maxlen=1 if newest else None)
        self._waiting = Condition()
        self._sent = 0
        self._ending = False
        self._pipe, worker_end = _CONTEXT.Pipe()
        arguments = (work.__module__, work.__qualname__, worker_end, step_limit, background)
        self._process = _CONTEXT.Process(target=run_worker, args=arguments, daemon=True)
        try:
            with _CHILDREN:
                self._process.start()
        except OSError:
            self._pipe.close()
            raise
        finally:
            worker_end.close()
        self.pid = self._process.pid
        self._sender = Thread(target=self._send_queued, daemon=True)
        self._receiver = Thread(target=self._receive, daemon=True)
        self._sender.start()
        self._receiver.start()

    @property
    def has_work(self) -> bool:
        """Whether there are messages that it has not finished processing."""
        with self._waiting:
            return bool(self._messages) or self._sent > self.answered

    def send(self, message: object) -> None:
        """Queue a message for it."""
        with self._waiting:
            self._messages.append(message)
            self._waiting.notify()

    def set_timer(self, seconds: float, callback: Callable[["_Run"], None]) -> None:
        """Call back after `seconds`; this replaces the previous timer."""
        if self._timer is not None:
            self._timer.cancel()
        self._timer = self._loop.call_later(seconds, callback, self)

    def end(self, *, wait: bool = True) -> None:
        """Kill it, and optionally wait a short time until it has ended."""
        if self._timer is not None:
            self._timer.cancel()
        self._stop_sending()
        with _CHILDREN, suppress(ValueError):  # it has ended already
            self._process.kill()
        if wait:
            self._receiver.join(_KILL_TIMEOUT)

    def _stop_sending(self) -> None:
        with self._waiting:
            self._ending = True
            self._waiting.notify()

    def _receive(self) -> None:
        """Receive its messages until it has ended, then clean up."""
        try:
            while True:
                self._call_on_loop(self._owner.handle_message, self._pipe.recv())
        except Exception:  # its end, or a truncated message, which may raise anything
            self._stop_sending()
        # A process that closed its pipe may still be running; its messages are lost.
        with _CHILDREN:
            self._process.kill()
        connection.wait([self._process.sentinel])
        with _CHILDREN:
            self._process.join()
            exit_code = self._process.exitcode
            self._process.close()
        self._call_on_loop(self._owner.handle_exit, exit_code)
        self._sender.join()
        self._pipe.close()

    def _call_on_loop(self, callback: Callable[["_Run", Any], None], argument: object) -> None:
        with suppress(RuntimeError):  # the loop has ended first
            self._loop.call_soon_threadsafe(callback, self, argument)

    def _send_queued(self) -> None:
        while True:
            with self._waiting:
                self._waiting.wait_for(lambda: self._messages or self._ending)
                if self._ending:
                    return
                message = self._messages.popleft()
                self._sent += 1
            try:
                self._pipe.send(message)
            except OSError:
                return
