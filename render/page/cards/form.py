"""The cards of the page, generated from the design's models.

A card represents one part of the design: the blank, a layer, the finish. Its fields, with labels,
units, bounds and explanations, are read from the model's annotations, so that a new kind of layer
has its card without a line here. Everything is plain data, ready to be sent.
"""

from collections.abc import Iterator, Mapping, Sequence
from enum import StrEnum
from typing import Any, get_args

from pydantic.fields import FieldInfo

from render.page.cards.bounds import tightened
from render.page.cards.summaries import summary_of
from scenes.design.document import Design
from scenes.design.field_words import entry_label, label_of
from scenes.design.layers import LAYER_KINDS, kind_of, layer_path
from scenes.editing.blank_defaults import new_fitting, new_scheme, next_station
from scenes.files import samples
from scenes.files.companion_files import MOST_BYTES
from scenes.files.file_import import accepted_files
from scenes.files.toml_writing import value_text
from scenes.parts.annotations import enum_in, is_list, kinds_of, meaning_of, models_in
from scenes.parts.layer import LayerModel
from scenes.parts.part import Part
from scenes.problems import DesignProblem
from scenes.quantities import (
    Angle,
    Colour,
    Count,
    FileName,
    Length,
    Marker,
    Quantity,
    ShelfName,
    Units,
    Words,
    caliper_number,
    marker_of,
    plain_number,
)

__all__ = [
    "Json",
    "all_fields",
    "cards_of",
    "new_entry",
    "number_fields",
    "starting_value",
    "sweep_fields",
    "sweep_label",
    "sweepable",
]

Json = dict[str, Any]

_ELSEWHERE = ("turnlight", "units", "shelf", "title", "notes", "layers", "variants", "light")
_ALSO_ELSEWHERE = ("camera", "order", "agreed")
"""Top-level fields that have no card: they belong to the file, or are set at the picture."""

_TITLES = {
    "blank": "Blank",
    "placement": "Placement",
    "finish": "Finish",
    "bench": "Your times, waste and prices",
}

_ONE = {"stations": "a station", "threads": "another thread here", "guide_schemes": "a scheme"}
"""Name of one entry of a list, on the button that adds it."""

_FOLDED = ("bench",)
"""Cards that most designs leave at their defaults; closed at first."""


def cards_of(design: Design, units: Units) -> list[Json]:
    """Make the cards of a design, in bench order.

    Parameters
    ----------
    design : Design
    units : Units
        Units in which lengths are shown, independent of the file's.

    Returns
    -------
    list of dict
        ``id``, ``path``, ``title``, ``kind``, ``summary``, ``fields`` (see `_field`); for a layer
        also the edits that are possible.
    """
    before: list[Json] = []
    layers: list[Json] = []
    after: list[Json] = []
    order = list(Design.model_fields)
    for name in order:
        part = getattr(design, name)
        if name in (*_ELSEWHERE, *_ALSO_ELSEWHERE) or not isinstance(part, Part):
            continue
        card = _card(name, name, _TITLES.get(name, _sentence(name)), part, units)
        card["folded"] = name in _FOLDED
        behind = order.index(name) > order.index("layers")
        (after if behind else before).append(card)
    for index, layer in enumerate(design.layers):
        layers.append(_layer_card(design, index, layer, units))
    return [*before, *layers, *after, _words_card(design)]


def _card(ident: str, path: str, title: str, part: Part, units: Units) -> Json:
    return {
        "id": ident,
        "path": path,
        "title": title,
        "kind": "",
        "summary": summary_of(part, units),
        "layer": False,
        "folded": False,
        "fields": list(_fields(part, path, units)),
    }


def _layer_card(design: Design, index: int, layer: LayerModel, units: Units) -> Json:
    path = layer_path(design.layers, index)
    title = _sentence(layer.role)
    alike = sum(other.role == layer.role for other in design.layers) > 1
    card = _card(f"layers.{index}", path, title, layer, units)
    same_role = [kind for kind, model in LAYER_KINDS.items() if model.role == layer.role]
    return card | {
        "kind": layer.kind,
        "name": layer.name or "",
        "named": alike or layer.name is not None,
        "layer": True,
        "index": index,
        "kinds": same_role if len(same_role) > 1 else [],
        "first": index == 0,
        "last": index == len(design.layers) - 1,
    }


def _words_card(design: Design) -> Json:
    return {
        "id": "words",
        "path": "",
        "title": "Title, customer and notes",
        "kind": "",
        "summary": "",
        "layer": False,
        "folded": True,
        "fields": [
            _described("title", Design, "title")
            | {"type": "text", "value": design.title, "given": True},
            *_fields(design.order, "order", design.units),
            _described("notes", Design, "notes")
            | {"type": "lines", "value": design.notes, "given": True},
        ],
    }


