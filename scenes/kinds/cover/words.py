"""Wordings of the fields of covers in a label."""

from scenes.kinds.cover.model import SlopeRows, WoundStrip
from scenes.kinds.words import FieldWording, path_name_and_value, prefixed_value
from scenes.quantities import Length, Marker, Units

__all__ = ["WORDS"]


def _wound(path: str, name: str, value: WoundStrip, marker: Marker | None, units: Units) -> str:
    return f"{value.turns} turns in {Length(0, 0, '').words(value.over, units)}"


def _rows(path: str, name: str, value: SlopeRows, marker: Marker | None, units: Units) -> str:
    return f"{path} rows {value.value} on slopes"


WORDS: dict[str, FieldWording] = {
    "thread": prefixed_value("cover"),
    "margin": path_name_and_value,
    "steepest_slope": path_name_and_value,
    "rows": _rows,
    "wound": _wound,
}
