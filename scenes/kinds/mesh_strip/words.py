"""Wordings of the fields of mesh strips in a label."""

from geometry.winding import Hand
from scenes.kinds.words import FieldWording, value_only
from scenes.quantities import Marker, Units, counted

__all__ = ["WORDS"]


def _starts(path: str, name: str, value: int, marker: Marker | None, units: Units) -> str:
    return counted(value, "start")


def _hand(path: str, name: str, value: Hand, marker: Marker | None, units: Units) -> str:
    return f"{value.value}-hand"


WORDS: dict[str, FieldWording] = {"starts": _starts, "hand": _hand, "laid": value_only}