def _fields(part: Part, path: str, units: Units) -> Iterator[Json]:
    """Describe the fields of a part; of a layer its chart and threads first, as the eye does.

    Alternatives, of which one is given, come as one field.
    """
    fields = list(_in_order(part, path, units))
    yield from sorted(fields, key=_place_on_card) if isinstance(part, LayerModel) else fields


def _place_on_card(field: Json) -> int:
    if field["type"] == "file" and not field["optional"]:
        return 0
    return 2 if _holds_no_threads(field) else 1


def _holds_no_threads(field: Json) -> bool:
    if field["type"] == "rows":
        return all(_holds_no_threads(child) for row in field["rows"] for child in row["fields"])
    if field["type"] == "group":
        return all(map(_holds_no_threads, field["fields"]))
    return bool(field["type"] != "thread")


def _in_order(part: Part, path: str, units: Units) -> Iterator[Json]:
    """Describe the fields of a part in the order of its model, alternative quantities first."""
    infos = type(part).model_fields
    together = [name for name in part.alternatives if name in infos]
    # Alternative quantities, such as widths, decide how the layer looks; lists come at the end.
    foremost = bool(together) and isinstance(marker_of(infos[together[0]]), Quantity)
    if foremost:
        yield _one_of(part, together, path, units)
    for name, info in infos.items():
        if name == "kind" or (name == "name" and isinstance(part, LayerModel)):
            continue
        if _pointless(part, name):
            continue
        if name not in together:
            yield _field(part, name, info, path, units)
        elif name == together[0] and not foremost:
            yield _one_of(part, together, path, units)


def _pointless(part: Part, name: str) -> bool:
    """Whether a field has no effect beside the fields that are given: a font beside a picture."""
    if not isinstance(part, LayerModel) or getattr(part, name):
        return False
    given = [
        field_name for field_name in part.model_fields_set if getattr(part, field_name) is not None
    ]
    return any(
        name in part.rivals(given_name) and given_name not in part.rivals(name)
        for given_name in given
    )


def _one_of(part: Part, names: Sequence[str], path: str, units: Units) -> Json:
    """Describe alternative fields, of which exactly one is given: that field and the others."""
    given = next((name for name in names if getattr(part, name) is not None), names[0])
    infos = type(part).model_fields
    field = _field(part, given, infos[given], path, units) | {"optional": False}
    field["alternatives"] = [
        {
            "path": f"{path}.{infos[name].alias or name}",
            "label": _sentence(label_of(infos[name].alias or name)),
            "given": name == given,
        }
        for name in names
    ]
    return field


def _field(part: Part, name: str, info: FieldInfo, path: str, units: Units) -> Json:
    """Describe one field.

    ``type`` is one of number, whole, choice, flag, text, lines, file, thread, colour, rows, group,
    draft (a part that is not given yet), toml; ``value`` is the value shown; ``given`` says whether
    the design's file contains it.
    """
    key = info.alias or name
    value = getattr(part, name)
    field = _described(f"{path}.{key}", type(part), name)
    field["given"] = name in part.model_fields_set and value is not None
    field["optional"] = not info.is_required()
    field["material"] = name in part.material_fields
    field |= _valued(value, info.annotation, marker_of(info), f"{path}.{key}", units)
    whole_of = kind_of(part).numbers.whole_of if isinstance(part, LayerModel) else {}
    if name in whole_of:
        other = whole_of[name]
        quantity = marker_of(type(part).model_fields[other])
        assert isinstance(quantity, Quantity)
        field |= {
            "grid": quantity.write(getattr(part, other), units),
            "grid_name": label_of(other),
        }
    if field["type"] == "file" and field["optional"]:
        # The default without a file, from the model's description.
        field["without"] = field["help"].partition("Default: ")[2] or "none"
    return field


def _described(path: str, model: type[Part], name: str) -> Json:
    label = _sentence(label_of(model.model_fields[name].alias or name))
    help_ = _sentence(meaning_of(model, name))
    return {"path": path, "label": label, "help": help_, "optional": False}


