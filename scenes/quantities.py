"""Numbers and words as they stand in a file, and as they are held in a model.

A file gives lengths in its own units and angles in degrees; a model holds millimetres and
radians. The conversion is made by the marker of the field, where it can be neither forgotten nor
done twice. The file's units reach it as pydantic's context.
"""

import math
import re
from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from pydantic import GetCoreSchemaHandler
from pydantic.fields import FieldInfo
from pydantic_core import CoreSchema, core_schema

from scenes.problems import not_a_number, one_of, refusal, shown

__all__ = [
    "IN",
    "Angle",
    "Colour",
    "Count",
    "Example",
    "FileName",
    "Length",
    "Marker",
    "Measure",
    "Quantity",
    "Ratio",
    "ShelfName",
    "Units",
    "Words",
    "about",
    "caliper_number",
    "counted",
    "example_of",
    "length",
    "marker_of",
    "plain_number",
    "units_of",
]

MM = 1.0
IN = 25.4 * MM
"""The international inch, exact since 1959."""

_SLACK = 1e-9
"""Relative slack of a bound: a bound given in inches must not fall to the rounding of 25.4."""

_CONTROL = r"\u0000-\u001f\u007f-\u009f"
_CONTROL_IN_LINES = r"\u0000-\u0008\u000b-\u001f\u007f-\u009f"
"""Control characters in a character class of a regular expression; those of lines without tab and
line end."""


class Units(StrEnum):
    """What every length in a file is given in."""

    MM = "mm"
    IN = "in"

    @property
    def in_mm(self) -> float:
        """Size of the unit, mm."""
        return IN if self is Units.IN else MM


def units_of(context: object) -> Units:
    """Read the units from pydantic's context; millimetres where there is none.

    Parameters
    ----------
    context : object
        Context of a validation.
    """
    units = context.get("units") if isinstance(context, Mapping) else None
    return units if isinstance(units, Units) else Units.MM


_TYPED_DECIMALS = 4
"""Decimals of an inch that a builder may have typed, and that are shown as typed."""


def plain_number(value: float) -> str:
    """Write a number for people: up to six figures, no trailing zeros, no minus zero.

    Parameters
    ----------
    value : float
        In any unit.
    """
    return f"{value + 0.0:.6g}"


def caliper_number(value: float, units: Units) -> str:
    """Write a length as a field shows it: inches to what a caliper reads, 0.001 in.

    A length below 0.1 in has three figures. Sixty-fourths, and what was typed with four decimals at
    most, stay as they are.

    Parameters
    ----------
    value : float
        In `units`.
    units : Units
    """
    exact = plain_number(value)
    if units is not Units.IN or len(exact.partition(".")[2]) <= _TYPED_DECIMALS:
        return exact
    if abs(64 * value - round(64 * value)) < 1e-6:
        return exact
    decimals = max(3, 2 - math.floor(math.log10(abs(value)))) if value else 3
    return plain_number(round(value, decimals))


def length(held: float, units: Units) -> str:
    """Write a length for people, in the file's units.

    Parameters
    ----------
    held : float
        Length, mm.
    units : Units
        Units of the file.
    """
    return f"{plain_number(float(f'{held / units.in_mm:.14g}'))} {units.value}"


def counted(count: float, noun: str, plural: str = "") -> str:
    """Write a number of things: "1 thread", "2 threads", "1.5 cells".

    Parameters
    ----------
    count : float
        Written to six figures.
    noun : str
        What there is one of.
    plural : str, optional
        What there are several of; by default with an s.
    """
    return f"{count:g} {noun if count == 1 else plural or f'{noun}s'}"


def about(held: float, units: Units, *, upwards: bool = False) -> str:
    """Write a computed length for people, rounded down to what a ruler shows.

    Parameters
    ----------
    held : float
        Length, mm.
    units : Units
        Units of the file.
    upwards : bool
        Whether to round up: for the least that is accepted.
    """
    step = 0.01 if units is Units.MM else 0.001
    steps = held / units.in_mm / step
    in_file = (math.ceil(steps - 1e-6) if upwards else math.floor(steps + 1e-6)) * step
    return f"{plain_number(in_file)} {units.value}"


