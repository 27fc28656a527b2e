"""Progress of a fit: the stage of the search, how much of it is done, and the designs tried."""

import math
from collections.abc import Callable
from dataclasses import dataclass

__all__ = ["CHECKED_FROM", "FitProgress", "ProgressCounter"]

CHECKED_FROM = 0.8
"""Part of the whole from which the designs found are checked for new warnings: each is built once
more, which takes about a fifth of a search that builds wraps, and most of another."""

_LATER = 0.25
"""Part of the time that one stage is expected to take which the stage after it is: most searches
end with the first, few come to the last."""


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

    @property
    def whole(self) -> float:
        """Part of the whole search that is done, which only grows.

        Which stage will be the last is not known: later ones count less.
        """
        if not self.stage:
            return 0.0
        before, all_of_them = (
            1 - _LATER**stages for stages in (self.stage - 1, max(self.stages, self.stage))
        )
        done = before + _LATER ** (self.stage - 1) * (1 - _LATER) * self.share
        return CHECKED_FROM * done / all_of_them

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
        self._share = self._reached = self._span = 0.0
        self._work, self._pieces = 1.0, 0
        self._builds = False

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
        self.reach(0.0)

    def reach(self, share: float, *, until: float | None = None, work: float = 1.0) -> None:
        """Tell how much of the stage is done; less than before changes nothing.

        Parameters
        ----------
        share : float
            From 0 to 1.
        until : float, optional
            What is reached next. With every piece of work until then (`count`, `built`) the share
            comes nearer to it.
        work : float
            About how many pieces of work there are until then.
        """
        self._reached, self._span, self._work, self._pieces = share, 0.0, work, 0
        if until is not None:
            self._span = until - share
        self._show_share()

    def count(self) -> None:
        """Count one more design."""
        self._tried += 1
        if not self._builds:
            self._go_on()

    def built(self) -> None:
        """Count one more wrap that was built; from now on wraps are the pieces of work."""
        self._builds = True
        self._go_on()

    def _go_on(self) -> None:
        self._pieces += 1
        self._show_share()

    def _show_share(self) -> None:
        # How many pieces there are is a guess: the share comes near to the next one, never to it.
        share = self._reached + self._span * -math.expm1(-self._pieces / self._work)
        self._share = min(max(share, self._share), 1.0)
        self.show()

    def show(self) -> None:
        """Report where the search stands."""
        self._report(FitProgress(self._tried, self._words, self._stage, self._stages, self._share))
