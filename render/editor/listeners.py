"""Who is told of changes to a document, before they are written down and after."""

from collections.abc import Callable

__all__ = ["Listeners"]

Callback = Callable[[], None]


class Listeners:
    """Callbacks for the changes of a document."""

    def __init__(self) -> None:
        self._ahead: list[Callback] = []
        self._after: list[Callback] = []

    def on_change(self, callback: Callback, *, ahead: bool = False) -> None:
        """Register a callback for every change of the document or the file.

        Parameters
        ----------
        callback : callable
            Called without arguments.
        ahead : bool
            Called before a changed design is written down for recovery, and for nothing else: for
            what has other processes begin their work.
        """
        (self._ahead if ahead else self._after).append(callback)

    def _notify_ahead(self) -> None:
        for callback in self._ahead:
            callback()

    def _notify(self) -> None:
        for callback in self._after:
            callback()
