"""Caliper readings as they are typed, or pasted from a spreadsheet."""

import re
from collections.abc import Iterator

from scenes.numerals import read_number
from scenes.parts.blank import THICKEST_BLANK
from scenes.problems import DesignProblem, shown
from scenes.quantities import Units

__all__ = ["FIELD", "cells", "line_of_station", "number_in", "read_readings", "units_named"]

FIELD = "readings"
"""Name of the field in a refusal."""

_LONGEST = 20_000
"""Characters of the text; two hundred readings take a tenth of it."""

_FEWEST, _MOST = 2, 200

_NUMBER = re.compile(
    r"""(?:\d+[\s-]+)?\d+\s*/\s*\d+\s*(?:mm\b|in\b|["″])?  # a fraction
    |[-−+]?(?:\d+(?:[.,]\d+)?|[.,]\d+)\s*(?:mm\b|in\b|["″])?""",
    re.VERBOSE | re.IGNORECASE,
)

_COMMAS_FOR_BOTH = re.compile(r"\d+(,\d+){2,}")
"""A decimal comma beside a comma that parts numbers: nobody knows which is which."""

_INCHES = re.compile(r"\binch(es)?\b|\(in\)|\bin$|[\"″]", re.IGNORECASE)
_MILLIMETRES = re.compile(r"\bmm\b|\bmillimet", re.IGNORECASE)


def read_readings(text: str, units: Units) -> list[tuple[float, float]]:
    """Read distances from the butt and diameters there, one pair a line.

    The two may stand in cells (tab), or between semicolons, spaces or commas; a comma may also be
    the decimal sign. Diameters may stand first where no blank is as thick as the other column.
    Lines without a number, such as a heading, are left out; a heading may give
    the unit, and so may each number.

    Parameters
    ----------
    text : str
    units : Units
        Units of the result, and of numbers where the text gives none.

    Returns
    -------
    list of (float, float)
        Distance from the butt and diameter, from butt to tip.

    Raises
    ------
    DesignProblem
        If a line has not two numbers, or there are fewer than two readings.
    """
    return [(at, diameter) for at, diameter, _ in _read(text, units)]


def line_of_station(text: str, units: Units, path: str) -> int | None:
    """Find the line of a reading from the path of the station that it became; None if it is none.

    Parameters
    ----------
    text : str
        Readings that can be read.
    units : Units
    path : str
        Such as ``blank.stations.2.diameter``.
    """
    found = re.match(r"blank\.stations\.(\d+)", path)
    read = _read(text, units)
    return read[int(found[1])][2] if found and int(found[1]) < len(read) else None


def _read(text: str, units: Units) -> list[tuple[float, float, int]]:
    """Read place, diameter and line of every reading, from butt to tip."""
    if len(text) > _LONGEST:
        raise DesignProblem.at(
            FIELD, f"{len(text)} characters are more than {_LONGEST}; give a few readings."
        )
    found: list[tuple[float, float, int]] = []
    given = units
    for number, line in enumerate(text.splitlines(), 1):
        if not re.search(r"\d", line):
            given = units_named(line) or given
            continue
        if _COMMAS_FOR_BOTH.fullmatch(line.strip()):
            raise DesignProblem.at(
                FIELD,
                f"{shown(line.strip())} in line {number} has commas between its numbers and within "
                "them; put a semicolon or a space between the two numbers.",
            )
        texts = list(cells(line))
        if len(texts) != 2:
            raise DesignProblem.at(
                FIELD,
                f"{shown(line.strip())} in line {number} holds "
                f"{'one number' if len(texts) == 1 else f'{len(texts)} numbers'}; give two, the "
                "distance from the butt and the diameter there.",
            )
        at, diameter = (number_in(one, given, units, number, FIELD) for one in texts)
        found.append((at, diameter, number))
    if not _FEWEST <= len(found) <= _MOST:
        count = "1 reading is" if len(found) == 1 else f"{len(found)} readings are"
        raise DesignProblem.at(
            FIELD,
            f"{count} not between {_FEWEST} and {_MOST}; measure the blank at both ends of the "
            "wrap at least.",
        )
    return sorted(_distance_first(found, units))


def _distance_first(
    found: list[tuple[float, float, int]], units: Units
) -> list[tuple[float, float, int]]:
    """Exchange the columns if the second can hold no diameters and the first can."""
    thickest = THICKEST_BLANK / units.in_mm
    if all(at <= thickest < diameter for at, diameter, _ in found):
        return [(diameter, at, line) for at, diameter, line in found]
    return found


def units_named(heading: str) -> Units | None:
    """Find the unit that a heading names; None if it names none.

    Parameters
    ----------
    heading : str
    """
    if _MILLIMETRES.search(heading):
        return Units.MM
    return Units.IN if _INCHES.search(heading.strip()) else None


def cells(line: str) -> Iterator[str]:
    """Yield the texts of the numbers in a line.

    Parameters
    ----------
    line : str
    """
    for sign in ("\t", ";"):
        if sign in line:
            yield from (cell for cell in line.split(sign) if cell.strip())
            return
    parts = [part for part in re.split(r",\s+|\s+,", line.strip().rstrip(",")) if part.strip()]
    if len(parts) == 1 and re.fullmatch(r"[^\s,]+,[^\s,]+", parts[0]):
        parts = parts[0].split(",")
    if len(parts) > 1:
        yield from parts
        return
    # Between two commas that are decimal signs stands a blank.
    yield from (found[0] for found in _NUMBER.finditer(line))


def number_in(cell: str, given: Units, units: Units, line: int, field: str) -> float:
    """Read one number of a list.

    Parameters
    ----------
    cell : str
    given : Units
        Of the number, if it says none itself.
    units : Units
        Of the result.
    line : int
        Where it stands, for a refusal.
    field : str
        Name of the list, for a refusal.

    Raises
    ------
    DesignProblem
        If it is no number.
    """
    try:
        value = read_number(cell.strip(), given)
    except DesignProblem as problem:
        sentence = str(problem).replace(" is not a number", f" in line {line} is not a number", 1)
        raise DesignProblem.at(field, sentence) from None
    if given is units:
        return float(value)
    return float(f"{value * given.in_mm / units.in_mm:.6g}")
