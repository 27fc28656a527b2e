"""Values of a part's fields, written for the one line in the head of its card."""

from collections.abc import Iterator, Sequence

from scenes.parts.part import Part
from scenes.quantities import (
    Angle,
    Count,
    Quantity,
    ShelfName,
    Units,
    Words,
    marker_of,
    plain_number,
)

__all__ = ["field_values", "given_fields"]


def given_fields(part: Part) -> list[str]:
    """List the fields that a design gives for a part, in the order of the model, but for its name.

    Parameters
    ----------
    part : Part
    """
    infos = type(part).model_fields
    return [name for name in infos if name in part.model_fields_set and name != "name"]


def field_values(part: Part, names: Sequence[str], units: Units) -> Iterator[str]:
    """Write the values of some fields of a part; a field without a short value is left out.

    Parameters
    ----------
    part : Part
    names : sequence of str
        Names of the fields in the model.
    units : Units
        Units in which lengths are written.

    Yields
    ------
    str
        ``gap 20 mm`` for a quantity, the bare value for a name or for words, ``3 coats`` for a
        number or a list.
    """
    infos = type(part).model_fields
    for name in names:
        marker, value = marker_of(infos[name]), getattr(part, name)
        called = (infos[name].alias or name).replace("_", " ")
        if isinstance(marker, Quantity) and value is not None:
            unit = "°" if isinstance(marker, Angle) else marker.unit(units)
            yield f"{called} {plain_number(marker.write(value, units))}{unit}"
        elif isinstance(marker, ShelfName | Words):
            yield str(value).partition("\n")[0]
        elif isinstance(marker, Count):
            yield f"{value} {name}" if value != 1 else f"1 {name.removesuffix('s')}"
        elif isinstance(value, tuple) and value and hasattr(value[0], "count"):
            yield f"{sum(entry.count for entry in value)} {called}"
        elif isinstance(value, tuple) and value:
            yield f"{len(value)} {called}"
