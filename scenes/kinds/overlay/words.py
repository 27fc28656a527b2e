"""Words of a label for overlays."""

from scenes.kinds.overlay.model import OverlayThread
from scenes.kinds.words import FieldWording, path_name_and_value
from scenes.quantities import Marker, Units

__all__ = ["WORDS"]


def _sequence(
    path: str, name: str, value: tuple[OverlayThread, ...], marker: Marker | None, units: Units
) -> str:
    return f"{path}: " + " + ".join(
        f"{one.count} {one.thread}{' pulled out' if one.removed else ''}" for one in value
    )


WORDS: dict[str, FieldWording] = {
    "sequence": _sequence,
    "pitch": path_name_and_value,
    "margin": path_name_and_value,
}
