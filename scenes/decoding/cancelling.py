"""Work that can be called off from another thread, the decoding within it too."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

__all__ = ["Cancellation", "CancelledError", "check_cancelled"]


class CancelledError(Exception):
    """The work was called off."""


class Cancellation:
    """Whether some work has been called off."""

    def __init__(self) -> None:
        self._cancelled = threading.Event()

    @property
    def cancelled(self) -> bool:
        """Whether it has been called off."""
        return self._cancelled.is_set()

    def cancel(self) -> None:
        """Call the work off: what it decodes, now or later, ends with a `CancelledError`."""
        self._cancelled.set()

    @contextmanager
    def covering(self) -> Iterator[None]:
        """Let all that this thread does inside the `with` be called off by this."""
        token = _CURRENT.set(self)
        try:
            yield
        finally:
            _CURRENT.reset(token)


_CURRENT: ContextVar[Cancellation | None] = ContextVar("cancellation", default=None)


def check_cancelled() -> None:
    """Stop here if the work that this thread does has been called off.

    Raises
    ------
    CancelledError
    """
    current = _CURRENT.get()
    if current is not None and current.cancelled:
        raise CancelledError
