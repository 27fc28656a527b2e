"""Wordings of the fields of overlays in a label."""

from scenes.kinds.overlay.model import OverlayThread
from scenes.kinds.words import FieldWording, path_name_and_value
from scenes.quantities import Marker, Units

__all__ = ["WORDS"]


def _sequence(
    path: str, name: str, value: tuple[OverlayThread, ...], marker: Marker | None, units: Units
) -> str:
    return f"{path} with " + " + ".join(
        f"{entry.count} {entry.thread}{' pulled out' if entry.removed else ''}" for entry in value
    )


WORDS: dict[str, FieldWording] = {
    "sequence": _sequence,
    "pitch": path_name_and_value,
    "margin": path_name_and_value,
}