def _inside(bound: float, towards: Callable[[float], int], figures: int) -> float:
    """Round a converted bound to a few figures, to the side on which numbers are accepted."""
    if bound == 0:
        return 0.0
    step = 10.0 ** (math.floor(math.log10(abs(bound))) - figures + 1)
    # A bound that is round already stays.
    whole = round(bound / step)
    return step * (whole if math.isclose(whole, bound / step) else towards(bound / step))


class Marker(ABC):
    """Annotates a field: how its value is read from a file and written back.

    Each kind has a `what`: in plain words, what would be right in the field.
    """

    what: str

    @abstractmethod
    def read(self, given: object, units: Units) -> Any:
        """Check a value from the file and change it to the model's units.

        Parameters
        ----------
        given : object
            Value as the file has it.
        units : Units
            Units of the file.

        Raises
        ------
        PydanticCustomError
            If the value is not right.
        """

    @abstractmethod
    def json_schema(self, units: Units) -> dict[str, Any]:
        """Describe what `read` accepts, as far as a JSON Schema can.

        Parameters
        ----------
        units : Units
            Units of the file.

        Returns
        -------
        dict
            Keywords of a schema [JSONSchema2020] for the value as a file has it. Whatever `read`
            accepts is valid; what a schema cannot say, such as whether a letter is printable, is
            left to `read`.
        """

    def write(self, held: Any, units: Units) -> Any:
        """Change a model's value back to the file's units.

        Parameters
        ----------
        held : object
            Value as the model has it.
        units : Units
            Units of the file.
        """
        return held

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """Let pydantic read and write the field by this marker alone."""
        return core_schema.with_info_plain_validator_function(
            lambda given, info: self.read(given, units_of(info.context)),
            serialization=core_schema.plain_serializer_function_ser_schema(
                lambda held, info: self.write(held, units_of(info.context)), info_arg=True
            ),
        )


@dataclass(frozen=True, slots=True)
class Quantity(Marker):
    """A finite number between two bounds.

    Parameters
    ----------
    low, high : float
        Bounds, both allowed: mm, degrees or plain.
    what : str
        What would be right, in plain words.
    """

    low: float
    high: float
    what: str

    def unit(self, units: Units) -> str:
        """Name the unit that the file gives it in, with its leading space.

        Parameters
        ----------
        units : Units
            Units of the file.
        """
        return ""

    def bound_scale(self, units: Units) -> float:
        """Size of the file's unit, in the unit of the bounds.

        Parameters
        ----------
        units : Units
            Units of the file.
        """
        return 1.0

    def held_scale(self, units: Units) -> float:
        """Size of the file's unit, in the unit of the model.

        Parameters
        ----------
        units : Units
            Units of the file.
        """
        return self.bound_scale(units)

    def bounds(self, units: Units, word: str = "and") -> str:
        """Write the bounds for people, converted ones to a few figures that are accepted.

        Parameters
        ----------
        units : Units
            Units of the file.
        word : str
            Word between the bounds; the unit follows the higher one.
        """
        scale = self.bound_scale(units)
        low, high = self.low / scale, self.high / scale
        if scale != 1.0:
            low, high = _inside(low, math.ceil, 2), _inside(high, math.floor, 3)
        written = (plain_number(low), f"{high:.0f}" if high >= 1e6 else plain_number(high))
        return f" {word} ".join(written) + self.unit(units)

    def read(self, given: object, units: Units) -> float:
        """Check a number from the file and change it to the model's units."""
        if isinstance(given, bool) or not isinstance(given, int | float):
            raise refusal(f"{not_a_number(given)}; give {self.what}{self._in(units)}")
        scale = self.bound_scale(units)
        try:
            number = float(given)
        except OverflowError:
            number = math.inf
        if math.isnan(number):
            raise refusal(f"{shown(given)} is not a number; give {self.what}{self._in(units)}")
        low, high = self.low / scale, self.high / scale
        slack = _SLACK * max(abs(low), abs(high))
        if not low - slack <= number <= high + slack:
            unit = self.unit(units)
            given_as = plain_number(number) + unit if abs(number) < 1e15 else shown(given)
            raise refusal(f"{given_as} is not between {self.bounds(units)}; give {self.what}")
        return number * self.held_scale(units) + 0.0

    def json_schema(self, units: Units) -> dict[str, Any]:
        """Describe the number by its bounds; converted ones are rounded outwards."""
        scale = self.bound_scale(units)
        low, high = self.low / scale, self.high / scale
        if scale != 1.0:
            low, high = _inside(low, math.floor, 6), _inside(high, math.ceil, 6)
        low, high = (float(f"{bound:.12g}") for bound in (low, high))
        return {
            "type": "number",
            "minimum": int(low) if low.is_integer() else low,
            "maximum": int(high) if high.is_integer() else high,
        }

    def write(self, held: float, units: Units) -> float:
        """Change to the file's units; to 14 figures, so that 25.4 mm is 1 in again."""
        scale = self.held_scale(units)
        return held if scale == 1.0 else float(f"{held / scale:.14g}")

    def words(self, held: float, units: Units) -> str:
        """Write a model's value for people, with its unit.

        Parameters
        ----------
        held : float
            Value as the model has it.
        units : Units
            Units of the file.
        """
        return plain_number(self.write(held, units)) + self.unit(units)

    def _in(self, units: Units) -> str:
        unit = self.unit(units).strip()
        return f" in {unit}" if unit else ""