def _valued(value: Any, annotation: Any, marker: Marker | None, path: str, units: Units) -> Json:
    if isinstance(marker, Quantity):
        return _quantity(value, marker, units)
    if isinstance(marker, Count):
        return {
            "type": "whole",
            "value": value,
            "text": "" if value is None else str(value),
            "unit": "",
            "low": marker.low,
            "high": marker.high,
            "step": 1,
        }
    if isinstance(marker, ShelfName):
        return {"type": "thread", "value": value or ""}
    if isinstance(marker, Colour):
        return {"type": "colour", "value": value or "", "names": list(marker.names)}
    if isinstance(marker, FileName):
        return {
            "type": "file",
            "value": value or "",
            "takes": accepted_files(marker),
            "endings": list(marker.endings),
            "most": MOST_BYTES,
            "chart": marker.chart,
        }
    if isinstance(marker, Words):
        kind = "lines" if marker.lines else "text"
        return {"type": kind, "value": value or "", "longest": marker.longest}
    enum = enum_in(annotation)
    if enum is not None:
        choices = [{"value": member.value, "label": member.value} for member in enum]
        return {
            "type": "choice",
            "value": None if value is None else value.value,
            "choices": choices,
        }
    if annotation is bool or bool in get_args(annotation):
        return {"type": "flag", "value": bool(value)}
    models = list(models_in(annotation))
    if models and (isinstance(value, tuple) or is_list(annotation)):
        return _rows(value or (), models, path, units)
    if isinstance(value, Part):
        return {"type": "group", "fields": list(_fields(value, path, units))}
    if value is None and len(models) == 1:
        fields = [_empty(models[0], name, path, units) for name in models[0].model_fields]
        if all(field["type"] in ("number", "whole") for field in fields):
            return {"type": "draft", "fields": fields}
    return {"type": "toml", "value": _as_toml(value)}


def _empty(model: type[Part], name: str, above: str, units: Units) -> Json:
    """Describe a field of a part that the design does not have yet."""
    info = model.model_fields[name]
    path = f"{above}.{info.alias or name}"
    field = _described(path, model, name) | {"given": False}
    return field | _valued(None, info.annotation, marker_of(info), path, units)


def _number_text(value: float, marker: Quantity, units: Units) -> str:
    return caliper_number(value, units) if isinstance(marker, Length) else plain_number(value)


def _quantity(value: float | None, marker: Quantity, units: Units) -> Json:
    scale = marker.bound_scale(units)
    low, high = marker.low / scale, marker.high / scale
    shown = None if value is None else marker.write(value, units)
    return {
        "type": "number",
        "value": shown,
        "text": "" if shown is None else _number_text(shown, marker, units),
        "unit": "°" if isinstance(marker, Angle) else marker.unit(units).strip(),
        "low": float(f"{low:.6g}"),
        "high": float(f"{high:.6g}"),
        "step": finest_step(marker, units),
    }


def _rows(value: Sequence[Part], models: list[type[Part]], path: str, units: Units) -> Json:
    """Describe a list of parts, one row each."""
    columns = [
        {
            "label": _sentence(label_of(info.alias or name)),
            "help": _sentence(meaning_of(models[0], name)),
        }
        for name, info in models[0].model_fields.items()
        if name != "kind"
    ]
    return {
        "type": "rows",
        "value": len(value),
        "ordered": path != "blank.stations",
        "one": _ONE.get(path.rpartition(".")[2], "another"),
        "columns": columns if len(models) == 1 else [],
        "kinds": kinds_of(models),
        "rows": [
            {
                "path": f"{path}.{index}",
                "kind": getattr(entry, "kind", ""),
                "fields": list(_fields(entry, f"{path}.{index}", units)),
            }
            for index, entry in enumerate(value)
        ],
    }


def finest_step(marker: Quantity, units: Units) -> float:
    """The finest useful step: the precision of a caliper, a protractor or a hand.

    Parameters
    ----------
    marker : Quantity
    units : Units
        Units of the field.
    """
    if isinstance(marker, Length):
        return 0.001 if units is Units.IN else 0.01
    if isinstance(marker, Angle):
        return 0.5
    return 0.005 if marker.high <= 1 else 0.05


def new_entry(design: Design, path: str, kind: str = "") -> Json:
    """Make an entry to add to a list: like its last one, or as in the samples.

    Parameters
    ----------
    design : Design
    path : str
        Path of the list, such as ``blank.stations`` or ``trim.threads``.
    kind : str
        Kind of entry, where there are several.

    Returns
    -------
    dict
        The entry as in the design's file, in its units.
    """
    entries = _list_at(design, path)
    like = [entry for entry in entries if not kind or getattr(entry, "kind", "") == kind]
    if path == "blank.stations":
        return next_station(design)
    if path == "blank.fitted" and kind:
        return new_fitting(design, kind)
    if path == "blank.guide_schemes":
        return new_scheme(design)
    owner, _, field = path.partition(".")
    layers = {layer_path(design.layers, i): one for i, one in enumerate(design.layers)}
    own = layers[owner].another(field) if owner in layers else None
    if own is not None:
        return own
    if like:
        return dict(_table(like[-1], design.units))
    for name in samples.names():
        sample = samples.load(name)
        for other in _places_like(sample, path):
            for entry in _list_at(sample, other):
                if not kind or getattr(entry, "kind", "") == kind:
                    return dict(_table(entry, design.units))
    return {"kind": kind} if kind else {}


