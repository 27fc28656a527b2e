"""Wordings of the fields of cord lattices in a label."""

from scenes.kinds.words import FieldWording
from scenes.quantities import Marker, Units, plain_number

__all__ = ["WORDS"]


def _flatten(path: str, name: str, value: float, marker: Marker | None, units: Units) -> str:
    return "round cords" if value == 1 else f"cords {plain_number(value)} as high as wide"


def _count(path: str, name: str, value: int, marker: Marker | None, units: Units) -> str:
    return f"{value} {'cord' if value == 1 else 'cords'} each way"


WORDS: dict[str, FieldWording] = {"flatten": _flatten, "count": _count}
