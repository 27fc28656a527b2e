"""Figures of cost: processor time and memory, and a yardstick that a busy machine slows as much.

Other work on a machine lengthens processor time too, since cores share caches and may be two
threads of one. So each time is also kept as a multiple of a fixed piece of work that is measured
in this process just before and just after it.
"""

import os
import subprocess
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from render.measure.surfaces.processor_time import cpu_seconds

__all__ = ["Cost", "cost_of_command", "yardstick"]

_YARDSTICK_RUNS = 3

_STARTER = """
import os, sys
null = os.open(os.devnull, os.O_RDWR)
files = [(os.POSIX_SPAWN_DUP2, null, stream) for stream in (1, 2)]
process = os.posix_spawn(sys.argv[1], sys.argv[1:], os.environ, file_actions=files)
_, status, usage = os.wait4(process, 0)
print(os.waitstatus_to_exitcode(status), usage.ru_utime + usage.ru_stime, usage.ru_maxrss)
"""
"""A bare Python that starts a command and prints its exit status, processor time and peak.

Linux counts into a process's peak what its parent held when it started it: `exec` keeps the greater
(from memory: `setmax_mm_hiwater_rss` in the kernel's fs/exec.c). A parent of a few megabytes adds
nothing to a command's own peak; this process may hold more than any command does.
"""


@dataclass(frozen=True, slots=True)
class Cost:
    """One figure.

    Parameters
    ----------
    key : str
        Names it in the history; never changes.
    what : str
        Names it in the table.
    value : float
    unit : str
        ``CPU s``, ``MB``, or ``x`` for a ratio measured in one process.
    wanted : float or None
        Target, for a quiet machine of two cores.
    ratio : float
        The figure as it is compared between runs: times in yardsticks, others as they are.
    more_is_better : bool
        Whether a lower figure is the worse one.
    """

    key: str
    what: str
    value: float
    unit: str
    wanted: float | None
    ratio: float
    more_is_better: bool = False

    @classmethod
    def in_seconds(
        cls, key: str, what: str, measure: Callable[[], float], wanted: float | None = None
    ) -> "Cost":
        """Measure processor time between two yardsticks.

        Parameters
        ----------
        key, what : str
        measure : callable
            Gives CPU seconds.
        wanted : float, optional
        """
        before = yardstick()
        seconds = measure()
        return cls(key, what, seconds, "CPU s", wanted, 2 * seconds / (before + yardstick()))

    @property
    def holds(self) -> bool | None:
        """Whether the target is met; None if there is none."""
        if self.wanted is None:
            return None
        return self.value >= self.wanted if self.more_is_better else self.value <= self.wanted


def yardstick() -> float:
    """Processor time of a fixed piece of work like that of Turnlight, CPU s.

    A third each of Python, of arithmetic on arrays that fit no cache, and of sorting.
    """
    values = np.random.default_rng(7).random(1_000_000)

    def work() -> None:
        sum(number * number % 7 for number in range(200_000))
        for _ in range(3):
            np.sqrt(values * values + 1) / (values + 2)
        np.sort(values[:200_000])

    return cpu_seconds(work, _YARDSTICK_RUNS)


def cost_of_command(arguments: Sequence[str], state: str, runs: int) -> tuple[float, float]:
    """Run a command of Turnlight in a process of its own.

    Parameters
    ----------
    arguments : sequence of str
        Words after the program's name.
    state : str
        Folder of what Turnlight remembers between runs.
    runs : int
        How often.

    Returns
    -------
    seconds, megabytes : float
        Least processor time and least peak of memory.

    Raises
    ------
    subprocess.CalledProcessError
        If the command fails.
    """
    seconds, peaks = [], []
    environment = {**os.environ, "TURNLIGHT_STATE": state}
    # Modules would be compiled anew by each run.
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    command = [sys.executable, "-m", "render", *arguments]
    for _ in range(runs):
        started = subprocess.run(
            [sys.executable, "-I", "-S", "-c", _STARTER, *command],
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=environment,
            text=True,
            check=True,
        )
        status, took, peak = started.stdout.split()
        if int(status):
            raise subprocess.CalledProcessError(int(status), command)
        seconds.append(float(took))
        peaks.append(int(peak) * (1 if sys.platform == "darwin" else 1024) / 1e6)
    return min(seconds), min(peaks)
