"""Wordings of fields in the label of a comparison: "name value" unless a kind has its own."""

from collections.abc import Callable
from enum import Enum
from typing import Any

from scenes.parts.part import TrimThread
from scenes.quantities import Marker, Quantity, Units

__all__ = [
    "FieldWording",
    "counted_threads",
    "name_and_value",
    "path_name_and_value",
    "prefixed_value",
    "thread_runs",
    "value_only",
]

FieldWording = Callable[[str, str, Any, Marker | None, Units], str]
"""Writes a label from the path of the layer, the field's name, value and marker, and units."""


def _quantity(value: Any, marker: Marker | None, units: Units) -> str:
    if isinstance(marker, Quantity):
        return marker.words(value, units).replace(" degrees", "°")
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value.value if isinstance(value, Enum) else value)


def name_and_value(path: str, name: str, value: Any, marker: Marker | None, units: Units) -> str:
    """Write the field's name and its value.

    Parameters
    ----------
    path : str
        Path of the part that has the field.
    name : str
        Name of the field in the model.
    value : Any
        Value of the field.
    marker : Marker or None
        Marker of the field, which writes quantities.
    units : Units
        Units in which lengths are written.
    """
    return f"{name.replace('_', ' ')} {_quantity(value, marker, units)}"


def value_only(path: str, name: str, value: Any, marker: Marker | None, units: Units) -> str:
    """Write the value alone.

    Parameters
    ----------
    path : str
        Path of the part that has the field.
    name : str
        Name of the field in the model.
    value : Any
        Value of the field.
    marker : Marker or None
        Marker of the field, which writes quantities.
    units : Units
        Units in which lengths are written.
    """
    return _quantity(value, marker, units)


def path_name_and_value(
    path: str, name: str, value: Any, marker: Marker | None, units: Units
) -> str:
    """Write the part's path, the field's name and its value.

    Parameters
    ----------
    path : str
        Path of the part that has the field.
    name : str
        Name of the field in the model.
    value : Any
        Value of the field.
    marker : Marker or None
        Marker of the field, which writes quantities.
    units : Units
        Units in which lengths are written.
    """
    return f"{path} {name_and_value(path, name, value, marker, units)}"


def prefixed_value(prefix: str) -> FieldWording:
    """Make a wording that writes some words, then the value.

    Parameters
    ----------
    prefix : str
    """
    return lambda path, name, value, marker, units: f"{prefix} {_quantity(value, marker, units)}"


def counted_threads(
    path: str, name: str, value: tuple[TrimThread, ...], marker: Marker | None, units: Units
) -> str:
    """Write threads side by side, with the number of each.

    Parameters
    ----------
    path : str
        Path of the part that has the field.
    name : str
        Name of the field in the model.
    value : tuple of TrimThread
        Value of the field.
    marker : Marker or None
        Marker of the field, which writes quantities.
    units : Units
        Units in which lengths are written.
    """
    return f"{path} with {' + '.join(thread_runs(value))}"


def thread_runs(value: object) -> list[str]:
    """Write each of some threads side by side with its number; empty for any other value.

    Parameters
    ----------
    value : object
        Value of a field.
    """
    if not isinstance(value, tuple):
        return []
    return [f"{run.count} {run.thread}" for run in value if isinstance(run, TrimThread)]
