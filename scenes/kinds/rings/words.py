"""Wordings of the fields of rings in a label."""

from scenes.kinds.edges import EdgeChoice
from scenes.kinds.words import FieldWording, counted_threads, path_name_and_value
from scenes.quantities import Marker, Units

__all__ = ["WORDS"]


def _ends(path: str, name: str, value: EdgeChoice, marker: Marker | None, units: Units) -> str:
    return (
        f"{path} at both ends" if value is EdgeChoice.BOTH else f"{path} at the {value.value} end"
    )


def _inlaid(path: str, name: str, value: bool, marker: Marker | None, units: Units) -> str:
    return f"{path} inlaid" if value else f"{path} over the rows"


WORDS: dict[str, FieldWording] = {
    "ends": _ends,
    "inset": path_name_and_value,
    "threads": counted_threads,
    "inlaid": _inlaid,
}
