"""Differences between designs in plain words: the labels of a comparison."""

import json
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Any

from scenes.design.document import Design
from scenes.design.layers import kind_of, layer_path
from scenes.design.rod import wrap_names
from scenes.kinds.words import (
    FieldWording,
    name_and_value,
    path_name_and_value,
    prefixed_value,
    thread_runs,
    value_only,
)
from scenes.parts.blank import Placement
from scenes.parts.layer import LayerModel
from scenes.parts.part import Part
from scenes.quantities import Length, Marker, Units, marker_of

__all__ = ["BASE_LABEL", "canonical", "differences", "labels", "paired_differences"]

_FIGURES = 9
"""Significant figures compared: finer than any gauge, coarser than the error of conversion."""

BASE_LABEL = "as designed"
"""Label of the original design, beside designs made from it."""

_MOST_FIELDS_FOR_ALL = 2
"""Most differing fields for which the label of every design names all of them."""

_MOST_FIELDS_IN_A_LABEL = 4
"""Designs that differ in more fields than this are labelled by their titles."""


def canonical(value: object) -> Any:
    """Reduce a part of a design to plain values that are equal exactly when the parts are.

    Lengths are in mm and angles in rad, so the file's units do not show. Fields with their default
    value are left out, so that a new field with a default does not change older designs.

    Parameters
    ----------
    value : object
        A design, a part of one, or the value of a field.
    """
    if isinstance(value, Part):
        fields = type(value).model_fields.items()
        given = {name: canonical(getattr(value, name)) for name, _ in fields}
        default = {name: canonical(field.default) for name, field in fields}
        return {
            name: item for name, item in given.items() if item is not None and item != default[name]
        }
    if isinstance(value, tuple | list):
        return [canonical(item) for item in value]
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, float):
        return float(f"{value:.{_FIGURES - 1}e}") + 0.0
    return value


def differences(before: Design, after: Design, units: Units | None = None) -> list[str]:
    """Name the fields of a design that differ from another's.

    Parameters
    ----------
    before, after : Design
    units : Units, optional
        Units of the lengths; those of `before` by default.

    Returns
    -------
    list of str
        Values in `after`, such as ``gap 20 mm``, ``trim with 2 Sloe Black A + 3 Tarn Teal A``, or
        ``trim 3 Tarn Teal A`` where its other threads are alike;
        empty if the two look the same.
    """
    return _label_parts([before, after], units)[1]


def paired_differences(first: Design, second: Design, units: Units) -> tuple[list[str], list[str]]:
    """Name the fields in which two designs differ, with the values of either.

    Parameters
    ----------
    first, second : Design
    units : Units
        Units of the lengths.

    Returns
    -------
    of_first, of_second : list of str
        As `differences` words them; empty if the two look the same.
    """
    of_first, of_second = _label_parts([first, second], units)
    return of_first, of_second


def labels(designs: Sequence[Design]) -> list[str]:
    """Label designs that stand side by side with their differences only.

    With few differences, each label names all of them: ``gap 14 mm``, ``gap 20 mm``. With more, the
    first design is the reference, and each other label names what differs from it. Designs with
    little in common are labelled by their titles. Designs that look the same have empty labels.

    Parameters
    ----------
    designs : sequence of Design
    """
    apart = _label_parts(designs)
    if max(map(len, apart), default=0) <= _MOST_FIELDS_FOR_ALL:
        return [", ".join(words) for words in apart]
    others = [differences(designs[0], design) for design in designs[1:]]
    titles = [design.title for design in designs]
    if max(map(len, others)) > _MOST_FIELDS_IN_A_LABEL and len(set(titles)) == len(titles):
        return titles
    return [BASE_LABEL, *(", ".join(words) for words in others)]


@dataclass(frozen=True, slots=True)
class _Owner:
    """The words for one table or layer of a design.

    Parameters
    ----------
    kind : str
        Kind of the layer; empty for a table.
    headline : str
        The table or layer in a few words.
    words, values : dict
        By field: its words, and its value as text for comparison.
    inner : dict
        By field that holds tables: the words of each field in them, by path.
    runs : dict
        By field that holds threads side by side: the words of each.
    alternatives : tuple of str
        Fields of which a layer has exactly one; that the others are missing is not worded.
    """

    kind: str
    headline: str
    words: dict[str, str]
    values: dict[str, str]
    inner: dict[str, dict[str, str]]
    runs: dict[str, list[str]]
    alternatives: tuple[str, ...]


