"""Entries inserted into, removed from and moved within the lists of a design.

A list has a path: ``layers``, ``variants``, ``blank.stations``, ``trim.threads``. An entry has the
path of its list and its position, ``layers.2``; a layer also has its usual path, ``trim``. Paths in
variants are rewritten so that they lead to the same layers as before.
"""

import copy
from collections.abc import Mapping, Sequence
from typing import Any

from scenes.design import paths
from scenes.design.document import Design, design_from, document_of
from scenes.design.layers import LAYER_KINDS, ROLES, layer_path
from scenes.editing.wrap_paths import with_paths_followed
from scenes.files import samples
from scenes.problems import DesignProblem, nearest, one_of, shown
from scenes.quantities import Units

__all__ = [
    "check_kind",
    "cleared",
    "duplicated",
    "inserted",
    "moved",
    "removed",
    "sample_layer",
    "with_kind",
]

_TOP_LEVEL_LISTS = ("layers", "variants")
"""Lists that a change by path may not replace."""


def inserted(design: Design, path: str, entry: object, at: int | None = None) -> Design:
    """Insert a new entry into a list.

    Parameters
    ----------
    design : Design
    path : str
        Path of the list.
    entry : dict
        Fields as in the design's file, in its units.
    at : int, optional
        Position of the entry. If not given, a layer follows the last of its role, and any other
        entry is last.

    Raises
    ------
    DesignProblem
        If there is no such list, or the design would not be valid.
    """
    document = document_of(design)
    entries = _entries(document, path)
    entry = copy.deepcopy(entry)
    if at is None:
        at = _default_position(entries, entry) if path == "layers" else len(entries)
    if not 0 <= at <= len(entries):
        raise DesignProblem(
            f"{path}: {at} is no position in it; give 0 to {len(entries)}.", field=path
        )
    origin: list[int | None] = [*range(at), None, *range(at, len(entries))]
    if path == "layers" and isinstance(entry, dict):
        _name_layers_of_role(entries, entry)
    return _with_entries(document, path, [*entries[:at], entry, *entries[at:]], origin)


def removed(design: Design, path: str) -> Design:
    """Remove an entry from a list, with the changes that variants make to it.

    Parameters
    ----------
    design : Design
    path : str
        Path of the entry.

    Raises
    ------
    DesignProblem
        If there is no such entry, or the design would not be valid without it.
    """
    document = document_of(design)
    above, entries, at = _entry(document, path)
    origin: list[int | None] = [*range(at), *range(at + 1, len(entries))]
    return _with_entries(document, above, entries[:at] + entries[at + 1 :], origin)


def moved(design: Design, path: str, to: int) -> Design:
    """Move an entry to another position in its list.

    Parameters
    ----------
    design : Design
    path : str
        Path of the entry.
    to : int
        New position.

    Raises
    ------
    DesignProblem
        If there is no such entry or position, or the design would not be valid.
    """
    document = document_of(design)
    above, entries, at = _entry(document, path)
    if not 0 <= to < len(entries):
        last = len(entries) - 1
        raise DesignProblem(f"{above}: {to} is no position in it; give 0 to {last}.", field=above)
    order = list(range(len(entries)))
    order.insert(to, order.pop(at))
    return _with_entries(document, above, [entries[i] for i in order], [*order])


def duplicated(design: Design, path: str) -> Design:
    """Insert a copy of an entry after it.

    Parameters
    ----------
    design : Design
    path : str
        Path of the entry.

    Raises
    ------
    DesignProblem
        If there is no such entry, or two of it are not allowed.
    """
    document = document_of(design)
    above, entries, at = _entry(document, path)
    entry = copy.deepcopy(entries[at])
    if above == "variants":
        entry["name"] = _free_name(entry["name"], [variant.get("name") for variant in entries])
    return inserted(design, above, entry, at + 1)