@dataclass(frozen=True, slots=True)
class Length(Quantity):
    """A length: the file's units outside, mm inside; bounds in mm."""

    def read(self, given: object, units: Units) -> float:
        """Check a length; a length of whole mm that was written in inches comes back exactly."""
        held = Quantity.read(self, given, units)
        return held if units is Units.MM else float(f"{held:.13g}")

    def unit(self, units: Units) -> str:
        """Name the unit."""
        return f" {units.value}"

    def bound_scale(self, units: Units) -> float:
        """Size of the file's unit, mm."""
        return units.in_mm


@dataclass(frozen=True, slots=True)
class Angle(Quantity):
    """An angle: degrees outside, radians inside; bounds in degrees."""

    def unit(self, units: Units) -> str:
        """Name the unit."""
        return " degrees"

    def held_scale(self, units: Units) -> float:
        """One degree in radians."""
        return math.pi / 180


@dataclass(frozen=True, slots=True)
class Ratio(Quantity):
    """A number without a unit."""


@dataclass(frozen=True, slots=True)
class Measure(Quantity):
    """A number whose unit is the same in every file: g, ml, min.

    Parameters
    ----------
    symbol : str
        The unit.
    """

    symbol: str = ""

    def unit(self, units: Units) -> str:
        """Name the unit."""
        return f" {self.symbol}"


@dataclass(frozen=True, slots=True)
class Count(Marker):
    """A whole number between two bounds, both allowed."""

    low: int
    high: int
    what: str

    def read(self, given: object, units: Units) -> int:
        """Check a whole number."""
        if isinstance(given, bool) or not isinstance(given, int):
            raise refusal(f"{shown(given)} is not a whole number; give {self.what}")
        if not self.low <= given <= self.high:
            raise refusal(
                f"{shown(given)} is not between {self.low} and {self.high}; give {self.what}"
            )
        return int(given)

    def json_schema(self, units: Units) -> dict[str, Any]:
        """Describe the whole number by its bounds."""
        return {"type": "integer", "minimum": self.low, "maximum": self.high}


@dataclass(frozen=True, slots=True)
class Words(Marker):
    """A text, on one line unless `lines`.

    Parameters
    ----------
    longest : int
        Most characters it may have.
    what : str
    shortest : int
    lines : bool
        Whether it may run over several lines.
    """

    longest: int
    what: str
    shortest: int = 1
    lines: bool = False

    def read(self, given: object, units: Units) -> str:
        """Check a text: its length, and that every character can be printed."""
        if not isinstance(given, str):
            raise refusal(f"{shown(given)} is not a text; give {self.what} in quotes")
        if len(given) > self.longest:
            raise refusal(
                f"{shown(given)} has {len(given)} characters; give {self.what} in "
                f"{self.longest} at most"
            )
        if len(given.strip()) < self.shortest:
            raise refusal(f"{shown(given)} is empty; give {self.what}")
        allowed = "\n\t" if self.lines else ""
        if not all(letter.isprintable() or letter in allowed for letter in given):
            raise refusal(
                f"{shown(given)} holds a character that cannot be printed; give {self.what} in "
                "plain letters"
            )
        return str(given)

    def json_schema(self, units: Units) -> dict[str, Any]:
        """Describe the text by its length, and without control characters."""
        control = _CONTROL_IN_LINES if self.lines else _CONTROL
        letters = rf"[^{control}]*"
        if self.shortest:
            letters += rf"[^{control}\s]{letters}"
        return {
            "type": "string",
            "minLength": self.shortest,
            "maxLength": self.longest,
            "pattern": f"^{letters}$",
        }


