"""Pydantic's validation errors as one sentence in the terms of the design document."""

from collections.abc import Iterable, Mapping, Sequence

from pydantic import ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from materials.toml_text import decimal_comma_in
from scenes.design.layers import layer_path
from scenes.parts.annotations import enum_in, kinds_of, models_in
from scenes.parts.layer import LayerModel
from scenes.parts.part import Part
from scenes.problems import DesignProblem, nearest, one_of, printable, shown
from scenes.quantities import counted, example_of, marker_of

__all__ = ["problem_of"]

_MOST_LISTED = 12
"""Most fields that are missing besides, and most other errors, that are named."""


def problem_of(error: ValidationError, document: object, root: type[Part]) -> DesignProblem:
    """Put pydantic's errors into sentences, the most important first.

    A wrong version or unit comes alone, because other errors follow from it; then unknown fields,
    because a misspelt field also causes one that is missing; then the others as in the file. Fields
    that are missing are named in one sentence.

    Parameters
    ----------
    error : ValidationError
    document : object
        The validated tables, from which layers get their paths.
    root : type of Part
        The model that was validated.
    """
    errors = error.errors(include_url=False)
    foremost = min(errors, key=_precedence)
    unknown = {other["loc"][:-1] for other in errors if other["type"] == "extra_forbidden"}
    # Without a version, and with fields that no design has, it is another kind of file.
    if _precedence(foremost) < _FOLLOWED and (foremost["type"] != "missing" or () in unknown):
        return _problem_at(foremost, _place_of(foremost, document, root))
    missing = [
        other for other in errors if other["type"] == "missing" and other["loc"][:-1] not in unknown
    ]
    told = [other for other in errors if other["type"] != "missing"] + missing[:1]
    told.sort(key=lambda other: (_precedence(other), errors.index(other)))
    problems = [
        _missing(missing, document, root)
        if other["type"] == "missing"
        else _problem_at(other, _place_of(other, document, root))
        for other in told
    ]
    first, *others = {str(problem): problem for problem in problems}.values()
    sentences = [str(problem) for problem in others]
    if len(sentences) > _MOST_LISTED:
        left = len(sentences) - _MOST_LISTED
        sentences = [*sentences[:_MOST_LISTED], f"{counted(left, 'more value')} would be refused."]
    return DesignProblem(str(first), field=first.field, others=sentences)


def _missing(errors: Sequence[ErrorDetails], document: object, root: type[Part]) -> DesignProblem:
    """Name all fields that are missing in one sentence."""
    details, *others = errors
    problem = _problem_at(details, _place_of(details, document, root))
    paths = [".".join(_place_of(other, document, root).path) for other in others]
    if not paths:
        return problem
    listed = paths[:_MOST_LISTED]
    if len(paths) > len(listed):
        listed.append(f"{len(paths) - len(listed)} more")
    sentence = f"{str(problem).rstrip('.')}; missing too: {one_of(listed, 'and')}."
    return DesignProblem(sentence, field=problem.field)


def _place_of(details: ErrorDetails, document: object, root: type[Part]) -> "_Place":
    place = _Place(root, document)
    for token in details["loc"]:
        place.enter(token)
    return place


_FOLLOWED = 2
"""Precedence below which other errors follow from an error."""


def _precedence(details: ErrorDetails) -> int:
    foremost = {("turnlight",): 0, ("units",): 1}
    if details["loc"] in foremost:
        return foremost[details["loc"]]
    return 2 if details["type"] in ("extra_forbidden", "union_tag_invalid") else 3


class _Place:
    """Place of an error: its path, its model and its field."""

    def __init__(self, root: type[Part], document: object) -> None:
        self.models: list[type[Part]] = [root]
        self.field: FieldInfo | None = None
        self.path: list[str] = []
        self._document = document
        self._at_position = False

    def enter(self, token: int | str) -> None:
        """Go one step down pydantic's location."""
        chosen = self._at_position or len(self.models) > 1
        if chosen and token in kinds_of(self.models):
            # Pydantic names the kind that it chose for a table; a path does not.
            self.models = [model for model in self.models if token in kinds_of([model])]
            self._name_layer()
            self._at_position = False
            return
        self._at_position = isinstance(token, int)
        self.path.append(str(token) if isinstance(token, int) else printable(token))
        if isinstance(token, int):
            return
        found = [field for model in self.models for field in _fields(model, token)]
        self.field = found[0] if found else None
        if found:
            self.models = [model for field in found for model in models_in(field.annotation)]

    def _name_layer(self) -> None:
        if self.path[0] != "layers" or not isinstance(self._document, Mapping):
            return
        layers = self._document["layers"]
        self.path = [layer_path(layers, int(self.path[1]))]


