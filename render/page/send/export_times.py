"""How long exports took on this machine, kept in the user's cache, to say it beforehand.

Only an export of the same kind, format and size is a measure of the next one. Where there is none
yet, nothing is known: no figure is invented.
"""

import json
import statistics
from contextlib import suppress
from typing import Any

from render.page.workers.export_worker import ExportJob
from scenes.files.atomic import PlaceProblem, writing
from scenes.files.state_folder import cache_folder

__all__ = ["ExportTimes", "time_key"]

_FILE = "export-times.json"

_KEPT = 5
"""Latest times kept of each kind, format and size; the median is expected."""

_MOST_KEYS = 200
"""Most kinds, formats and sizes in the file; the ones made longest ago are left out."""

_MOST_BYTES = 100_000


def time_key(job: ExportJob) -> str:
    """Name of all exports that take about as long as a job.

    Parameters
    ----------
    job : ExportJob
    """
    size = "x".join(map(str, job.size)) if job.size else job.paper
    parts = (job.kind.value, job.path.suffix, size, job.frames, job.detail, len(job.subjects))
    return " ".join(map(str, parts))


class ExportTimes:
    """Times of earlier exports on this machine.

    A file that is damaged, or cannot be written, counts as none.
    """

    def __init__(self) -> None:
        self._times = _read()

    def expected(self, key: str) -> float | None:
        """Seconds that such an export will take; None if none was made yet.

        Parameters
        ----------
        key : str
            By `time_key`.
        """
        times = self._times.get(key)
        return statistics.median(times) if times else None

    def record(self, key: str, seconds: float) -> None:
        """Keep the time of an export that was made.

        Parameters
        ----------
        key : str
            By `time_key`.
        seconds : float
        """
        times = [*self._times.pop(key, []), round(seconds, 2)]
        self._times[key] = times[-_KEPT:]
        while len(self._times) > _MOST_KEYS:
            del self._times[next(iter(self._times))]
        with (
            suppress(OSError, RuntimeError, PlaceProblem),
            writing(cache_folder() / _FILE) as file,
        ):
            file.write(json.dumps(self._times).encode())
            file.put()


def _read() -> dict[str, list[float]]:
    try:
        with (cache_folder() / _FILE).open("rb") as file:
            held: Any = json.loads(file.read(_MOST_BYTES))
    except (OSError, RuntimeError, ValueError):
        return {}
    if not isinstance(held, dict):
        return {}
    return {key: times for key, times in held.items() if _are_times(times)}


def _are_times(times: object) -> bool:
    return isinstance(times, list) and all(
        isinstance(one, int | float) and 0 <= one < 1e6 for one in times
    )
