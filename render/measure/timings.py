"""Times of one thing done many times, and their table."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from rich.table import Table

__all__ = ["Timing", "timing_table"]


@dataclass(frozen=True, slots=True)
class Timing:
    """Times of one thing.

    Parameters
    ----------
    what : str
        What was timed.
    times : list of float
        Milliseconds.
    graphics : list of float
        Milliseconds of the same by the graphics processor's own clock; empty where there is none.
    wanted : float, optional
        Target of the 95th percentile, ms.
    """

    what: str
    times: list[float]
    graphics: list[float]
    wanted: float | None = None

    def percentile(self, percent: float) -> float:
        """A percentile of the times, linear between them, ms; NaN of none.

        Parameters
        ----------
        percent : float
            0 to 100.
        """
        return _percentile(self.times, percent)

    @property
    def holds(self) -> bool | None:
        """Whether the target is met; None if there is none."""
        return None if self.wanted is None else self.percentile(95) <= self.wanted


def timing_table(title: str, timings: Iterable[Timing]) -> Table:
    """Table of times, one row for each.

    Parameters
    ----------
    title : str
    timings : iterable of Timing
    """
    table = Table(title=title)
    table.add_column("what")
    for heading in ("times", "p50 ms", "p95 ms", "GPU p50", "GPU p95", "wanted"):
        table.add_column(heading, justify="right")
    table.add_column("")
    for timing in timings:
        table.add_row(
            timing.what,
            str(len(timing.times)),
            *(
                f"{_percentile(times, percent):.1f}" if times else ""
                for times in (timing.times, timing.graphics)
                for percent in (50, 95)
            ),
            "" if timing.wanted is None else f"{timing.wanted:g}",
            {None: "", True: "yes", False: "NO"}[timing.holds],
        )
    return table


def _percentile(times: list[float], percent: float) -> float:
    return float(np.percentile(times, percent)) if times else float("nan")