def _fields(model: type[Part], token: str) -> list[FieldInfo]:
    return [field for name, field in model.model_fields.items() if (field.alias or name) == token]


def _field_names(models: Iterable[type[Part]]) -> list[str]:
    return [field.alias or name for model in models for name, field in model.model_fields.items()]


def _options(annotation: object) -> list[str]:
    """Find the words that an annotation allows."""
    return [member.value for member in enum_in(annotation) or ()]


def _problem_at(details: ErrorDetails, place: _Place) -> DesignProblem:
    kind, given, context = details["type"], details["input"], details.get("ctx", {})
    if kind == "refusal":
        inner = context["field"]
        field = ".".join([*place.path, inner] if inner else place.path)
        sentence = context["sentence"] if not field else f"{field}: {context['sentence']}"
        return DesignProblem(sentence if sentence[-1] in ".?" else f"{sentence}.", field=field)
    path = ".".join(place.path)
    if kind == "extra_forbidden":
        return DesignProblem(_not_a_field(place), field=path)
    if kind == "missing":
        return DesignProblem(f"{path} is missing; give {_right_value(place)}.", field=path)
    if kind in ("union_tag_invalid", "union_tag_not_found", *_NO_TABLE) and kinds_of(place.models):
        return _wrong_kind(given, kinds_of(place.models), path)
    if kind == "enum":
        options = _options(place.field.annotation) if place.field else []
        close = nearest(given, options) if isinstance(given, str) else None
        sentence = f"{path}: {shown(given)} is not known here; give {one_of(options)}."
        if close:
            listed = one_of(options, "and")
            sentence = f"{path}: {shown(given)} is not one of {listed}; did you mean {close}?"
        return DesignProblem(sentence, field=path)
    if kind in ("too_long", "too_short"):
        few = kind == "too_short"
        limit = context["min_length" if few else "max_length"]
        count = len(given) if isinstance(given, Sequence) else context["actual_length"]
        entries = "1 entry is" if count == 1 else f"{count} entries are"
        bound = f"fewer than {limit}" if few else f"more than {limit}"
        right = f"give at {'least' if few else 'most'} {limit}"
        return DesignProblem(f"{path}: {entries} {bound}; {right}.", field=path)
    right = {
        "model_type": f"a table; give {_right_value(place)}",
        "bool_type": "true or false; write one of them, without quotes",
        "tuple_type": "a list; write it in square brackets",
    }.get(kind, "what belongs here; look at a sample design")
    comma = decimal_comma_in(given) if isinstance(given, str) else ""
    if comma:
        return DesignProblem(f"{path}: {comma}", field=path)
    return DesignProblem(f"{path or 'design'}: {shown(given)} is not {right}.", field=path)


_NO_TABLE = ("model_type", "model_attributes_type")
"""Pydantic's error types for a value that is not a table, alone and in a list of kinds."""


def _not_a_field(place: _Place) -> str:
    path, names = ".".join(place.path), _field_names(place.models)
    for model in place.models:
        current = model.former_names.get(place.path[-1]) if issubclass(model, LayerModel) else None
        if current is not None:
            # Alone, a former name is replaced by the current one before the model sees it.
            return (
                f"{path}: {place.path[-1]} is the former name of {current}, and both are given; "
                f"leave {place.path[-1]} out."
            )
    close = nearest(place.path[-1], names)
    if close:
        return f"{path} is not a field; did you mean {close}?"
    return f"{path} is not a field; give {one_of(names)}."


def _wrong_kind(given: object, kinds: list[str], path: str) -> DesignProblem:
    field = f"{path}.kind"
    if not isinstance(given, Mapping):
        return DesignProblem(
            f"{path}: {shown(given)} is not a table; give one with a kind: {one_of(kinds)}.",
            field=path,
        )
    if "kind" not in given:
        return DesignProblem(f"{field} is missing; give {one_of(kinds)}.", field=field)
    kind = given["kind"]
    close = nearest(kind, kinds) if isinstance(kind, str) else None
    sentence = f"{field}: {shown(kind)} is not a kind known here; give {one_of(kinds)}."
    if close:
        sentence = f"{field}: {shown(kind)} is not a kind known here; did you mean {close}?"
    return DesignProblem(sentence, field=field)


def _right_value(place: _Place) -> str:
    """Say what belongs in the field at this place."""
    if place.field is not None:
        marker = marker_of(place.field)
        if marker is not None:
            return marker.what
        options = _options(place.field.annotation)
        if options:
            return one_of(options)
        example = example_of(place.field)
        if example is not None:
            return example.advice or f"a list such as {example.text}"
    needed = [
        field.alias or name
        for model in place.models
        for name, field in model.model_fields.items()
        if field.is_required()
    ]
    return "a table with " + one_of(needed or _field_names(place.models), "and")
