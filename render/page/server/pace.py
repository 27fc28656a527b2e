"""Rate limits: a token bucket, and a throttle that keeps the newest of many items."""

import asyncio
import time
from collections.abc import Callable
from typing import Generic, TypeVar

__all__ = ["Throttle", "TokenBucket"]

T = TypeVar("T")


class TokenBucket:
    """A token bucket: it admits a burst, and then a steady rate.

    Parameters
    ----------
    rate : float
        Tokens a second.
    burst : float
        Capacity, tokens.
    clock : callable
        Returns the time, s.
    """

    def __init__(
        self, rate: float, burst: float, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._rate, self._burst, self._clock = rate, burst, clock
        self._held = burst
        self._at = clock()

    def take(self, tokens: float) -> float:
        """Take tokens; missing tokens are borrowed.

        Parameters
        ----------
        tokens : float

        Returns
        -------
        float
            Seconds until the borrowed tokens have been refilled; 0 if none were borrowed.
        """
        now = self._clock()
        self._held = min(self._burst, self._held + (now - self._at) * self._rate) - tokens
        self._at = now
        return max(0.0, -self._held / self._rate)


class Throttle(Generic[T]):
    """A throttle: passes on at most one item a period; items that wait are merged.

    Parameters
    ----------
    period : float
        Seconds between two items that are passed on.
    merge : callable
        Returns the combination of the waiting item and a newer one.
    pass_on : callable
        Called with each item: immediately if none was passed on within the period, else from the
        event loop at the period's end.
    """

    def __init__(
        self, period: float, merge: Callable[[T, T], T], pass_on: Callable[[T], None]
    ) -> None:
        self._period, self._merge, self._pass_on = period, merge, pass_on
        self._waiting: T | None = None
        self._timer: asyncio.TimerHandle | None = None

    def put(self, item: T) -> None:
        """Pass an item on as soon as the period allows.

        It must be called from the thread of a running event loop.

        Parameters
        ----------
        item : T
        """
        if self._timer is None:
            self._go_on(item)
        else:
            self._waiting = item if self._waiting is None else self._merge(self._waiting, item)

    def take(self) -> T | None:
        """Remove and return the waiting item without passing it on; None if there is none."""
        waiting, self._waiting = self._waiting, None
        return waiting

    def close(self) -> None:
        """Discard the waiting item."""
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
