"""The summary in the head of a card: a few values of its part."""

from collections.abc import Iterator, Sequence

from scenes.parts.layer import LayerModel
from scenes.parts.part import Part
from scenes.quantities import (
    Angle,
    Count,
    FileName,
    Quantity,
    ShelfName,
    Units,
    Words,
    marker_of,
    plain_number,
)

__all__ = ["summary_of"]

_MOST_VALUES = 3
"""Values that the head of a card shows."""


def summary_of(part: Part, units: Units) -> str:
    """Summarise a part in a few values: required ones first, then others that are given.

    Parameters
    ----------
    part : Part
    units : Units
        Units in which lengths are written.
    """
    values: list[str] = []
    infos = type(part).model_fields
    given = [name for name in infos if name in part.model_fields_set and name != "name"]
    first = [name for name in given if name in part.alternatives or name == "thread"]
    rest = [name for name in given if name not in first and not isinstance(part, LayerModel)]
    if isinstance(part, LayerModel) and not first:
        # A layer that has neither is identified by its file and by what its lists name.
        files = [name for name in given if isinstance(marker_of(infos[name]), FileName)]
        values += [getattr(part, name) for name in files]
        values += dict.fromkeys(_names(part, given))
        rest = []
    for name in [*first, *rest]:
        marker, value = marker_of(infos[name]), getattr(part, name)
        called = (infos[name].alias or name).replace("_", " ")
        if isinstance(marker, Quantity) and value is not None:
            unit = "°" if isinstance(marker, Angle) else marker.unit(units)
            values.append(f"{called} {plain_number(marker.write(value, units))}{unit}")
        elif isinstance(marker, ShelfName | Words):
            values.append(str(value).partition("\n")[0])
        elif isinstance(marker, Count):
            values.append(f"{value} {name}" if value != 1 else f"1 {name.removesuffix('s')}")
        elif isinstance(value, tuple) and value and hasattr(value[0], "count"):
            values.append(f"{sum(entry.count for entry in value)} {called}")
        elif isinstance(value, tuple) and value:
            values.append(f"{len(value)} {called}")
        elif isinstance(value, Part) and hasattr(value, "count"):
            values.append(f"{value.count} shades")
    return ", ".join(values[:_MOST_VALUES])


def _names(part: Part, given: Sequence[str]) -> Iterator[str]:
    """Yield the names of a part's threads, and of what else its lists name, in their order."""
    for name in given:
        value = getattr(part, name)
        if isinstance(marker_of(type(part).model_fields[name]), ShelfName):
            yield value
        elif isinstance(value, tuple):
            named = (getattr(entry, "thread", getattr(entry, "name", None)) for entry in value)
            yield from (name for name in named if name is not None)
