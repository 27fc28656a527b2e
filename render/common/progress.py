"""How far long work has come: a bar on a terminal, and the few sentences that must be read."""

import sys
from typing import Self

from rich.console import Console
from rich.progress import BarColumn, TextColumn, TimeRemainingColumn
from rich.progress import Progress as Bar

from render.common.closing import Closing
from render.common.error_reporting import tell

__all__ = ["Progress"]


class Progress(Closing):
    """A progress bar on standard error.

    Long work calls `say` and `advance` as it goes. Both may raise `KeyboardInterrupt`, so work is
    cancelled between any two of its steps.

    Parameters
    ----------
    total : int
        Steps to come; 0 for work of unknown length.
    quiet : bool, optional
        Show nothing; by default no bar where standard error is not a terminal.
    """

    def __init__(self, total: int = 0, *, quiet: bool | None = None) -> None:
        hidden = not sys.stderr.isatty() if quiet is None else quiet
        self._silent = bool(quiet)
        self._bar = Bar(
            TextColumn("{task.description}"),
            BarColumn(),
            TextColumn("{task.percentage:>3.0f} %"),
            TimeRemainingColumn(),
            console=Console(stderr=True),
            transient=True,
            disable=hidden,
        )
        self._task = self._bar.add_task("", total=total or None)

    @classmethod
    def none(cls) -> Self:
        """Make one that shows nothing."""
        return cls(quiet=True)

    def __enter__(self) -> Self:
        self._bar.start()
        return super().__enter__()

    def close(self) -> None:
        """Take the bar off the terminal."""
        self._bar.stop()

    def say(self, words: str) -> None:
        """Tell what is being done now."""
        self._bar.update(self._task, description=words)

    def advance(self, share: float = 1) -> None:
        """Count one step, or a share of it, as done."""
        self._bar.advance(self._task, share)

    def note(self, sentence: str) -> None:
        """Write a sentence that stays, whether there is a bar or not; not if `quiet`."""
        if not self._silent:
            tell(sentence)
