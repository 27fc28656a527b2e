"""Changes from one design to another, and changes given in other units than the design's."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from scenes.design.document import Design, design_from, document_of
from scenes.problems import DesignProblem
from scenes.quantities import Units

__all__ = ["changed_in_units", "changes_between", "with_usual_layer_name"]

_FIGURES = 12
"""Significant figures kept of a number that is converted from other units."""

_TABLES = ("blank", "placement", "finish", "light", "camera", "bench")
_TABLES_OF_A_WRAP = ("placement", "finish")
_WORDS = ("title", "notes")


def changes_between(before: Design, after: Design, *, defaults: bool = False) -> dict[str, object]:
    """List the changes that turn one design into another, by path, as a variant holds them.

    A layer of another kind is one change: the whole layer.

    Parameters
    ----------
    before, after : Design
        Designs whose wraps have the same names, and their layers the same roles and names.
    defaults : bool
        Whether a field that only `before` gives is changed to its default. The result may then be
        empty.

    Raises
    ------
    DesignProblem
        If their wraps or layers are others, or nothing differs.
    """
    old, new = document_of(before), document_of(after)
    default = document_of(after, defaults=True) if defaults else new
    if _wraps_of(before) != _wraps_of(after):
        raise DesignProblem(
            "a variant has the same layers as its design, in the same wraps; save this one as a "
            "file of its own."
            if before.wraps or after.wraps
            else "a variant has the same layers as its design; save this one as a file of its own."
        )
    changes: dict[str, object] = {
        key: default.get(key, "")
        for key in _WORDS
        if old.get(key) != default.get(key, "") and (defaults or key in new)
    }
    paths = [before.path_of(layer) for layer in before.layers]
    changes |= _in_tables("", _TABLES, paths, (old, new, default))
    for index, wrap in enumerate(before.wraps):
        above = f"wraps.{index}."
        paths = [f"{above}layers.{place}" for place in range(len(wrap.layers))]
        tables = old["wraps"][index], new["wraps"][index], default["wraps"][index]
        changes |= _in_tables(above, _TABLES_OF_A_WRAP, paths, tables)
    if not (changes or defaults):
        raise DesignProblem("nothing differs that a variant could change; change something first.")
    return changes


def _wraps_of(design: Design) -> list[tuple[str, list[tuple[str, str | None]]]]:
    """Names of the further wraps; roles and names of the layers of all."""
    stacks = [("", design.layers), *((wrap.name, wrap.layers) for wrap in design.wraps)]
    return [(name, [(str(layer.role), layer.name) for layer in layers]) for name, layers in stacks]


def _in_tables(
    above: str,
    tables: Sequence[str],
    layer_paths: Sequence[str],
    documents: tuple[Mapping[str, Any], Mapping[str, Any], Mapping[str, Any]],
) -> dict[str, object]:
    """List the changes in the tables and layers of one wrap.

    Parameters
    ----------
    above : str
        Path of the wrap, with a full stop at its end; empty for that of the design itself.
    tables : sequence of str
    layer_paths : sequence of str
        Path of each layer.
    documents : (dict, dict, dict)
        The wrap before, after, and after with the defaults of fields that are left out.
    """
    changes: dict[str, object] = {}
    old, new, default = documents
    pairs = [
        (f"{above}{key}", old.get(key, {}), new.get(key, {}), default.get(key, {}))
        for key in tables
    ]
    for index, path in enumerate(layer_paths):
        one, table, usual = (document["layers"][index] for document in documents)
        if one["kind"] != table["kind"]:
            changes[path] = table
            continue
        pairs.append((path, one, table, usual))
    for path, one, table, usual in pairs:
        changes |= {f"{path}.{key}": table[key] for key in table if one.get(key) != table[key]}
        changes |= {f"{path}.{key}": usual[key] for key in one if key not in table and key in usual}
    return changes


def with_usual_layer_name(design: Design, path: str) -> str:
    """Give the usual path of a layer: ``layers.2`` becomes ``trim``.

    Parameters
    ----------
    design : Design
    path : str
        Path of a layer, such as ``layers.2`` or ``trim``.

    Returns
    -------
    str
        The path with the layer's role or name; `path` itself if it is not a position in ``layers``.
    """
    first, _, rest = path.partition(".")
    if first == "layers" and rest.isdecimal() and int(rest) < len(design.layers):
        return design.path_of(design.layers[int(rest)])
    return path


def changed_in_units(
    design: Design, make: Callable[[Design], Design], units: Units | None
) -> Design:
    """Change a design in other units than its own.

    Numbers of the change, and of its refusal, are in those units.

    Parameters
    ----------
    design : Design
    make : callable
        Takes the design in `units` and returns the changed design.
    units : Units or None
        Units of the lengths in the change; the design's own if None.

    Returns
    -------
    Design
        In the units of `design`.

    Raises
    ------
    DesignProblem
    """
    if units is None or units is design.units:
        return make(design)
    made = make(design.without_variants().model_copy(update={"units": units}))
    document: dict[str, Any] = _rounded(
        document_of(made.model_copy(update={"units": design.units}))
    )
    if design.variants:
        document["variants"] = document_of(design)["variants"]
    return design_from(document)


def _rounded(value: Any) -> Any:
    """Round every number of a document to `_FIGURES`, to remove the error of converted units."""
    if isinstance(value, float):
        return float(f"{value:.{_FIGURES}g}")
    if isinstance(value, dict):
        return {key: _rounded(item) for key, item in value.items()}
    return [_rounded(item) for item in value] if isinstance(value, list) else value
