"""Processor time of a piece of work in this process."""

import time
from collections.abc import Callable

__all__ = ["cpu_seconds"]


def cpu_seconds(work: Callable[[], object], runs: int = 3) -> float:
    """Least processor time of several runs of some work, all threads of this process, CPU s.

    Parameters
    ----------
    work : callable
    runs : int
    """
    times = []
    for _ in range(runs):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return min(times)
