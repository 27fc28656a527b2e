"""How long files took to make on this machine, kept in the user's cache, to say it beforehand.

A file of the same kind, format and size is the measure of the next one. Where none was made yet,
the time is estimated: by the model of `render.timing.work`, times how much longer than the model
this machine took for other files, or else for building wraps. An estimate is a wide range.
"""

import json
import statistics
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from enum import Enum
from time import monotonic
from typing import Any

from render.common.durations import duration_text
from render.timing.work import BUILD, Work, modelled_seconds
from scenes.cache.whole_files import write_whole
from scenes.files.state_folder import cache_folder, locked

__all__ = ["Basis", "BuildWatch", "KeptTimes", "TimeForecast"]

_FILE = "export-times.json"

_KEPT = 5
"""Latest times kept of each kind, format and size; the median is expected."""

_MOST_KEYS = 200
"""Most kinds, formats and sizes in the file; the ones made longest ago are left out."""

_MOST_BYTES = 100_000

_LONG = 100.0
"""Seconds from which durations are written in minutes."""

_BUILDING = "building a million points"
_RATIO = "ratio to the model: "


class Basis(Enum):
    """What a forecast rests on, and by what factor an estimate may be off either way."""

    MEASURED = 1.0
    OTHER_FILES = 1.8
    BUILDING = 2.2
    MODEL = 3.0


@dataclass(frozen=True, slots=True)
class TimeForecast:
    """How long a file will take to make.

    Parameters
    ----------
    seconds : float
        The most likely time.
    basis : Basis
    """

    seconds: float
    basis: Basis

    @property
    def low(self) -> float:
        """The least that it should take, s."""
        return self.seconds / self.basis.value

    @property
    def high(self) -> float:
        """The most that it should take, s."""
        return self.seconds * self.basis.value

    @property
    def sentence(self) -> str:
        """The forecast in words."""
        if self.basis is Basis.MEASURED:
            return self.short
        return f"{self.short[:-1]}: none of this kind and size was made here yet."

    @property
    def short(self) -> str:
        """The forecast in few words: whether it is an estimate, and not why."""
        if self.basis is Basis.MEASURED:
            return f"Takes about {duration_text(self.seconds)} here."
        return f"Takes about {_range_text(self.low, self.high)} here, estimated."


def _range_text(low: float, high: float) -> str:
    """Write a range of durations: "10 to 40 seconds", "1.5 to 5 minutes"."""
    most = duration_text(high)
    if high > _LONG and low > _LONG / 2:
        least = f"{max(round(2 * low / 60) / 2, 0.5):g}"
        return f"{least} to {most}"
    least = duration_text(low)
    if least.split()[-1].rstrip("s") == most.split()[-1].rstrip("s"):
        least = least.split()[0]
    return most if least == most.split()[0] else f"{least} to {most}"


class KeptTimes:
    """Times of earlier files and builds on this machine.

    A file of times that is damaged, or cannot be written, counts as none.
    """

    def __init__(self) -> None:
        self._times = _read()

    def forecast(self, work: Work) -> TimeForecast:
        """Say how long some work will take, from what is known of this machine.

        Parameters
        ----------
        work : Work
        """
        measured = self._times.get(work.key)
        if measured:
            return TimeForecast(statistics.median(measured), Basis.MEASURED)
        modelled = modelled_seconds(work)
        if _RATIO + work.group not in self._times:
            self._times = _read() or self._times  # another process may have built meanwhile
        ratios = self._times.get(_RATIO + work.group)
        if ratios:
            return TimeForecast(modelled * statistics.median(ratios), Basis.OTHER_FILES)
        # A photograph has another engine: how fast it is, building does not tell.
        building = self._times.get(_BUILDING)
        if building and not work.paths:
            slower = statistics.median(building) / BUILD
            return TimeForecast(modelled * slower, Basis.BUILDING)
        return TimeForecast(modelled, Basis.MODEL)

    def record(self, work: Work, seconds: float) -> None:
        """Keep the time of a file that was made.

        Parameters
        ----------
        work : Work
        seconds : float
        """
        self._keep({work.key: seconds, _RATIO + work.group: seconds / modelled_seconds(work)})

    def record_building(self, points: float, seconds: float) -> None:
        """Keep the time of a wrap that was built.

        Parameters
        ----------
        points : float
            Points of its grid, millions.
        seconds : float
        """
        self._keep({_BUILDING: seconds / points})

    @contextmanager
    def measuring(self, work: Work) -> Iterator[None]:
        """Keep the time of a block that makes a file, if it succeeds.

        Parameters
        ----------
        work : Work
        """
        begun = monotonic()
        yield
        self.record(work, monotonic() - begun)

    def _keep(self, measured: Mapping[str, float]) -> None:
        with suppress(OSError, RuntimeError):
            file_path = cache_folder() / _FILE
            with locked(file_path):
                self._times = _read() or self._times
                self._add(measured)
                write_whole(file_path, json.dumps(self._times).encode())
            return
        self._add(measured)

    def _add(self, measured: Mapping[str, float]) -> None:
        for key, value in measured.items():
            times = [*self._times.pop(key, []), round(value, 3)]
            self._times[key] = times[-_KEPT:]
        while len(self._times) > _MOST_KEYS:
            del self._times[next(iter(self._times))]


_ENOUGH_POINTS = 0.3
"""Fewer points, millions, take no time that says anything of the machine."""

_built_once = False


class BuildWatch:
    """Keeps how long the first whole build of this process takes.

    Parameters
    ----------
    points : float
        Points of the grid of the wrap that is being built from now on, millions.
    """

    def __init__(self, points: float) -> None:
        self._points = points
        self._begun = monotonic()

    def built(self) -> None:
        """Note that the wrap is built; only the first of a process is kept."""
        global _built_once
        if not _built_once and self._points >= _ENOUGH_POINTS:
            _built_once = True
            KeptTimes().record_building(self._points, monotonic() - self._begun)


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
