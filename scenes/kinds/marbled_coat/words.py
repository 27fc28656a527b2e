"""Wordings of the fields of marbled coats in a label."""

from scenes.kinds.marbled_coat.model import CombStroke, Direction, Pigment
from scenes.kinds.words import FieldWording, path_name_and_value, prefixed_value
from scenes.quantities import Marker, Units, counted

__all__ = ["WORDS"]


def _pigments(
    path: str, name: str, value: tuple[Pigment, ...], marker: Marker | None, units: Units
) -> str:
    return f"{path} with " + " + ".join(f"{entry.name} {entry.colour}" for entry in value)


def _strokes(
    path: str, name: str, value: tuple[CombStroke, ...], marker: Marker | None, units: Units
) -> str:
    if not value:
        return f"{path} not combed"
    ways = (
        f"in a {entry.hand.value}-hand spiral"
        if entry.direction is Direction.SPIRAL
        else entry.direction.value
        for entry in value
    )
    return f"{path} combed " + ", then ".join(ways)


def _drops(path: str, name: str, value: int, marker: Marker | None, units: Units) -> str:
    return counted(value, "drop")


WORDS: dict[str, FieldWording] = {
    "base": prefixed_value("on"),
    "pigments": _pigments,
    "drops": _drops,
    "drop_diameter": prefixed_value("drops of"),
    "strokes": _strokes,
    "thickness": path_name_and_value,
    "start": path_name_and_value,
    "end": path_name_and_value,
    "seed": path_name_and_value,
}
