"""Changes between designs, and changes made in other units than a design's own."""

from collections.abc import Callable
from typing import Any

from scenes.design.document import Design, design_from, document_of
from scenes.problems import DesignProblem
from scenes.quantities import Units

__all__ = ["changed_in_units", "changes_between", "with_usual_layer_name"]

_FIGURES = 12
"""Figures that are kept of a number given in other units than the design's."""

_TABLES = ("blank", "placement", "finish", "light", "camera")


def changes_between(before: Design, after: Design) -> dict[str, object]:
    """List what would make one design the other, by path: a variant's changes.

    Raises
    ------
    DesignProblem
        If they have other layers, or do not differ.
    """
    old, new = document_of(before), document_of(after)
    if [one["kind"] for one in old["layers"]] != [one["kind"] for one in new["layers"]]:
        raise DesignProblem(
            "a variant has the same layers as its design; save this one as a file of its own."
        )
    pairs = [(key, old.get(key, {}), new.get(key, {})) for key in _TABLES]
    for index, layer in enumerate(before.layers):
        pairs.append((before.path_of(layer), old["layers"][index], new["layers"][index]))
    changes: dict[str, object] = {}
    for path, one, table in pairs:
        changes |= {f"{path}.{key}": table[key] for key in table if one.get(key) != table[key]}
    if not changes:
        raise DesignProblem("nothing differs that a variant could change; change something first.")
    return changes


def with_usual_layer_name(design: Design, path: str) -> str:
    """Call a layer by its name in paths, however it was called: ``layers.2`` is ``trim``."""
    first, _, rest = path.partition(".")
    if first == "layers" and rest.isdecimal() and int(rest) < len(design.layers):
        return design.path_of(design.layers[int(rest)])
    return path


def changed_in_units(
    design: Design, make: Callable[[Design], Design], units: Units | None
) -> Design:
    """Make a change in some units, so that its numbers, and its refusal, are in them.

    Parameters
    ----------
    design : Design
    make : callable
        Makes the changed design.
    units : Units or None
        What it gives lengths in; the design's own units if None.

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
    """Leave the rounding of a change of units out of a document."""
    if isinstance(value, float):
        return float(f"{value:.{_FIGURES}g}")
    if isinstance(value, dict):
        return {key: _rounded(item) for key, item in value.items()}
    return [_rounded(item) for item in value] if isinstance(value, list) else value
