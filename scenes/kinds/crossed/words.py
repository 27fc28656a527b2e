"""Wordings of the fields of crossed patterns in a label."""

from scenes.kinds.crossed.model import Chevron, Course, Diamond
from scenes.kinds.words import FieldWording, value_only
from scenes.quantities import Marker, Units, counted

__all__ = ["WORDS"]

_MOST_THREADS = 4
"""Kinds of thread that a label names."""


def _around(path: str, name: str, value: int, marker: Marker | None, units: Units) -> str:
    return f"{value} round the blank"


def _repeats(path: str, name: str, value: int, marker: Marker | None, units: Units) -> str:
    return counted(value, "spacing")


def _pattern(
    path: str, name: str, value: Diamond | Chevron, marker: Marker | None, units: Units
) -> str:
    filled = "filled " if value.filled else ""
    at_once = f", {value.at_once} together" if value.at_once > 1 else ""
    towards = f" towards the {value.towards.value}" if isinstance(value, Chevron) else ""
    named = [f"{run.count} {run.thread}" for run in value.threads[:_MOST_THREADS]]
    more = len(value.threads) - len(named)
    threads = " + ".join(named) + (f" and {more} more" if more else "")
    return f"{filled}{value.kind}s{towards}{at_once} with {threads}"


def _courses(
    path: str, name: str, value: tuple[Course, ...], marker: Marker | None, units: Units
) -> str:
    count = sum(course.count for course in value)
    threads = ", ".join(dict.fromkeys(course.thread for course in value))
    return f"{path} with {counted(count, 'thread')} in {counted(len(value), 'course')}, {threads}"


def _packed(path: str, name: str, value: bool, marker: Marker | None, units: Units) -> str:
    return f"{path} packed" if value else f"{path} not packed"


def _end_turns(path: str, name: str, value: int, marker: Marker | None, units: Units) -> str:
    return f"{value} turn{'' if value == 1 else 's'} at the ends of a pass"


WORDS: dict[str, FieldWording] = {
    "around": _around,
    "repeats": _repeats,
    "marks": value_only,
    "pattern": _pattern,
    "courses": _courses,
    "packed": _packed,
    "thread_ends": value_only,
    "end_turns": _end_turns,
}
