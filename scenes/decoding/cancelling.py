"""Cancellation of work from another thread, with the decoding that is part of it."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

__all__ = ["Cancellation", "CancelledError", "check_cancelled"]


class CancelledError(Exception):
    """The work was cancelled."""


class Cancellation:
    """A switch that cancels some work."""

    def __init__(self) -> None:
        self._cancelled = threading.Event()

    @property
    def cancelled(self) -> bool:
        """Whether the work has been cancelled."""
        return self._cancelled.is_set()

    def cancel(self) -> None:
        """Cancel the work: decoding in it, now or later, ends with a `CancelledError`."""
        self._cancelled.set()

    @contextmanager
    def covering(self) -> Iterator[None]:
        """Let this object cancel the work of this thread inside the `with` block."""
        token = _CURRENT.set(self)
        try:
            yield
        finally:
            _CURRENT.reset(token)


_CURRENT: ContextVar[Cancellation | None] = ContextVar("cancellation", default=None)


def check_cancelled() -> None:
    """Raise if the work of this thread has been cancelled.

    Raises
    ------
    CancelledError
    """
    current = _CURRENT.get()
    if current is not None and current.cancelled:
        raise CancelledError
