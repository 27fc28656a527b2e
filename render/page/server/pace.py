"""How fast a client may ask: a bucket of tokens, and the newest of many at a steady pace."""

import asyncio
import time
from collections.abc import Callable
from typing import Generic, TypeVar

__all__ = ["Bucket", "Newest"]

T = TypeVar("T")


class Bucket:
    """Lets through a burst, and then so much a second.

    Parameters
    ----------
    rate : float
        Tokens a second.
    burst : float
        Tokens that it holds.
    clock : callable
        Gives the time, s.
    """

    def __init__(
        self, rate: float, burst: float, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._rate, self._burst, self._clock = rate, burst, clock
        self._held = burst
        self._at = clock()

    def take(self, tokens: float) -> float:
        """Take tokens out; more than there are is borrowed.

        Returns
        -------
        float
            Seconds until what was borrowed has come in; 0 if nothing was.
        """
        now = self._clock()
        self._held = min(self._burst, self._held + (now - self._at) * self._rate) - tokens
        self._at = now
        return max(0.0, -self._held / self._rate)


class Newest(Generic[T]):
    """Passes on the newest of what comes, at most so often; what waits is put together.

    Parameters
    ----------
    period : float
        Seconds between two that are passed on.
    together : callable
        Makes one of the one that waits and a newer one.
    pass_on : callable
        Called with each that is passed on: at once if none was within the period, or from the event
        loop at its end.
    """

    def __init__(
        self, period: float, together: Callable[[T, T], T], pass_on: Callable[[T], None]
    ) -> None:
        self._period, self._together, self._pass_on = period, together, pass_on
        self._waiting: T | None = None
        self._timer: asyncio.TimerHandle | None = None

    def put(self, item: T) -> None:
        """Pass one on as soon as it may be; from the thread of a running event loop."""
        if self._timer is None:
            self._go_on(item)
        else:
            self._waiting = item if self._waiting is None else self._together(self._waiting, item)

    def take(self) -> T | None:
        """Take out what waits, which is then not passed on; None if nothing does."""
        waiting, self._waiting = self._waiting, None
        return waiting

    def close(self) -> None:
        """Pass nothing on any more that waits."""
        self._waiting = None
        if self._timer is not None:
            self._timer.cancel()

    def _go_on(self, item: T) -> None:
        self._timer = asyncio.get_running_loop().call_later(self._period, self._due)
        self._pass_on(item)

    def _due(self) -> None:
        self._timer = None
        waiting = self.take()
        if waiting is not None:
            self._go_on(waiting)
