"""Arguments of methods: types with limits, and the check of a call against them.

A method declares its arguments by the annotations of this module. An annotation without limits is
a fault of the program, and is found when the page starts.
"""

import inspect
import math
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, get_type_hints

from pydantic import AfterValidator, Field, StringConstraints, TypeAdapter, ValidationError
from pydantic.types import Strict

from scenes.problems import shown

__all__ = [
    "Choice",
    "FieldPath",
    "Finite",
    "Flag",
    "Line",
    "Lines",
    "Place",
    "Refused",
    "Signature",
    "Typed",
    "Value",
    "Values",
]

_LONGEST_TEXT = 20_000
_LONGEST_LINE = 300
_LARGEST = 1e9
_MOST_VALUES = 2_000
_WHOLE = 2**53
"""Whole numbers up to this are exact in a browser (ECMA-262, Number.MAX_SAFE_INTEGER)."""


class Refused(Exception):
    """A call that is refused; the message is one sentence for the client."""


@dataclass(frozen=True, slots=True)
class Meaning:
    """Description of a valid argument, for refusals.

    Parameters
    ----------
    words : str
        A phrase that completes "give".
    """

    words: str


def _without_controls(text: str) -> str:
    # Cc are control characters, Cs single surrogates, which no file name can be made of.
    if any(unicodedata.category(letter) in ("Cc", "Cs") for letter in text):
        raise ValueError
    return text


def _bounded(value: object) -> object:
    """Check the value of a field: plain data, finite and within size limits."""
    left = [value]
    count = 0
    while left:
        item = left.pop()
        count += 1
        if count > _MOST_VALUES:
            raise ValueError
        if isinstance(item, dict):
            if not all(isinstance(key, str) and len(key) <= _LONGEST_LINE for key in item):
                raise ValueError
            left.extend(item.values())
        elif isinstance(item, list):
            left.extend(item)
        elif isinstance(item, str):
            if len(item) > _LONGEST_TEXT:
                raise ValueError
        elif isinstance(item, float):
            if not math.isfinite(item):
                raise ValueError
        elif isinstance(item, int):
            if abs(item) > _WHOLE:
                raise ValueError
        elif item is not None:
            raise ValueError
    return value


Flag = Annotated[bool, Strict(), Meaning("true or false")]
Finite = Annotated[
    float,
    Field(strict=True, allow_inf_nan=False, ge=-_LARGEST, le=_LARGEST),
    Meaning(f"a finite number from -{_LARGEST:g} to {_LARGEST:g}"),
]
Place = Annotated[
    int, Field(strict=True, ge=0, le=_WHOLE), Meaning("a whole number that is not negative")
]
Line = Annotated[
    str,
    StringConstraints(strict=True, max_length=_LONGEST_LINE),
    AfterValidator(_without_controls),
    Meaning(f"one line of at most {_LONGEST_LINE} letters, without control characters"),
]
FieldPath = Line
"""Path of a field of the design, such as ``relief.gap``."""
Choice = Line
Lines = Annotated[list[Line], Field(max_length=200), Meaning("a list of at most 200 short lines")]
Value = Annotated[
    object,
    AfterValidator(_bounded),
    Meaning(
        "a finite number, a text of at most 20,000 letters, true, false, or lists and tables of "
        "these"
    ),
]
Values = Annotated[
    dict[Line, Value], Field(max_length=100), Meaning("a table of at most 100 fields")
]
Typed = Annotated[
    dict[Line, Line], Field(max_length=20), Meaning("a table of at most 20 short texts")
]


class Signature:
    """The arguments of a method.

    Parameters
    ----------
    name : str
        Of the method.
    function : callable
        Its parameters are annotated with types of this module. A parameter ``client`` is not an
        argument of the call but receives the client.

    Raises
    ------
    TypeError
        If an annotation is missing or has no limits.
    """

    def __init__(self, name: str, function: Callable[..., object]) -> None:
        self._name = name
        self._parameters: dict[str, tuple[TypeAdapter[Any], str, bool]] = {}
        hints: dict[str, Any] = get_type_hints(function, include_extras=True)
        parameters = inspect.signature(function).parameters.values()
        self.wants_client = False
        for parameter in parameters:
            if parameter.name == "client":
                self.wants_client = True
                continue
            hint: Any = hints.get(parameter.name)
            meant = [
                part for part in getattr(hint, "__metadata__", ()) if isinstance(part, Meaning)
            ]
            if parameter.kind is not inspect.Parameter.POSITIONAL_OR_KEYWORD or not meant:
                raise TypeError(f"{name}: the argument {parameter.name} has no limits.")
            needed = parameter.default is inspect.Parameter.empty
            self._parameters[parameter.name] = TypeAdapter(hint), meant[0].words, needed

    @property
    def words(self) -> Mapping[str, str]:
        """Description of valid arguments, by name."""
        return {name: words for name, (_, words, _) in self._parameters.items()}

    def read(self, given: Sequence[object]) -> dict[str, Any]:
        """Check the arguments of a call.

        Parameters
        ----------
        given : sequence
            Positional arguments; trailing ones with a default may be missing.

        Returns
        -------
        dict
            Value by parameter.

        Raises
        ------
        Refused
        """
        if len(given) > len(self._parameters):
            raise Refused(f"{self._name}: {len(given)} arguments are too many.")
        read: dict[str, Any] = {}
        for place, (name, (check, words, needed)) in enumerate(self._parameters.items()):
            if place >= len(given):
                if needed:
                    raise Refused(f"{self._name}: {name} is missing; give {words}.")
                continue
            try:
                read[name] = check.validate_python(given[place])
            except ValidationError:
                raise Refused(
                    f"{self._name}: {name} must not be {_described(given[place])}; give {words}."
                ) from None
        return read


def _described(value: object) -> str:
    return "binary data" if isinstance(value, (bytes, bytearray)) else shown(value)
