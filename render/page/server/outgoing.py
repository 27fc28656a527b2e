"""The queue of messages to one client, and the task that sends them.

Only this task writes to a client's socket, so a client that does not read blocks nobody. The queue
is bounded: a client with many unsent answers is not read from, only the newest value of each state
key waits, and only the newest picture of each place in the turn.
"""

import asyncio
from collections import deque
from collections.abc import Awaitable, Callable, Hashable, Mapping
from typing import Any

from render.page.server.wire import chunks, packed_publication

__all__ = ["STATE_TOPIC", "Outgoing", "Stalled"]

STATE_TOPIC = "trame.state.topic"
"""Topic of published state, to which the framework's client subscribes."""

_STALL_TIMEOUT = 8.0
"""Seconds within which a client must read some of the bytes that were sent to it."""

_MOST_ANSWERS = 32
"""Waiting answers at which no more calls are read."""

_MOST_PICTURES = 256
"""Pictures that may wait: a whole turn of two sides, and a few more."""


class Stalled(Exception):
    """A client reads nothing."""


class Outgoing:
    """The queue of one client.

    Answers are sent first, then state, then pictures, newer pictures before older ones.

    Parameters
    ----------
    send : callable
        Coroutine that sends one frame; it waits while the socket's buffer is full.
    unsent : callable
        Returns the number of bytes in the socket's buffer.
    patience : float
        Seconds within which a client must read something.
    """

    def __init__(
        self,
        send: Callable[[bytes], Awaitable[None]],
        unsent: Callable[[], int],
        *,
        patience: float = _STALL_TIMEOUT,
    ) -> None:
        self._send, self._unsent, self._patience = send, unsent, patience
        self._answers: deque[bytes] = deque()
        self._state: dict[str, Any] = {}
        self._pictures: dict[Hashable, bytes] = {}
        self._epoch = 0
        self._wake = asyncio.Event()
        self._room = asyncio.Event()
        self._room.set()

    @property
    def waiting(self) -> tuple[int, int, int]:
        """Number of answers, state keys and pictures that wait."""
        return len(self._answers), len(self._state), len(self._pictures)

    def answer(self, message: bytes) -> None:
        """Queue the answer to a call; answers are never dropped.

        Parameters
        ----------
        message : bytes
        """
        self._answers.append(message)
        if len(self._answers) >= _MOST_ANSWERS:
            self._room.clear()
        self._wake.set()

    async def room(self) -> None:
        """Wait until there is room for answers, or until sending has ended."""
        await self._room.wait()

    def state(self, changes: Mapping[str, Any]) -> None:
        """Queue changed state; only the newest value of a key is sent.

        Parameters
        ----------
        changes : mapping
            New value by key.
        """
        self._state.update(changes)
        self._wake.set()

    def picture(self, place: Hashable, epoch: int, message: bytes) -> None:
        """Queue a picture.

        Parameters
        ----------
        place : hashable
            Key under which a newer picture replaces a waiting one.
        epoch : int
            Pictures of earlier epochs than the newest are dropped.
        message : bytes
        """
        if epoch < self._epoch:
            return
        if epoch > self._epoch:
            self._epoch = epoch
            self._pictures.clear()
        self._pictures.pop(place, None)
        self._pictures[place] = message
        if len(self._pictures) > _MOST_PICTURES:
            del self._pictures[next(iter(self._pictures))]
        self._wake.set()

    async def run(self) -> None:
        """Send the queue until cancelled.

        Raises
        ------
        Stalled
            If the client reads nothing for too long.
        """
        try:
            while True:
                message = self._next()
                if message is None:
                    self._wake.clear()
                    await self._wake.wait()
                    continue
                for frame in chunks(message):
                    await self._pass_on(frame)
        finally:
            self._room.set()

    def _next(self) -> bytes | None:
        if self._answers:
            if len(self._answers) <= _MOST_ANSWERS:
                self._room.set()
            return self._answers.popleft()
        if self._state:
            changes, self._state = self._state, {}
            return packed_publication(STATE_TOPIC, changes)
        if self._pictures:
            return self._pictures.popitem()[1]
        return None

    async def _pass_on(self, frame: bytes) -> None:
        sending = asyncio.ensure_future(self._send(frame))
        try:
            left: float = float("inf")
            while not (await asyncio.wait({sending}, timeout=self._patience))[0]:
                unsent = self._unsent()
                if unsent >= left:
                    raise Stalled(f"it has taken nothing for {self._patience:g} s")
                left = unsent
            await sending
        finally:
            sending.cancel()