def _label_parts(designs: Sequence[Design], units: Units | None = None) -> list[list[str]]:
    if units is None:
        units = designs[0].units if designs else Units.MM
    own_finish = {
        wrap.name for design in designs for wrap in design.wraps if wrap.finish is not None
    }
    parted = [_parts(design, own_finish) for design in designs]
    labels_by_design = _wraps_in_part_only(designs)
    for place in dict.fromkeys(place for parts in parted for place in parts):
        wrap, path = place
        if any(wrap and wrap not in wrap_names(design)[1:] for design in designs):
            continue
        lead = f"{wrap}: " if wrap else ""
        parts_here = [parts.get(place) for parts in parted]
        # Wording a part takes far longer than finding that it is the same in all.
        if all(part == parts_here[0] for part in parts_here):
            continue
        found = [None if part is None else _owner(path, part, units) for part in parts_here]
        if len({owner.kind if owner else None for owner in found}) > 1:
            for words, owner in zip(labels_by_design, found, strict=True):
                words.append(lead + (owner.headline if owner else f"no {path}"))
            continue
        owners_here = [owner for owner in found if owner]
        for field in dict.fromkeys(field for owner in owners_here for field in owner.words):
            if len({owner.values.get(field) for owner in owners_here}) == 1:
                continue
            values = {owner.values.get(field) for owner in owners_here}
            runs = _differing_runs([owner.runs.get(field, []) for owner in owners_here])
            if runs:
                inner = [[f"{path} {' + '.join(told)}"] for told in runs]
            elif len({owner.words.get(field) for owner in owners_here}) < len(values):
                inner = _differing([owner.inner.get(field, {}) for owner in owners_here])
            else:
                inner = [[] for _ in owners_here]
            for words, owner, told in zip(labels_by_design, owners_here, inner, strict=True):
                if told:
                    words += [lead + inside for inside in told]
                elif field in owner.words:
                    words.append(lead + owner.words[field])
                elif field not in owner.alternatives:
                    words.append(f"{lead}no {field.replace('_', ' ')}")
    return labels_by_design


def _differing(inner: Sequence[dict[str, str]]) -> list[list[str]]:
    """Keep the words of the inner fields that are not alike in all."""
    paths = dict.fromkeys(path for words in inner for path in words)
    kept = [path for path in paths if len({words.get(path) for words in inner}) > 1]
    return [[words[path] for path in kept if path in words] for words in inner]


def _differing_runs(runs: Sequence[list[str]]) -> list[list[str]]:
    """Keep the threads that are not alike in all of as many; empty where there are none alike."""
    if len({len(one) for one in runs}) > 1:
        return []
    kept = [place for place, told in enumerate(zip(*runs, strict=True)) if len(set(told)) > 1]
    return [[one[place] for place in kept] for one in runs] if 0 < len(kept) < len(runs[0]) else []


def _inner_fields(path: str, value: object, units: Units) -> Iterator[tuple[str, str]]:
    """Yield path and words of every field in a part, or in a list of parts."""
    if isinstance(value, tuple):
        for index, item in enumerate(value):
            yield from _inner_fields(f"{path}.{index}", item, units)
    elif isinstance(value, Part):
        for name, field in type(value).model_fields.items():
            item = getattr(value, name)
            if isinstance(item, Part | tuple):
                yield from _inner_fields(f"{path}.{name}", item, units)
            elif item is not None:
                words = path_name_and_value(path, name, item, marker_of(field), units)
                yield f"{path}.{name}", words


def _wraps_in_part_only(designs: Sequence[Design]) -> list[list[str]]:
    """Say for each design which further wraps it has or lacks, of those that not all have."""
    there = [wrap_names(design)[1:] for design in designs]
    names = dict.fromkeys(name for names in there for name in names)
    partly = [name for name in names if not all(name in names for names in there)]
    return [
        [f"{'with' if name in names else 'without'} {name}" for name in partly] for names in there
    ]


