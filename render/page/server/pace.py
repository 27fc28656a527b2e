"""How fast a client may ask: a bucket of tokens that fills at a steady rate."""

import time
from collections.abc import Callable

__all__ = ["Bucket"]


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
