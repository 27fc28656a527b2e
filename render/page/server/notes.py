"""What the terminal is told of clients: one line for each and minute, with nothing unprintable."""

import logging
import time
from collections.abc import Callable

from scenes.problems import printable

__all__ = ["Notes"]

_LOG = logging.getLogger("turnlight.page")

_PAUSE = 60.0
"""Seconds between two lines about the same client."""

_MOST_CLIENTS = 64
"""Clients that lines are counted for; whoever comes and goes must not fill the memory."""

_LONGEST = 200


class Notes:
    """Lines about clients.

    Parameters
    ----------
    clock : callable
        Gives the time, s.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._last: dict[str, float] = {}

    def tell(self, client: str, sentence: str, *, fault: BaseException | None = None) -> None:
        """Write a line, unless there was one about this client within a minute.

        Parameters
        ----------
        client : str
            Name of its session.
        sentence : str
        fault : exception, optional
            A fault of the program's own, whose traceback is written too.
        """
        now = self._clock()
        self._last = {name: at for name, at in self._last.items() if now - at < _PAUSE}
        if client in self._last or len(self._last) >= _MOST_CLIENTS:
            return
        self._last[client] = now
        _LOG.warning(
            "Client %s: %s", printable(client), printable(sentence, _LONGEST), exc_info=fault
        )