def cleared(design: Design, path: str) -> Design:
    """Remove a field, so that its default holds.

    Parameters
    ----------
    design : Design
    path : str
        Path of the field.

    Raises
    ------
    DesignProblem
        If there is no such field, or it is required.
    """
    document = document_of(design)
    *above, last = paths.route(document, path)
    here: Any = document
    for step in above:
        try:
            here = here[step]
        except (KeyError, IndexError, TypeError):
            return design
    if isinstance(here, dict):
        here.pop(last, None)
    return design_from(document)


def with_kind(
    design: Design, path: str, kind: str, fields: Mapping[str, Any] | None = None
) -> Design:
    """Replace a layer by one of another kind with the same role; it keeps its name.

    Variants keep their changes of the layer; those that the new kind does not allow are set aside.

    Parameters
    ----------
    design : Design
    path : str
        Path of the layer.
    kind : str
        Name of the new kind.
    fields : dict, optional
        Fields of the new layer, in the design's units; those of a sample if not given.

    Raises
    ------
    DesignProblem
        If there is no such layer or kind, or the design would not be valid.
    """
    document = document_of(design)
    above, entries, at = _entry(document, path)
    entry = sample_layer(kind, design.units) if fields is None else dict(fields)
    if isinstance(entries[at], dict) and "name" in entries[at]:
        entry["name"] = entries[at]["name"]
    changed = [*entries[:at], entry, *entries[at + 1 :]]
    return _with_entries(document, above, changed, range(len(entries)))


def check_kind(kind: str) -> None:
    """Check that there is a kind of layer with this name.

    Parameters
    ----------
    kind : str

    Raises
    ------
    DesignProblem
    """
    if kind not in LAYER_KINDS:
        close = nearest(kind, LAYER_KINDS)
        hint = f"did you mean {close}?" if close else f"give {one_of(LAYER_KINDS)}."
        raise DesignProblem(f"{shown(kind)} is not a kind of layer; {hint}", field="layers")


def sample_layer(kind: str, units: Units) -> dict[str, Any]:
    """Give the first layer of a kind in the samples, without its name.

    Parameters
    ----------
    kind : str
        Name of the kind.
    units : Units
        Units of the lengths in the result.

    Returns
    -------
    dict
        Fields as in a design file.

    Raises
    ------
    DesignProblem
        If there is no such kind, or no sample has one.
    """
    check_kind(kind)
    found = (
        layer
        for name in samples.names()
        for layer in samples.load(name).layers
        if layer.kind == kind
    )
    layer = next(found, None)
    if layer is None:
        raise DesignProblem(f"no sample has a {kind} to start from; write one into the file.")
    table = layer.model_dump(
        mode="json",
        by_alias=True,
        exclude_unset=True,
        exclude_none=True,
        context={"units": units},
    )
    table.pop("name", None)
    return dict(table)


def _entries(document: Mapping[str, Any], path: str) -> list[Any]:
    """Copy the list at a path; empty where the file leaves it out."""
    if path in _TOP_LEVEL_LISTS:
        return list(document.get(path, []))
    here: Any = document
    for step in paths.route(document, path):
        if isinstance(here, list):
            here = here[step] if isinstance(step, int) and step < len(here) else None
        else:
            here = here.get(step) if isinstance(here, Mapping) else None
    if here is None:
        return []
    if not isinstance(here, list):
        raise DesignProblem(f"{path} is not a list; change it as one value.", field=path)
    return list(here)


def _entry(document: Mapping[str, Any], path: str) -> tuple[str, list[Any], int]:
    """Find the list of an entry: its path, a copy of it, and the position of the entry."""
    layers = document.get("layers", [])
    by_path = {layer_path(layers, index): index for index in range(len(layers))}
    if path in by_path:
        return "layers", list(layers), by_path[path]
    above, _, last = path.rpartition(".")
    position = int(last) if last.isascii() and last.isdecimal() and len(last) < 6 else -1
    if not above or position < 0:
        raise DesignProblem(
            f"{shown(path)} is no entry of a list; give one such as layers.0 or {one_of(by_path)}."
        )
    entries = _entries(document, above)
    if above == "wraps" and position >= len(entries):
        raise DesignProblem(f"{path}: {paths.no_wrap(entries, position)}.", field=path)
    if position >= len(entries):
        right = f"give 0 to {len(entries) - 1}." if entries else "it is empty."
        raise DesignProblem(f"{above}: {position} is no position in it; {right}", field=above)
    return above, entries, position


