"""Log lines that a stranger can cause: at most one a minute of each kind."""

import logging
import time

from scenes.problems import printable

__all__ = ["LimitedLog"]

_PERIOD = 60.0
"""Seconds between two lines of one kind."""

_MOST_KINDS = 64

_LONGEST = 300
"""Characters of a line."""


class LimitedLog:
    """A log whose number of lines is limited.

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
            Key of the limit; keys beyond the 64th share one limit.
        sentence : str
            Unprintable characters are escaped, and long sentences cut.
        fault : exception, optional
            A fault of the program, whose traceback is written too.
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
