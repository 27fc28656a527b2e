"""Progress of a fit: the stage of the search, how much of it is done, and the designs tried."""

from collections.abc import Callable
from dataclasses import dataclass

__all__ = ["FitProgress", "ProgressCounter"]


@dataclass(frozen=True, slots=True)
class FitProgress:
    """Where a search stands.

    Parameters
    ----------
    tried : int
        Different designs tried so far.
    words : str
        What is tried in this stage, such as ``small changes``.
    stage : int
        Number of the stage, from 1; 0 before the first.
    stages : int
        Most stages that the search may need; it ends with the first that gives a design.
    share : float
        Part of this stage that is done, from 0 to 1. Parts are weighted by the number of designs
        that they may need, so time is about proportional to it.
    """

    tried: int
    words: str
    stage: int
    stages: int
    share: float

    def text(self) -> str:
        """Write the stage: ``small changes (step 1 of at most 4)``."""
        if not self.stage:
            return "the present design"
        return f"{self.words} (step {self.stage} of at most {self.stages})"


class ProgressCounter:
    """Counts what a search does.

    Parameters
    ----------
    report : callable
        Called with a `FitProgress` before each trial and at each step forward; may raise to cancel.
    """

    def __init__(self, report: Callable[[FitProgress], None] = lambda _: None) -> None:
        self._report = report
        self._tried = 0
        self._words = ""
        self._stage = self._stages = 0
        self._share = 0.0

    def expect(self, stages: int) -> None:
        """Tell how many stages the search may need at most.

        Parameters
        ----------
        stages : int
        """
        self._stages = stages

    def begin(self, words: str) -> None:
        """Begin the next stage.

        Parameters
        ----------
        words : str
            What is tried in it.
        """
        self._stage += 1
        self._words, self._share = words, 0.0
        self.show()

    def reach(self, share: float) -> None:
        """Tell how much of the stage is done; less than before changes nothing.

        Parameters
        ----------
        share : float
            From 0 to 1.
        """
        self._share = min(max(share, self._share), 1.0)
        self.show()

    def count(self) -> None:
        """Count one more design."""
        self._tried += 1

    def show(self) -> None:
        """Report where the search stands."""
        self._report(FitProgress(self._tried, self._words, self._stage, self._stages, self._share))
