"""Paths such as ``relief.gap``, and changes by path to the nested tables of a document.

A path starts with a top-level table, a layer's role or a layer's own name. Each further part is a
field, or a position in a list, counted from 0; one of the further wraps may be named instead.
Values are in the document's own units.
"""

import copy
import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from scenes.design.layers import LAYER_KINDS, ROLES, layer_path
from scenes.parts.layer import LayerModel
from scenes.problems import DesignProblem, nearest, one_of, printable, refusal, shown

__all__ = [
    "MOST_CHANGES",
    "change",
    "changed",
    "current_path",
    "flattened",
    "no_wrap",
    "plain_value",
    "route",
]

MOST_CHANGES = 40
"""Most changes in one variant."""

_TABLES = ("title", "notes", "order", "blank", "placement", "finish", "light", "camera", "bench")
_FILE_ONLY = ("turnlight", "units", "shelf", "layers", "variants")
_DEEPEST = 6
_LONGEST = 200


def plain_value(value: object, depth: int = 0, *, finite: bool = False) -> Any:
    """Copy a value made of texts, numbers, lists and tables; refuse anything else.

    Parameters
    ----------
    value : object
    depth : int
        Number of lists and tables around the value.
    finite : bool
        Whether numbers that are not finite are refused too.

    Raises
    ------
    PydanticCustomError
        If it holds another type, such as a date, or is nested too deeply.
    """
    if finite and isinstance(value, float) and not math.isfinite(value):
        raise refusal(
            f"{shown(value)} is not a number that a design can hold; give a finite number"
        )
    if isinstance(value, str | int | float):
        return value
    if depth < _DEEPEST:
        if isinstance(value, Mapping):
            return {
                str(key): plain_value(inner, depth + 1, finite=finite)
                for key, inner in value.items()
            }
        if isinstance(value, Sequence):
            return [plain_value(inner, depth + 1, finite=finite) for inner in value]
    raise refusal(
        f"{shown(value)} cannot be a part of a design; give a number, text, list or table"
    )


def changed(document: Mapping[str, Any], changes: Mapping[str, object]) -> dict[str, Any]:
    """Make changes to a copy of a document.

    Some fields are alternatives (gap, strip width or covered share; threads or grade). Setting one
    removes the others.

    Parameters
    ----------
    document : dict
        Nested tables as in a file.
    changes : dict
        Value by path.

    Raises
    ------
    DesignProblem
        If there is no such path. Values are not checked here; the model checks them.
    """
    result = copy.deepcopy(dict(document))
    change(result, changes)
    return result


def change(document: dict[str, Any], changes: Mapping[str, object]) -> None:
    """Make changes to a document itself, as `changed` does to a copy.

    Parameters
    ----------
    document : dict
        Nested tables as in a file; changed in part if there is no such path.
    changes : dict
        Value by path.

    Raises
    ------
    DesignProblem
        If there is no such path.
    """
    changes = dict(flattened(changes))
    routes = {path: route(document, path) for path in changes}
    taken: dict[tuple[str | int, ...], str] = {}
    for path, steps in routes.items():
        other = taken.setdefault(tuple(steps), path)
        if other != path:
            raise DesignProblem(
                f"{printable(path)} is the same field as {printable(other)}; leave out one of "
                "them.",
                field=printable(path),
            )
    for steps in routes.values():
        _clear_alternatives(document, steps)
    for path, steps in routes.items():
        _set(document, steps, copy.deepcopy(changes[path]), path)


def flattened(changes: Mapping[str, object], above: str = "") -> Iterator[tuple[str, object]]:
    """Flatten nested tables: in TOML, ``relief.gap`` without quotes is a table.

    A table with a kind is kept whole, because it replaces a layer.

    Parameters
    ----------
    changes : dict
        Values by path, or tables of them.
    above : str
        Path of the tables around `changes`, with a full stop at its end.

    Yields
    ------
    (str, object)
        Path and value.
    """
    for key, value in changes.items():
        if isinstance(value, Mapping) and value and "kind" not in value:
            yield from flattened(value, f"{above}{key}.")
        else:
            yield f"{above}{key}", value


def route(document: Mapping[str, Any], path: str) -> list[str | int]:
    """Turn a path into keys and positions from the top of the document.

    Parameters
    ----------
    document : dict
        Nested tables as in a file.
    path : str

    Returns
    -------
    list of str or int

    Raises
    ------
    DesignProblem
        If the first part of the path is neither a table nor a layer.
    """
    if len(path) > _LONGEST:
        raise DesignProblem(f"{shown(path)} is too long to be a field's path.")
    first, *rest = path.split(".")
    below: list[str | int] = [int(part) if _is_position(part) else part for part in rest]
    layers = document.get("layers", [])
    if first == "wraps" and document.get("wraps"):
        return ["wraps", *_in_wrap(document["wraps"], below, path)]
    if first in _TABLES or (first == "wrap_name" and document.get("wraps")):
        return [first, *below]
    if first == "layers" and below and isinstance(below[0], int) and below[0] < len(layers):
        return _to_field(layers, [below[0], *below[1:]])
    matches = [i for i, layer in enumerate(layers) if layer.get("name") == first]
    matches = matches or [i for i, layer in enumerate(layers) if _model(layer).role == first]
    if len(matches) == 1:
        return _to_field(layers, [matches[0], *below])
    raise DesignProblem(_wrong_path(layers, path, first, len(matches)), field=printable(path))