def _parts(design: Design, own_finish: Collection[str]) -> dict[tuple[str, str], Part]:
    """Every visible table and layer of a design, by wrap and path.

    Parameters
    ----------
    design : Design
    own_finish : collection of str
        Names of the further wraps whose finish is worded: it is not that of the design everywhere.

    Returns
    -------
    dict
        By the name of a further wrap, or an empty text, and the path within it.
    """
    parts: dict[tuple[str, str], Part] = {("", "blank"): design.blank}
    parts |= _parts_of_wrap("", design.placement, design.layers)
    parts[("", "finish")] = design.finish
    for wrap in design.wraps:
        parts |= _parts_of_wrap(wrap.name, wrap.placement, wrap.layers)
        if wrap.name in own_finish:
            parts[(wrap.name, "finish")] = wrap.finish or design.finish
    return parts | {("", "light"): design.light, ("", "camera"): design.camera}


def _parts_of_wrap(
    name: str, placement: Placement, layers: tuple[LayerModel, ...]
) -> dict[tuple[str, str], Part]:
    parts: dict[tuple[str, str], Part] = {(name, "placement"): placement}
    return parts | {(name, layer_path(layers, index)): layer for index, layer in enumerate(layers)}


def _owner(path: str, part: Part, units: Units) -> _Owner:
    kind = part.kind if isinstance(part, LayerModel) else ""
    kind_entry = kind_of(part) if isinstance(part, LayerModel) else None
    words, values, inner, runs = {}, {}, {}, {}
    for name, field in type(part).model_fields.items():
        value = getattr(part, name)
        if value is None or name == "name" or (kind and name == "kind"):
            continue
        words_for = (kind_entry.words if kind_entry else _WORDS.get(path, {})).get(
            name, name_and_value
        )
        words[name] = words_for(path, name, value, marker_of(field), units)
        values[name] = json.dumps(canonical(value))
        runs[name] = thread_runs(value)
        inner[name] = dict(_inner_fields(f"{path}.{name}", value, units))
    foremost = [
        words[name] for name in (kind_entry.headline if kind_entry else ()) if name in words
    ]
    rivals = tuple(
        name
        for name in type(part).model_fields
        if isinstance(part, LayerModel) and part.rivals(name)
    )
    return _Owner(kind, foremost[0] if foremost else kind, words, values, inner, runs, rivals)


def _coats(path: str, name: str, value: int, marker: Marker | None, units: Units) -> str:
    return {0: "dry", 1: "1 coat"}.get(value, f"{value} coats")


def _stations(path: str, name: str, value: Any, marker: Marker | None, units: Units) -> str:
    diameter = Length(0, 0, "")
    butt, tip = (diameter.words(station.diameter, units) for station in (value[0], value[-1]))
    return f"blank {butt} to {tip} at {len(value)} stations"


def _fitted(path: str, name: str, value: Any, marker: Marker | None, units: Units) -> str:
    if not value:
        return "nothing fitted"
    length = Length(0, 0, "")
    return "fitted " + " + ".join(
        f"{fitting.kind} at {length.words(fitting.span[0], units)}" for fitting in value
    )


def _schemes(path: str, name: str, value: Any, marker: Marker | None, units: Units) -> str:
    names = " + ".join(scheme.name for scheme in value)
    return f"guides bound by {names}" if names else "no schemes for guides"


_WORDS: dict[str, dict[str, FieldWording]] = {
    "blank": {
        "colour": prefixed_value("blank"),
        "stations": _stations,
        "fitted": _fitted,
        "guide_schemes": _schemes,
    },
    "placement": {"start": prefixed_value("from"), "end": prefixed_value("to")},
    "finish": {"coats": _coats},
    "light": {"kind": value_only, "turn": prefixed_value("light turned")},
    "camera": {"view": value_only, "turn": prefixed_value("rod turned")},
}
"""Functions that word the fields whose name and value alone would be unclear."""
