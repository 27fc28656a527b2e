"""Progress of long work: a bar on a terminal, and notes that stay."""

import sys
from typing import TYPE_CHECKING, Self

from render.common.closing import Closing
from render.common.error_reporting import print_message

if TYPE_CHECKING:
    from rich.progress import Progress as Bar

__all__ = ["Progress"]


class Progress(Closing):
    """A progress bar on standard error.

    Long work calls `describe` and `advance` at each step. Both may raise `KeyboardInterrupt`, so
    work can be cancelled between any two steps.

    Parameters
    ----------
    total : int
        Number of steps; 0 if it is unknown.
    quiet : bool, optional
        Show neither bar nor notes. By default the bar is hidden unless standard error is a
        terminal, and notes are shown.
    """

    def __init__(self, total: int = 0, *, quiet: bool | None = None) -> None:
        hidden = not sys.stderr.isatty() if quiet is None else quiet
        self._silent = bool(quiet)
        self._forecast = ""
        self._bar = None if hidden else _bar(total)

    @classmethod
    def none(cls) -> Self:
        """Make a progress that shows nothing."""
        return cls(quiet=True)

    def __enter__(self) -> Self:
        if self._bar is not None:
            self._bar.start()
        return super().__enter__()

    def close(self) -> None:
        """Remove the bar from the terminal."""
        if self._bar is not None:
            self._bar.stop()

    def announce(self, forecast: str) -> None:
        """Say how long the work will take when it begins: what is refused at once does not begin.

        Parameters
        ----------
        forecast : str
            One sentence, printed as a note before the first description.
        """
        self._forecast = forecast

    def describe(self, words: str) -> None:
        """Show what is being done now.

        Parameters
        ----------
        words : str
            A few words, such as ``frame 3 of 60``.
        """
        forecast, self._forecast = self._forecast, ""
        if forecast:
            self.note(forecast)
        if self._bar is not None:
            self._bar.update(self._bar.task_ids[0], description=words)

    def advance(self, share: float = 1) -> None:
        """Count one step, or a share of one, as done.

        Parameters
        ----------
        share : float, optional
            Steps, or a share of one.
        """
        if self._bar is not None:
            self._bar.advance(self._bar.task_ids[0], share)

    def restart(self, total: int) -> None:
        """Begin the bar anew, for a further stage of the work.

        Parameters
        ----------
        total : int
            Number of steps of that stage.
        """
        if self._bar is not None:
            self._bar.reset(self._bar.task_ids[0], total=total)

    def expect(self, seconds: float, sentence: str) -> None:
        """Show how long the rest of the work will take, once that is known.

        Parameters
        ----------
        seconds : float
            Estimate of the time that is left.
        sentence : str
            The estimate in words, printed as a note.
        """
        self.note(sentence)

    def note(self, sentence: str) -> None:
        """Print a sentence that stays after the bar is gone, unless the progress is quiet.

        Parameters
        ----------
        sentence : str
        """
        if not self._silent:
            print_message(sentence)


def _bar(total: int) -> "Bar":
    """Make a bar of one task; it takes long to load, and only a terminal shows it."""
    from rich.console import Console
    from rich.progress import BarColumn, TextColumn, TimeRemainingColumn
    from rich.progress import Progress as Bar

    bar = Bar(
        TextColumn("{task.description}"),
        BarColumn(),
        TextColumn("{task.percentage:>3.0f} %"),
        TimeRemainingColumn(),
        console=Console(stderr=True),
        transient=True,
    )
    bar.add_task("", total=total or None)
    return bar
