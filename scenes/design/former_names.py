"""Fields that have another name in files of earlier versions."""

from collections.abc import Mapping, Sequence
from typing import Any

from scenes.design.layers import LAYER_KINDS, layer_path

__all__ = ["with_current_names"]


def with_current_names(document: Mapping[str, Any]) -> tuple[Mapping[str, Any], tuple[str, ...]]:
    """Give the fields of layers their current names.

    If a layer has both names of a field, both stay, and the former is refused as unknown.

    Parameters
    ----------
    document : dict
        Nested tables as in a file; may be invalid.

    Returns
    -------
    document : dict
        The same object if nothing is renamed, else a copy.
    notes : tuple of str
        One sentence for each renamed field; it begins with the path.
    """
    layers = document.get("layers")
    if not isinstance(layers, Sequence) or isinstance(layers, str):
        return document, ()
    renamed = list(layers)
    notes = []
    for index, table in enumerate(layers):
        for former, current in _former_names(table).items():
            if former in table and current not in table:
                renamed[index] = {
                    current if key == former else key: value
                    for key, value in renamed[index].items()
                }
                path = f"{layer_path(list(layers), index)}.{current}"
                notes.append(
                    f"{path}: this file has it under its former name, {former}; it is read so, "
                    "and saved under its new name"
                )
    return ({**document, "layers": renamed}, tuple(notes)) if notes else (document, ())


def _former_names(table: object) -> Mapping[str, str]:
    kind = table.get("kind") if isinstance(table, Mapping) else None
    model = LAYER_KINDS.get(kind) if isinstance(kind, str) else None
    return {} if model is None else model.former_names
