"""Tasks of a catalogue: pictures, films and spin pages of designs, named by their content.

A task is plain data, and so is its result; the design in it is `PublicDesign`. Its key is the hash
of the design, the settings and the program, so a result with that name need not be made again.
"""

import hashlib
import json
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Any, Self

from geometry.grid import Detail
from render.catalogue.program_version import program_version
from render.catalogue.public_design import PublicDesign
from render.request.subject import Size

__all__ = [
    "SMALL",
    "SUFFIXES",
    "Task",
    "TaskKind",
    "estimated_seconds",
    "joined_film",
    "small_size",
]

SMALL = "-small.webp"
"""Suffix of the small picture that comes with a still."""

_SMALL_WIDTH = 640
"""Width of that picture, pixels; the index shows it at half of that on most screens."""

_KEY_DIGITS = 24


class TaskKind(StrEnum):
    """What a task makes."""

    STILL = "still"
    FILM = "turntable"
    FRAMES = "frames"
    """A few frames of a turntable, each of which takes long."""
    JOINED_FILM = "turntable of frames"
    """A turntable of frames that are made already."""
    SPIN_PAGE = "spin page"


SUFFIXES: dict[TaskKind, tuple[str, ...]] = {
    TaskKind.STILL: (".webp", SMALL),
    TaskKind.FILM: (".mp4",),
    TaskKind.FRAMES: (".frames",),
    TaskKind.JOINED_FILM: (".mp4",),
    TaskKind.SPIN_PAGE: (".html",),
}
"""What is added to the key for the names of the files that a task makes."""


@dataclass(frozen=True, slots=True)
class Task:
    """One piece of work for a worker.

    Parameters
    ----------
    kind : TaskKind
    design : PublicDesign
    size : (int, int)
        Width and height of the pictures, pixels.
    detail : str
        Value of a `Detail`.
    frames : int
        Pictures in one turn; 0 for a still.
    photo : bool
        Path-trace the pictures.
    samples : int, optional
        Paths through each pixel of a photo.
    engine : str, optional
        Value of an `Engine` for photos.
    first, last : int
        Frames to draw, the last one not among them.
    parts : tuple of Task
        Tasks whose results this one needs.

    Attributes
    ----------
    key : str
        Name of the result by content: design, settings and program; hexadecimal digits.
    """

    kind: TaskKind
    design: PublicDesign
    size: Size
    detail: str
    frames: int = 0
    photo: bool = False
    samples: int | None = None
    engine: str | None = None
    first: int = 0
    last: int = 0
    parts: tuple["Task", ...] = ()
    key: str = field(init=False)

    def __post_init__(self) -> None:
        """Name the result."""
        content = [
            self._settings,
            self.design.digest,
            [part.key for part in self.parts],
            program_version(),
        ]
        text = json.dumps(content, sort_keys=True)
        key = hashlib.sha256(text.encode()).hexdigest()[:_KEY_DIGITS]
        object.__setattr__(self, "key", key)

    @property
    def _settings(self) -> dict[str, Any]:
        return {
            "kind": self.kind.value,
            "size": list(self.size),
            "detail": self.detail,
            "frames": self.frames,
            "photo": self.photo,
            "samples": self.samples,
            "engine": self.engine,
            "first": self.first,
            "last": self.last,
        }

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the files that it makes."""
        return tuple(self.key + suffix for suffix in SUFFIXES[self.kind])

    def plain(self, parts: tuple[bytes, ...] = ()) -> dict[str, Any]:
        """The task as plain data for a worker.

        Parameters
        ----------
        parts : tuple of bytes
            Results of its parts, in order.
        """
        return {
            **self._settings,
            "design": self.design.plain,
            "parts": list(parts),
            "program": program_version(),
        }

    @classmethod
    def from_plain(cls, plain: dict[str, Any]) -> Self:
        """Read a task from what `plain` wrote, without its parts.

        Parameters
        ----------
        plain : dict
        """
        return cls(
            TaskKind(plain["kind"]),
            PublicDesign.from_plain(plain["design"]),
            (plain["size"][0], plain["size"][1]),
            plain["detail"],
            frames=plain["frames"],
            photo=plain["photo"],
            samples=plain["samples"],
            engine=plain["engine"],
            first=plain["first"],
            last=plain["last"],
        )


# --- how long a task takes ------------------------------------------------------------------

_BUILDING = {Detail.DRAFT: 0.7, Detail.NORMAL: 3.0, Detail.FINE: 10.0}
"""Seconds to build a wrap and to put it on the stage, by detail."""

_PACKING = 6.0
"""Seconds to pack a wrap for a browser."""

_LIVE = 0.1, 1.1e-6
"""Seconds of one live picture without a GPU, and for each of its pixels."""

_ENCODED = 0.6e-6
"""Seconds a pixel to encode a frame."""

_TRACED = 1.1e-6
"""Seconds of one path of a photo without a GPU, denoising included."""

_TRACED_BY_GPU = 0.01e-6

_DEFAULT_PATHS = 64

_WORTH_BUILDING = 20.0
"""Seconds of frames for each time that the wrap is built for them."""


def estimated_seconds(task: Task) -> float:
    """Estimate how long a task takes on one ordinary core; only ratios between tasks matter.

    Parameters
    ----------
    task : Task
    """
    pixels = task.size[0] * task.size[1]
    building = _BUILDING[Detail(task.detail)]
    encoding = _ENCODED * pixels
    if task.kind is TaskKind.STILL:
        return building + _picture(task) + encoding
    if task.kind is TaskKind.FRAMES:
        return building + (task.last - task.first) * (_picture(task) + encoding)
    if task.kind is TaskKind.JOINED_FILM:
        return 0.5 + task.frames * encoding
    if task.kind is TaskKind.FILM:
        return building + task.frames * (_picture(task) + encoding)
    return 2 * building + _PACKING + task.frames * (_picture(task) + encoding)


def _picture(task: Task) -> float:
    pixels = task.size[0] * task.size[1]
    if not task.photo:
        return _LIVE[0] + _LIVE[1] * pixels
    paths = _DEFAULT_PATHS if task.samples is None else task.samples
    return pixels * paths * (_TRACED_BY_GPU if task.engine == "gpu" else _TRACED)


def joined_film(film: Task) -> Task:
    """Split a turntable into tasks of some frames each, and make the task that joins them.

    There are as few frames in one as it is not long to build the wrap for.

    Parameters
    ----------
    film : Task
        A `TaskKind.FILM`.
    """
    count = max(1, min(film.frames, round(_WORTH_BUILDING / _picture(film))))
    parts = tuple(
        replace(film, kind=TaskKind.FRAMES, first=first, last=min(first + count, film.frames))
        for first in range(0, film.frames, count)
    )
    return replace(film, kind=TaskKind.JOINED_FILM, parts=parts)


def small_size(size: Size) -> Size:
    """Size of the small picture that comes with a still.

    Parameters
    ----------
    size : (int, int)
        Of the still, pixels.
    """
    width, height = size
    narrow = min(_SMALL_WIDTH, width)
    return narrow, max(1, round(narrow * height / width))
