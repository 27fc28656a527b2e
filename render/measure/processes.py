"""Resources of a program and its workers: memory, threads, open files, temporary files."""

import os
import sys
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

import psutil

from render.measure.growth import Sample, Usage

__all__ = ["PAGE", "Watch"]

PAGE = "the page"
"""Name of the page's own process in a `Sample`."""


class Watch:
    """Measures the resources of a running program.

    Parameters
    ----------
    pid : int
        Of the page's own process.
    folders : iterable of Path
        Folders of its temporary files and of its unsaved work.
    log : Path
        File with its output.
    """

    def __init__(self, pid: int, folders: Iterable[Path], log: Path) -> None:
        self._page = psutil.Process(pid)
        self._folders = tuple(folders)
        self._log = log
        self._names: dict[tuple[int, float], str] = {}

    def sample(self, minute: float, *, faults: bool = False) -> Sample:
        """Measure all resources now.

        Parameters
        ----------
        minute : float
            Time since the start, min.
        faults : bool, optional
            Whether workers are being killed.

        Raises
        ------
        psutil.NoSuchProcess
            If the program has ended.
        """
        processes = {PAGE: _usage(self._page)}
        for worker in self.workers():
            with suppress(psutil.NoSuchProcess):
                processes[self._name(worker)] = _usage(worker)
        files, size = 0, 0
        for folder in self._folders:
            for file in _files(folder):
                with suppress(FileNotFoundError):
                    size += file.stat().st_size
                    files += 1
        with self._log.open("rb") as log:
            lines = sum(1 for _ in log)
        return Sample(minute, processes, files, size, lines, faults)

    def workers(self) -> list[psutil.Process]:
        """Processes that the page has started, oldest first.

        Python's resource tracker, which cleans up after killed processes, is left out.
        """
        found = []
        for child in self._page.children(recursive=True):
            with suppress(psutil.NoSuchProcess):
                if not any("resource_tracker" in word for word in _words(child)):
                    found.append((child.create_time(), child))
        return [child for _, child in sorted(found, key=lambda entry: entry[0])]

    def _name(self, worker: psutil.Process) -> str:
        # The system may reuse the number of a process that has ended.
        key = worker.pid, worker.create_time()
        return self._names.setdefault(key, f"worker {len(self._names) + 1}")


def _words(process: psutil.Process) -> list[str]:
    try:
        return process.cmdline()
    except psutil.ZombieProcess:
        return []  # ended and not yet waited for: it counts


def _usage(process: psutil.Process) -> Usage:
    try:
        with process.oneshot():
            if sys.platform == "win32":
                files = process.num_handles()
            else:
                files = process.num_fds()
            return Usage(process.memory_info().rss, process.num_threads(), files)
    except (psutil.ZombieProcess, psutil.AccessDenied):
        return Usage(0, 0, 0)


def _files(folder: Path) -> Iterable[Path]:
    for root, _, names in os.walk(folder):
        yield from (Path(root) / name for name in names)