@dataclass(frozen=True, slots=True)
class ShelfName(Words):
    """The name of a thread, to be looked up on the shelf."""


@dataclass(frozen=True, slots=True)
class FileName(Words):
    """The name of a file beside the design: a plain name, so that no other folder is reached.

    Parameters
    ----------
    endings : tuple of str
        What the name may end in, such as ``.png``.
    chart : bool
        Whether it is a chart, one pixel a crossing of threads.
    """

    endings: tuple[str, ...] = ()
    chart: bool = False

    def read(self, given: object, units: Units) -> str:
        """Check that it is a plain name of a file of this kind."""
        name = Words.read(self, given, units)
        plain = not any(sign in name for sign in "/\\:") and not name.startswith(".")
        if not plain or not name.lower().endswith(self.endings):
            raise refusal(
                f"{shown(name)} is not a file beside the design; give {self.what}, a plain name "
                f"that ends in {one_of(self.endings)}"
            )
        return name

    def json_schema(self, units: Units) -> dict[str, Any]:
        """Describe the name by its ending, in capitals or not, and without a path."""
        endings = "|".join(
            "".join(f"[{letter}{letter.upper()}]" for letter in ending.removeprefix("."))
            for ending in self.endings
        )
        sign = rf"[^/\\:{_CONTROL}]"
        pattern = rf"^[^./\\:{_CONTROL}]{sign}*\.({endings})$"
        return {"type": "string", "maxLength": self.longest, "pattern": pattern}


@dataclass(frozen=True, slots=True)
class Colour(Marker):
    """An sRGB colour as six hex digits, or one of a few names."""

    what: str
    names: tuple[str, ...] = ()

    def read(self, given: object, units: Units) -> str:
        """Check a colour."""
        if given in self.names:
            return str(given)
        if not isinstance(given, str) or not re.fullmatch("#[0-9a-fA-F]{6}", given):
            named = "".join(f'"{name}", ' for name in self.names)
            raise refusal(
                f"{shown(given)} is not a colour; give {self.what} as {named}"
                f'{"or " if named else ""}# and six hex digits, such as "#15181c"'
            )
        return str(given)

    def json_schema(self, units: Units) -> dict[str, Any]:
        """Describe the colour by its names, if it has any, and by its pattern."""
        digits = {"type": "string", "pattern": "^#[0-9a-fA-F]{6}$"}
        return {"anyOf": [{"enum": list(self.names)}, digits]} if self.names else digits


@dataclass(frozen=True, slots=True)
class Example:
    """Annotates a field with an example of its value.

    Parameters
    ----------
    text : str
        A value in TOML, as in a file in millimetres.
    advice : str
        What would be right in the field, for the refusal of a file that lacks it; for a list made
        from `text` if not given.
    """

    text: str
    advice: str = ""


def marker_of(field: FieldInfo) -> Marker | None:
    """Find the marker that a model's field was annotated with.

    Parameters
    ----------
    field : FieldInfo
        Field of a pydantic model.
    """
    return next((mark for mark in _metadata(field) if isinstance(mark, Marker)), None)


def example_of(field: FieldInfo) -> Example | None:
    """Find the example that a model's field was annotated with.

    Parameters
    ----------
    field : FieldInfo
        Field of a pydantic model.
    """
    return next((mark for mark in _metadata(field) if isinstance(mark, Example)), None)


def _metadata(field: FieldInfo) -> list[Any]:
    """List what a field, or an option of a field that may be left out, is annotated with."""
    options = getattr(field.annotation, "__args__", ())
    inner = [getattr(option, "__metadata__", ()) for option in options]
    return [*field.metadata, *(mark for marks in inner for mark in marks)]
