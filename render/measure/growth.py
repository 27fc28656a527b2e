"""Detects growth of a program that ran for long, from recorded samples of its resources.

Only samples at rest are compared: the program then shows the same picture and has nothing to do, so
any difference is a resource that was not released.
"""

import statistics
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from scipy.stats import theilslopes

__all__ = ["LIMITS", "Limits", "Sample", "Usage", "findings"]

_MB = 1_000_000
_MIN_SAMPLES = 6
"""Minimum number of samples for a judgement."""

_LEVEL_SAMPLES = 5
"""Number of first or last samples whose median is the level at the beginning or end."""

_CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True)
class Usage:
    """Resources of one process.

    Parameters
    ----------
    memory : int
        Resident set, bytes.
    threads : int
    files : int
        Open files, sockets and pipes; on Windows, handles.
    """

    memory: int
    threads: int
    files: int


@dataclass(frozen=True, slots=True)
class Sample:
    """Resources of the program at rest, at one time.

    Parameters
    ----------
    minute : float
        Time since the start, min.
    processes : mapping of str to Usage
        By name, first that of the page; a process that is started again gets a new name.
    temporary_files, temporary_bytes : int
        Number and size of files in the temporary folder and in the folder of unsaved work.
    log_lines : int
        Lines of the log so far.
    faults : bool
        Whether workers are being killed; memory is not compared then.
    """

    minute: float
    processes: Mapping[str, Usage]
    temporary_files: int
    temporary_bytes: int
    log_lines: int
    faults: bool = False


@dataclass(frozen=True, slots=True)
class Limits:
    """Growth that is allowed.

    Parameters
    ----------
    memory_of_page, memory_of_worker : float
        Slope of the resident set, MB per minute: the lower end of the 95 % confidence interval of
        the Theil-Sen slope. The page keeps 500 steps of history; workers draw pictures of many
        megabytes, which allocators release in pieces.
    threads, files : int
        Increase in the page's process from the beginning to the end. asyncio's pool has as many
        threads as there were simultaneous jobs, so a few may come late.
    processes : int
        Increase of the number of processes.
    temporary_files : int
        Increase of the number of temporary files.
    temporary_mb : float
        Increase of their size, MB. The page keeps the last twelve files that it made, some of them
        meshes of 20 MB, and may not have made as many during the warm-up.
    log_lines : float
        Lines per minute.
    """

    memory_of_page: float = 1.0
    memory_of_worker: float = 4.0
    threads: int = 3
    files: int = 5
    processes: int = 0
    temporary_files: int = 15
    temporary_mb: float = 100.0
    log_lines: float = 20.0


LIMITS = Limits()


def findings(samples: Sequence[Sample], warm_up: float, limits: Limits = LIMITS) -> list[str]:
    """List what has grown.

    Parameters
    ----------
    samples : sequence of Sample
        Taken at rest, in order of time.
    warm_up : float
        Minutes at the beginning that are ignored: libraries are loaded and caches fill.
    limits : Limits

    Returns
    -------
    list of str
        A clause for each resource that has grown; empty if none has, or if there are too few
        samples.
    """
    counted = [sample for sample in samples if sample.minute >= warm_up]
    if len(counted) < _MIN_SAMPLES:
        return []
    page = next(iter(counted[0].processes))
    found = _memory(counted, page, limits)

    def level(what: str, read: Callable[[Sample], float], more: float, unit: str = "") -> None:
        before, after = (
            statistics.median(read(sample) for sample in part)
            for part in (counted[:_LEVEL_SAMPLES], counted[-_LEVEL_SAMPLES:])
        )
        if after - before > more:
            found.append(
                f"{what} grew from {before:.3g}{unit} to {after:.3g}{unit} ({more:g}{unit} more "
                "are allowed)"
            )

    level("threads of the page", lambda sample: sample.processes[page].threads, limits.threads)
    level("open files of the page", lambda sample: sample.processes[page].files, limits.files)
    level("processes", lambda sample: len(sample.processes), limits.processes)
    level("temporary files", lambda sample: sample.temporary_files, limits.temporary_files)
    level(
        "temporary files in all",
        lambda sample: sample.temporary_bytes / _MB,
        limits.temporary_mb,
        " MB",
    )
    minutes = counted[-1].minute - counted[0].minute
    lines = (counted[-1].log_lines - counted[0].log_lines) / minutes
    if lines > limits.log_lines:
        found.append(f"the log has {lines:.3g} lines a minute ({limits.log_lines:g} are allowed)")
    return found


def _memory(samples: Sequence[Sample], page: str, limits: Limits) -> list[str]:
    """Clauses on the memory of each process, from samples without faults."""
    found = []
    steady = [sample for sample in samples if not sample.faults]
    names = dict.fromkeys(name for sample in steady for name in sample.processes)
    for name in names:
        held = [
            (sample.minute, sample.processes[name].memory / _MB)
            for sample in steady
            if name in sample.processes
        ]
        if len(held) < _MIN_SAMPLES:
            continue
        minutes, megabytes = zip(*held, strict=True)
        # The lower end of the interval: memory that only fluctuates is no growth.
        slope, _, least, _ = theilslopes(megabytes, minutes, _CONFIDENCE)
        allowed = limits.memory_of_page if name == page else limits.memory_of_worker
        if least > allowed:
            found.append(
                f"memory of {name} grew by {slope:.3g} MB a minute, {least:.3g} at least "
                f"({allowed:g} are allowed)"
            )
    return found