def current_path(document: Mapping[str, Any], path: str) -> str:
    """Give the current name of the field of a layer in a path; else the path itself.

    Parameters
    ----------
    document : dict
        Nested tables as in a file; the kinds of its layers are known.
    path : str
    """
    try:
        steps = route(document, path)
    except DesignProblem:
        return path
    given = path.split(".")
    field = 2 if steps[0] == "layers" else 4
    at = len(given) - (len(steps) - field)
    if steps[field - 2 : field - 1] != ["layers"] or not 0 < at < len(given):
        return path
    return ".".join([*given[:at], str(steps[field]), *given[at + 1 :]])


def _to_field(layers: Sequence[Mapping[str, Any]], below: list[str | int]) -> list[str | int]:
    """Give the route to a field of a layer; a former name is replaced by the current one."""
    index, *rest = below
    assert isinstance(index, int)
    if rest:
        former = _model(layers[index]).former_names
        rest[0] = former.get(str(rest[0]), rest[0])
    return ["layers", index, *rest]


def no_wrap(wraps: Sequence[Mapping[str, Any]], step: str | int) -> str:
    """Say that a rod has no such further wrap, and which it has.

    Parameters
    ----------
    wraps : sequence of dict
        The further wraps of a document.
    step : str or int
        The name or the position that was given.
    """
    which = f"further wrap {step + 1}" if isinstance(step, int) else f"further wrap {shown(step)}"
    has = [f"{shown(str(wrap.get('name', '')))} (wraps.{at})" for at, wrap in enumerate(wraps)]
    return f"there is no {which}; the rod has {one_of(has, 'and') if has else 'none'}"


def _in_wrap(
    wraps: Sequence[Mapping[str, Any]], below: list[str | int], path: str
) -> list[str | int]:
    """Find one of the further wraps, and replace a former name of a field in its layers."""
    if not below:
        return below
    at, *inner = below
    if isinstance(at, str):
        named = [place for place, wrap in enumerate(wraps) if wrap.get("name") == at]
        at = named[0] if named else at
    if not (isinstance(at, int) and at < len(wraps)):
        given = printable(path)
        raise DesignProblem(f"{given}: {no_wrap(wraps, at)}.", field=given)
    below = [at, *inner]
    if len(below) < 4 or below[1] != "layers":
        return below
    _, _, layer, *rest = below
    layers = wraps[at].get("layers", [])
    if not (isinstance(layer, int) and layer < len(layers)):
        return below
    return [at, *_to_field(layers, [layer, *rest])]


def _wrong_path(layers: Sequence[Mapping[str, Any]], path: str, first: str, found: int) -> str:
    path = printable(path)
    names = [layer_path(list(layers), index) for index in range(len(layers))]
    if found:
        return f"{path} could mean {found} layers; give one of {one_of(names)} first."
    if first in ROLES:
        return f"{path} cannot be changed, because this design has no {first}; add the layer first."
    if first in _FILE_ONLY:
        return f"{path} belongs to the file and cannot be changed by a path; change another field."
    options = [*_TABLES, *names]
    close = nearest(first, options)
    hint = f"did you mean {close}?" if close else f"begin with {one_of(options)}."
    return f"{path or shown(path)} leads to no field; {hint}"


def _is_position(part: str) -> bool:
    return part.isascii() and part.isdecimal() and len(part) < 6


def _model(table: Mapping[str, Any]) -> type[LayerModel]:
    return LAYER_KINDS[table["kind"]]


def _clear_alternatives(document: dict[str, Any], route: list[str | int]) -> None:
    in_wrap = route[0] == "wraps"
    match route[2:] if in_wrap else route:
        case ["layers", int(index), field, *_]:
            pass
        case _:
            return
    try:
        table = (document["wraps"][route[1]] if in_wrap else document)["layers"][index]
    except (IndexError, TypeError):
        return  # it is refused where it is set
    for other in _model(table).rivals(str(field)):
        table.pop(other, None)


def _set(document: dict[str, Any], route: list[str | int], value: object, path: str) -> None:
    here: Any = document
    path = printable(path)
    steps = path.split(".")
    above = len(route) - len(steps)
    for index, step in enumerate(route):
        so_far = ".".join(steps[: max(index - above, 1)])
        if isinstance(here, list):
            if not isinstance(step, int) or step >= len(here):
                last = len(here) - 1
                raise DesignProblem(
                    f"{path}: {shown(step)} is no position in {so_far}; give 0 to {last}.",
                    field=path,
                )
        elif not isinstance(here, dict):
            raise DesignProblem(
                f"{path}: {so_far} is one value, with nothing inside it.", field=path
            )
        elif isinstance(step, int):
            raise DesignProblem(
                f"{path}: {so_far} is not a list given in this design; set it as a whole.",
                field=path,
            )
        if index == len(route) - 1:
            here[step] = value
        elif isinstance(here, dict):
            here = here.setdefault(step, {})
        else:
            here = here[step]