def _with_entries(
    document: dict[str, Any], path: str, entries: list[Any], origin: Sequence[int | None]
) -> Design:
    """Replace a list of a document, and make the design.

    Parameters
    ----------
    document : dict
    path : str
        Path of the list.
    entries : list
        Its new entries.
    origin : sequence of int or None
        Former position of each entry; None for a new one.
    """
    if path == "variants":
        return design_from({**document, "variants": entries})
    if path == "wraps":
        return design_from(with_paths_followed(document, {**document, "wraps": entries}))
    if path != "layers":
        return design_from(paths.changed(document, {path: entries}))
    changed = {**document, "layers": entries}
    if "variants" in document:
        kept = [_redirected(variant, document, entries, origin) for variant in document["variants"]]
        changed["variants"] = [variant for variant in kept if variant["changes"]]
    return design_from(changed)


def _redirected(
    variant: Mapping[str, Any],
    document: Mapping[str, Any],
    entries: list[Any],
    origin: Sequence[int | None],
) -> dict[str, Any]:
    """Rewrite the paths of a variant so that they lead to the same layers as before.

    A path that leads to no layer of the document is kept as it is: the variant is set aside.
    """
    kept: dict[str, Any] = {}
    for path, value in paths.flattened(variant["changes"]):
        try:
            table, *below = paths.route(document, path)
        except DesignProblem:
            kept[path] = value
            continue
        if table != "layers":
            kept[path] = value
        elif below and below[0] in origin:
            name = layer_path(entries, origin.index(int(below[0])))
            kept[".".join([name, *map(str, below[1:])])] = value
    if kept == dict(paths.flattened(variant["changes"])):
        return dict(variant)
    return {**variant, "changes": kept}


def _default_position(layers: Sequence[Any], entry: object) -> int:
    kind = entry.get("kind") if isinstance(entry, Mapping) else None
    model = LAYER_KINDS.get(kind) if isinstance(kind, str) else None
    if model is None:
        return len(layers)
    ranks = [ROLES.index(LAYER_KINDS[one["kind"]].role) for one in layers]
    rank = ROLES.index(model.role)
    like = [i for i, one in enumerate(ranks) if one == rank]
    before = like or [i for i, one in enumerate(ranks) if one < rank]
    return max(before, default=-1) + 1


def _name_layers_of_role(layers: list[Any], entry: dict[str, Any]) -> None:
    """Name a new layer and those with the same role, because the role no longer identifies one.

    `entry` and `layers` are changed in place.
    """
    model = LAYER_KINDS.get(entry.get("kind", ""))
    if model is None:
        return
    taken = [layer.get("name") for layer in layers]
    roles = [LAYER_KINDS[layer["kind"]].role for layer in layers]
    like = [i for i, role in enumerate(roles) if role == model.role]
    if not like:
        return
    for index in like:
        if "name" not in layers[index]:
            name = _free_name(f"{model.role} 1", taken)
            layers[index] = {"kind": layers[index]["kind"], "name": name, **layers[index]}
            taken.append(name)
    wanted = entry.get("name", f"{model.role} {len(like) + 1}")
    name = _free_name(wanted, taken)
    rest = {key: value for key, value in entry.items() if key != "name"}
    entry.clear()
    entry |= {"kind": rest.pop("kind"), "name": name, **rest}


def _free_name(wanted: str, taken: Sequence[Any]) -> str:
    """Add a number to a name that is in use: ``stop``, ``stop 2``, ``stop 3``."""
    if wanted not in taken:
        return wanted
    stem, _, last = wanted.rpartition(" ")
    stem = stem if stem and last.isdecimal() else wanted
    numbers = (f"{stem[:34]} {number}" for number in range(2, 2 + len(taken) + 1))
    return next(name for name in numbers if name not in taken)
