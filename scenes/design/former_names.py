"""Fields that have another name in files of earlier versions."""

from collections.abc import Mapping, Sequence
from typing import Any

from scenes.design.layers import LAYER_KINDS, layer_path
from scenes.design.paths import current_path

__all__ = ["with_current_names"]


def with_current_names(document: Mapping[str, Any]) -> tuple[Mapping[str, Any], tuple[str, ...]]:
    """Give the fields of layers their current names.

    The paths in the changes of variants get them too. If both names of a field are given, both
    stay, and the design is refused.

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
    current, notes = _of_wrap(document)
    wraps = document.get("wraps")
    if isinstance(wraps, Sequence) and not isinstance(wraps, str):
        renamed = list(wraps)
        for index, wrap in enumerate(wraps):
            if isinstance(wrap, Mapping):
                renamed[index], found = _of_wrap(wrap)
                notes += [f"wraps.{index}.{note}" for note in found]
        current = {**current, "wraps": renamed}
    return (current, tuple(notes)) if notes else (document, ())


def _of_wrap(document: Mapping[str, Any]) -> tuple[Mapping[str, Any], list[str]]:
    """Do the same for the layers and variants of one wrap."""
    layers = document.get("layers")
    if not isinstance(layers, Sequence) or isinstance(layers, str):
        return document, []
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
    current_document = {**document, "layers": renamed}
    variants, in_variants = _variants(current_document)
    if in_variants:
        current_document["variants"] = variants
    notes += in_variants
    return (current_document, notes) if notes else (document, [])


def _variants(document: Mapping[str, Any]) -> tuple[list[Any], list[str]]:
    """Give the fields in the changes of variants their current names; layers have them already."""
    variants = document.get("variants")
    known = all(
        isinstance(table, Mapping)
        and isinstance(table.get("kind"), str)
        and table["kind"] in LAYER_KINDS
        for table in document["layers"]
    )
    if not known or not isinstance(variants, Sequence) or isinstance(variants, str):
        return [], []
    listed, notes = list(variants), []
    for index, variant in enumerate(variants):
        changes = variant.get("changes") if isinstance(variant, Mapping) else None
        if isinstance(changes, Mapping):
            renamed, paths = _changes(document, changes)
            listed[index] = {**variant, "changes": renamed}
            notes += [
                f"variants.{index}.changes: this file has {current} under its former name, "
                f"{former}; it is read so, and saved under its new name"
                for former, current in paths
            ]
    return listed, notes


def _changes(
    document: Mapping[str, Any], changes: Mapping[str, Any], above: str = ""
) -> tuple[dict[str, Any], list[tuple[str, str]]]:
    """Rename the fields of changes; also list former and current path of each that is renamed."""
    renamed: dict[str, Any] = {}
    paths: list[tuple[str, str]] = []
    for key, value in changes.items():
        path = f"{above}{key}"
        current = current_path(document, path)
        if isinstance(value, Mapping) and "kind" not in value:
            value, inner = _changes(document, value, f"{path}.")
            paths += inner
        if current == path or current[len(above) :] in changes:
            renamed[key] = value
            continue
        renamed[current[len(above) :]] = value
        paths.append((path, current))
    return renamed, paths


def _former_names(table: object) -> Mapping[str, str]:
    kind = table.get("kind") if isinstance(table, Mapping) else None
    model = LAYER_KINDS.get(kind) if isinstance(kind, str) else None
    return {} if model is None else model.former_names
