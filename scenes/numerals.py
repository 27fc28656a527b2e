"""Numbers as builders type them: 25.4, 25,4, 1 in, 1-1/4", 45°."""

import re

from scenes.problems import DesignProblem, shown
from scenes.quantities import IN, Units

__all__ = ["read_number"]

_NUMBER = re.compile(
    r"""\s*(?P<sign>[-−+])?\s*
    (?:(?P<whole>\d+)[\s-]+(?=\d+\s*/))?
    (?P<top>\d+(?:[.,]\d+)?|[.,]\d+)
    (?:\s*/\s*(?P<bottom>\d+))?
    \s*(?P<unit>mm|in|inch|inches|"|″|°|degrees)?\s*""",
    re.VERBOSE | re.IGNORECASE,
)

_INCHES = ("in", "inch", "inches", '"', "″")


def read_number(text: str, units: Units | None = None, *, whole: bool = False) -> float | int:
    """Read a number that a person typed.

    Parameters
    ----------
    text : str
        A comma may replace the decimal point; a fraction may follow a whole number.
    units : Units, optional
        Units of the field, to convert a number with a unit of its own; None if it is no length.
    whole : bool
        The field counts something: a refusal says so.

    Returns
    -------
    float or int
        In the units of the field; whole numbers as int.

    Raises
    ------
    DesignProblem
        If it is not a number, or has a unit that does not suit the field.
    """
    match = _NUMBER.fullmatch(text) if len(text) <= 40 else None
    if match is None or (match["bottom"] and int(match["bottom"]) == 0):
        kind = "whole number" if whole else "number"
        example = "5" if whole else "1 1/4" if units is Units.IN else "25.4"
        raise DesignProblem(f"{shown(text)} is not a {kind}; give one such as {example}.")
    number = float(match["top"].replace(",", "."))
    if match["bottom"]:
        number /= int(match["bottom"])
    number += int(match["whole"] or 0)
    if match["sign"] in ("-", "−"):
        number = -number
    unit = (match["unit"] or "").casefold()
    if unit in ("°", "degrees"):
        unit = ""
        if units is not None:
            raise DesignProblem(f"{shown(text)} is an angle; give a length in {units.value}.")
    if unit and units is None:
        raise DesignProblem(f"{shown(text)} is a length; give a number without {unit}.")
    if unit and units is not None:
        given = Units.IN if unit in _INCHES else Units.MM
        if given is not units:
            number = float(f"{number * (IN if given is Units.IN else 1 / IN):.10g}")
    plain = number.is_integer() and not any(sign in text for sign in ".,/") and not unit
    return int(number) if plain else number
