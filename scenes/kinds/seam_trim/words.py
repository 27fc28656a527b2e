"""Wordings of the fields of seam trims in a label."""

from scenes.kinds.edges import EdgeChoice
from scenes.kinds.seam_trim.model import Grade
from scenes.kinds.words import FieldWording, counted_threads, path_name_and_value
from scenes.quantities import Marker, Units

__all__ = ["WORDS"]


def _edge(path: str, name: str, value: EdgeChoice, marker: Marker | None, units: Units) -> str:
    return (
        f"{path} on both edges" if value is EdgeChoice.BOTH else f"{path} on the {value.value} edge"
    )


def _grade(path: str, name: str, value: Grade, marker: Marker | None, units: Units) -> str:
    return f"{path} with {value.count} shades from {value.first} to {value.last}"


WORDS: dict[str, FieldWording] = {
    "edge": _edge,
    "offset": path_name_and_value,
    "friction": path_name_and_value,
    "threads": counted_threads,
    "grade": _grade,
}