def _list_at(design: Design, path: str) -> Sequence[Part]:
    """The list at a path; an empty one if there is none."""
    first, *below = path.split(".")
    by_path = {layer_path(design.layers, i): layer for i, layer in enumerate(design.layers)}
    here: Any = by_path.get(first) or _step(design, first)
    for step in below:
        here = _step(here, step)
    return here if isinstance(here, tuple) else ()


def _step(here: Any, step: str) -> Any:
    """Follow one step of a path; None if it does not exist."""
    if isinstance(here, tuple):
        return here[int(step)] if step.isdecimal() and int(step) < len(here) else None
    return getattr(here, step) if step in getattr(type(here), "model_fields", ()) else None


def _places_like(sample: Design, path: str) -> list[str]:
    """Paths of lists in a sample whose last step is the same."""
    last = path.rpartition(".")[2]
    if path.startswith("blank."):
        return [path]
    return [f"{layer_path(sample.layers, i)}.{last}" for i in range(len(sample.layers))]


def _table(part: Part, units: Units) -> Mapping[str, Any]:
    return part.model_dump(
        mode="json",
        by_alias=True,
        exclude_unset=True,
        exclude_none=True,
        context={"units": units},
    )


def all_fields(cards: Sequence[Json]) -> Iterator[Json]:
    """Iterate over all fields of cards, those in rows and groups included.

    Parameters
    ----------
    cards : sequence of dict
        From `cards_of`.
    """
    for card in cards:
        yield from _unfolded(card["fields"])


def _unfolded(fields: Sequence[Json]) -> Iterator[Json]:
    for field in fields:
        yield field
        yield from _unfolded(field.get("fields", ()))
        for row in field.get("rows", ()):
            yield from _unfolded(row["fields"])


def number_fields(cards: Sequence[Json]) -> Iterator[Json]:
    """Iterate over all fields of cards that hold a number.

    Parameters
    ----------
    cards : sequence of dict
        From `cards_of`.
    """
    return (field for field in all_fields(cards) if field["type"] in ("number", "whole"))


def starting_value(design: Design, path: str) -> Any:
    """Return a first value for a field that the design does not give.

    It is derived from the alternative that the layer gives, where its kind can do that, and else
    taken from a sample.

    Parameters
    ----------
    design : Design
    path : str
        Path of the field.

    Raises
    ------
    DesignProblem
        If no sample has such a field.
    """
    above, _, last = path.rpartition(".")
    by_path = {layer_path(design.layers, i): layer for i, layer in enumerate(design.layers)}
    layer = by_path.get(above)
    if layer is not None:
        given = kind_of(layer).alternative_entry(layer, last)
        if given is not None:
            return given
    for name in samples.names():
        for sample_layer in samples.load(name).layers:
            table = _table(sample_layer, design.units)
            if layer is not None and sample_layer.kind == layer.kind and last in table:
                return table[last]
    raise DesignProblem(f"no sample has {last} to start from; write it into the file.", field=path)


def sweepable(design: Design) -> list[Json]:
    """List the fields that can be swept: numbers that the design gives.

    Parameters
    ----------
    design : Design

    Returns
    -------
    list of dict
        ``path``, ``label``, ``unit``, ``value``, and ``low`` and ``high``: the range in which the
        design is valid and gets no further warning. In the document's own units.
    """
    listed = []
    for card, field in sweep_fields(cards_of(design, design.units)):
        bounds = (field["low"], field["high"], field["step"])
        low, high, _ = tightened(design, field["path"], field["value"], *bounds)
        if high > low:
            kept = {key: field[key] for key in ("path", "unit", "value")}
            listed.append({**kept, "label": sweep_label(card, field), "low": low, "high": high})
    return listed


def sweep_fields(cards: Sequence[Json]) -> Iterator[tuple[Json, Json]]:
    """Yield each number that the design gives, with its card.

    Parameters
    ----------
    cards : sequence of dict
        From `cards_of`.
    """
    for card in cards:
        if not card["folded"]:
            yield from (
                (card, field) for field in number_fields([card]) if field["value"] is not None
            )


def sweep_label(card: Json, field: Json) -> str:
    """Name a field so that no other is called the same: "Upper rings: thread 2, count".

    Parameters
    ----------
    card : dict
        Of `cards_of`.
    field : dict
        A number on it.
    """
    title = _sentence(card["name"]) if card.get("named") and card["name"] else card["title"]
    words = [field["label"][:1].lower() + field["label"][1:]]
    steps = field["path"].removeprefix(f"{card['path']}.").split(".")
    if len(steps) > 1:
        words.insert(0, entry_label(steps[:-1]))
    return f"{title}: {', '.join(words)}"


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:]


def _as_toml(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, tuple | list):
        return value_text([_plain(item) for item in value])
    return value_text(_plain(value))


def _plain(value: Any) -> Any:
    if isinstance(value, Part):
        return dict(_table(value, Units.MM))
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    return value.value if isinstance(value, StrEnum) else value
