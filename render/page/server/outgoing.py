"""What waits to be sent to one client, and the task that sends it.

Nothing else ever writes to a client's socket, so a client that takes nothing holds up nobody. What
waits is bounded: a client with many answers to take is not listened to, of state only the newest
value of a key waits, and of pictures the newest of each place in the turn.
"""

import asyncio
from collections import deque
from collections.abc import Awaitable, Callable, Hashable, Mapping
from typing import Any

from render.page.server.wire import chunks, packed_publication

__all__ = ["STATE_TOPIC", "Outgoing", "Stalled"]

STATE_TOPIC = "trame.state.topic"
"""What the framework's client listens to for state."""

_PATIENCE = 8.0
"""Seconds in which a client must take something of what is on its way to it."""

_MOST_ANSWERS = 32
"""Answers that wait when no more calls are taken."""

_MOST_PICTURES = 256
"""Pictures that wait: two sides of a whole turn, and a few."""


class Stalled(Exception):
    """A client takes nothing."""


class Outgoing:
    """The queue of one client.

    Answers go first, then state, then pictures, the newest picture before older ones.

    Parameters
    ----------
    send : callable
        Sends one frame; waits while the socket is full.
    unsent : callable
        Gives the bytes that the socket has been given and not yet taken.
    patience : float
        Seconds in which a client must take something.
    """

    def __init__(
        self,
        send: Callable[[bytes], Awaitable[None]],
        unsent: Callable[[], int],
        *,
        patience: float = _PATIENCE,
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
        """How many answers, keys of state and pictures wait."""
        return len(self._answers), len(self._state), len(self._pictures)

    def answer(self, message: bytes) -> None:
        """Send the answer to a call; none is ever left out."""
        self._answers.append(message)
        if len(self._answers) >= _MOST_ANSWERS:
            self._room.clear()
        self._wake.set()

    async def room(self) -> None:
        """Wait until few answers wait, or until nothing is sent any more."""
        await self._room.wait()

    def state(self, changes: Mapping[str, Any]) -> None:
        """Send changed state; of one key only the newest value is sent."""
        self._state.update(changes)
        self._wake.set()

    def picture(self, place: Hashable, epoch: int, message: bytes) -> None:
        """Send a picture.

        Parameters
        ----------
        place : hashable
            A newer picture of the same place takes the place of one that waits.
        epoch : int
            Pictures of earlier epochs are left out, those that wait and this one.
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
        """Send what waits, for as long as the client takes it.

        Raises
        ------
        Stalled
            If it does not.
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
