"""What the annotations of a model's fields say: which parts and words they hold, what they mean."""

import ast
import inspect
import textwrap
import types
from collections.abc import Iterable, Iterator
from enum import StrEnum
from functools import cache
from itertools import pairwise
from typing import Literal, Union, get_args, get_origin

from annotated_types import MaxLen, MinLen
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from scenes.parts.part import Part
from scenes.quantities import marker_of

__all__ = ["enum_in", "is_list", "kinds_of", "list_limits", "meaning_of", "models_in"]


def models_in(annotation: object) -> Iterator[type[Part]]:
    """Yield the classes of parts in an annotation.

    Parameters
    ----------
    annotation : type or annotation of a field
    """
    if isinstance(annotation, type) and not isinstance(annotation, types.GenericAlias):
        if issubclass(annotation, Part):
            yield annotation
    elif get_origin(annotation) is not Literal:
        for argument in get_args(annotation):
            yield from models_in(argument)


def enum_in(annotation: object) -> type[StrEnum] | None:
    """Find the words that an annotation allows.

    Parameters
    ----------
    annotation : type or annotation of a field
    """
    if isinstance(annotation, type) and not isinstance(annotation, types.GenericAlias):
        return annotation if issubclass(annotation, StrEnum) else None
    found = (enum_in(argument) for argument in get_args(annotation))
    return next((enum for enum in found if enum is not None), None)


def is_list(annotation: object) -> bool:
    """Whether an annotation allows a list.

    Parameters
    ----------
    annotation : type or annotation of a field
    """
    if get_origin(annotation) in (tuple, list):
        return True
    if get_origin(annotation) in (Union, types.UnionType) or hasattr(annotation, "__metadata__"):
        return any(is_list(argument) for argument in get_args(annotation))
    return False


def list_limits(field: FieldInfo) -> tuple[int, int | None]:
    """Find how many entries a list may have.

    Parameters
    ----------
    field : FieldInfo
        Field of a list.

    Returns
    -------
    least, most : int
        `most` is None if there is no limit.
    """
    marks = list(field.metadata)
    for option in getattr(field.annotation, "__args__", ()):
        for mark in getattr(option, "__metadata__", ()):
            marks += mark.metadata if isinstance(mark, FieldInfo) else [mark]
    least = next((mark.min_length for mark in marks if isinstance(mark, MinLen)), 0)
    most = next((mark.max_length for mark in marks if isinstance(mark, MaxLen)), None)
    return least, most


def kinds_of(models: Iterable[type[BaseModel]]) -> list[str]:
    """List the values of `kind` that select each of the models in a list, in order.

    Parameters
    ----------
    models : iterable of model classes
    """
    kinds: list[str] = []
    for model in models:
        field = model.model_fields.get("kind")
        if field is not None and get_origin(field.annotation) is Literal:
            kinds.extend(get_args(field.annotation))
    return kinds


def meaning_of(model: type[Part], name: str) -> str:
    """Say what a field means: the one text for its card, the field reference and the schema.

    It is what the field's marker says would be right, and the text under the field; or else what
    its words or its table are for.

    Parameters
    ----------
    model : type of Part
    name : str
        Name of the field in the model.

    Returns
    -------
    str
        One or more sentences, without the last full stop; empty if the model says nothing.
    """
    field = model.model_fields[name]
    marker = marker_of(field)
    written = [marker.what] if marker is not None else []
    under = _texts_of(_owner(model, name)).get(name, "")
    if under:
        written.append(" ".join(under.split()))
    if not written:
        explained: list[type] = list(models_in(field.annotation))
        enum = enum_in(field.annotation)
        if name == "kind" and kinds_of([model]):
            explained = [model]
        elif enum is not None:
            explained = [enum]
        written = [_first_line(thing) for thing in explained[:1]]
    return ". ".join(written).removesuffix(".")


def _owner(model: type[Part], name: str) -> type:
    """The class that declares a field of a model last."""
    return next(base for base in model.__mro__ if name in inspect.get_annotations(base))


@cache
def _texts_of(model: type) -> dict[str, str]:
    """The text under each field in the source of a class, without those of its bases.

    pydantic reads the same texts where a class is made, for every class of every process; here the
    source is read when a card or the field reference asks.
    """
    (body,) = ast.parse(textwrap.dedent(inspect.getsource(model))).body
    assert isinstance(body, ast.ClassDef)
    found = {}
    for field, text in pairwise(body.body):
        match field, text:
            case ast.AnnAssign(target=ast.Name(id=name)), ast.Expr(ast.Constant(str(words))):
                found[name] = words
    return found


def _first_line(thing: type) -> str:
    return (thing.__doc__ or "").strip().partition("\n")[0]
