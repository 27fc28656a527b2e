"""Lines for the terminal that a stranger can cause, at most one a minute of each kind."""

import logging
import time

from scenes.problems import printable

__all__ = ["LimitedLog"]

_PERIOD = 60.0
"""Seconds between two lines of one kind."""

_MOST_KINDS = 64

_LONGEST = 300
"""Letters of a line."""


class LimitedLog:
    """Log that a flood cannot fill.

    Parameters
    ----------
    name : str
        Of the logger.
    period : float
        Seconds between two lines of one kind.
    """

    def __init__(self, name: str, period: float = _PERIOD) -> None:
        self._logger = logging.getLogger(name)
        self._period = period
        self._last: dict[str, float] = {}
        self._left_out: dict[str, int] = {}

    def warning(self, kind: str, sentence: str, *, fault: BaseException | None = None) -> None:
        """Write a line, unless one of its kind was written within the period.

        Parameters
        ----------
        kind : str
            Kinds beyond the 64th share one.
        sentence : str
            What would not print is escaped, and what is too long cut.
        fault : exception, optional
            A fault of the program's own, whose traceback is written too.
        """
        if kind not in self._last and len(self._last) >= _MOST_KINDS:
            kind = ""
        now = time.monotonic()
        if now - self._last.get(kind, -self._period) < self._period:
            self._left_out[kind] = self._left_out.get(kind, 0) + 1
            return
        self._last[kind] = now
        left_out = self._left_out.pop(kind, 0)
        more = f" ({left_out} more of these before.)" if left_out else ""
        self._logger.warning("%s%s", printable(sentence, _LONGEST), more, exc_info=fault)
