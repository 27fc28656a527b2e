"""Whether a program that ran for long has grown: a judgement of recorded samples.

Only samples taken at rest are compared: at those moments the program shows the same picture and has
nothing to do, so what differs between them was not given back.
"""

import statistics
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from scipy.stats import theilslopes

__all__ = ["LIMITS", "Limits", "Sample", "Usage", "findings"]

_MB = 1_000_000
_FEWEST = 6
"""Samples from which anything is concluded."""

_LEVEL = 5
"""Samples whose median is the level at the beginning or at the end."""

_CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True)
class Usage:
    """What one process holds.

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
    """One look at the program at rest.

    Parameters
    ----------
    minute : float
        Since the start.
    processes : mapping of str to Usage
        By name; one that is started anew has a new name. The first is the page's own.
    temporary_files, temporary_bytes : int
        In the temporary folder and in the folder of unsaved work.
    log_lines : int
        Written so far.
    faults : bool
        Whether processes are being killed: memory is not compared then.
    """

    minute: float
    processes: Mapping[str, Usage]
    temporary_files: int
    temporary_bytes: int
    log_lines: int
    faults: bool = False


@dataclass(frozen=True, slots=True)
class Limits:
    """How much growth is no finding.

    Parameters
    ----------
    memory_of_page, memory_of_worker : float
        MB a minute, of the slope of the resident set: the lower end of the 95 % confidence interval
        of the median slope between two samples (Theil and Sen's). The page keeps 500 steps of
        history; workers draw pictures of many megabytes, which allocators give back in pieces.
    threads, files : int
        Of one process, more at the end than at the beginning. asyncio's pool has as many threads
        as there were jobs at the same time, so a few may come late.
    processes : int
    temporary_files : int
    temporary_mb : float
        The page keeps the last twelve files that it made, some of them meshes of 20 MB, and may
        not have made so many while it warmed up.
    log_lines : float
        Lines a minute.
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
    """Say what has grown.

    Parameters
    ----------
    samples : sequence of Sample
        Taken at rest, in order of time.
    warm_up : float
        Minutes at the beginning that do not count: libraries are loaded and caches fill.
    limits : Limits

    Returns
    -------
    list of str
        A clause for each thing that has grown; empty where nothing has, or where there are too few
        samples to tell.
    """
    counted = [sample for sample in samples if sample.minute >= warm_up]
    if len(counted) < _FEWEST:
        return []
    page = next(iter(counted[0].processes))
    found = _memory(counted, page, limits)

    def level(what: str, read: Callable[[Sample], float], more: float, unit: str = "") -> None:
        before, after = (
            statistics.median(read(sample) for sample in part)
            for part in (counted[:_LEVEL], counted[-_LEVEL:])
        )
        if after - before > more:
            found.append(
                f"{what} grew from {before:.3g}{unit} to {after:.3g}{unit} ({more:g}{unit} more "
                "are allowed)"
            )

    level("threads of the page", lambda one: one.processes[page].threads, limits.threads)
    level("open files of the page", lambda one: one.processes[page].files, limits.files)
    level("processes", lambda one: len(one.processes), limits.processes)
    level("temporary files", lambda one: one.temporary_files, limits.temporary_files)
    level(
        "temporary files in all", lambda one: one.temporary_bytes / _MB, limits.temporary_mb, " MB"
    )
    minutes = counted[-1].minute - counted[0].minute
    lines = (counted[-1].log_lines - counted[0].log_lines) / minutes
    if lines > limits.log_lines:
        found.append(f"the log has {lines:.3g} lines a minute ({limits.log_lines:g} are allowed)")
    return found


def _memory(samples: Sequence[Sample], page: str, limits: Limits) -> list[str]:
    """Judge the memory, threads and files of each process while none is killed."""
    found = []
    steady = [sample for sample in samples if not sample.faults]
    names = dict.fromkeys(name for sample in steady for name in sample.processes)
    for name in names:
        held = [
            (one.minute, one.processes[name].memory / _MB)
            for one in steady
            if name in one.processes
        ]
        if len(held) < _FEWEST:
            continue
        minutes, megabytes = zip(*held, strict=True)
        # The least slope that goes with the samples: what goes up and down is no growth.
        slope, _, least, _ = theilslopes(megabytes, minutes, _CONFIDENCE)
        allowed = limits.memory_of_page if name == page else limits.memory_of_worker
        if least > allowed:
            found.append(
                f"memory of {name} grew by {slope:.3g} MB a minute, {least:.3g} at least "
                f"({allowed:g} are allowed)"
            )
    return found
