"""Guides as a list: place, length of the foot and ring, as typed or pasted from a spreadsheet."""

import math
import re
from typing import Any

from scenes.design.document import Design, document_of
from scenes.editing.blank_defaults import new_fitting
from scenes.problems import DesignProblem, shown
from scenes.quantities import Units
from scenes.starting.readings import cells, number_in, units_named

__all__ = ["FIELD", "read_guides", "with_guides"]

FIELD = "guides"
"""Name of the list in a refusal."""

_LONGEST = 20_000
"""Characters of the text."""

_COLUMNS = ("at", "length", "ring")
"""Fields of a guide by their columns; the last may be left out."""

Row = tuple[float, ...]


def read_guides(text: str, units: Units) -> list[Row]:
    """Read the place of each guide from the butt, the length of its foot and its ring's diameter.

    Numbers and units are as in a list of readings (`scenes.starting.readings`); the ring may be
    left out.

    Parameters
    ----------
    text : str
        One guide a line.
    units : Units
        Units of the result, and of numbers where the text gives none.

    Returns
    -------
    list of tuple of float
        Two or three numbers for each guide, from butt to tip.

    Raises
    ------
    DesignProblem
        If a line has not two or three numbers, or there is no guide.
    """
    if len(text) > _LONGEST:
        raise DesignProblem.at(
            FIELD, f"{len(text)} characters are more than {_LONGEST}; give a line for each guide."
        )
    found: list[Row] = []
    given = units
    for number, line in enumerate(text.splitlines(), 1):
        if not re.search(r"\d", line):
            given = units_named(line) or given
            continue
        texts = list(cells(line))
        if len(texts) not in (2, 3):
            raise DesignProblem.at(
                FIELD,
                f"{shown(line.strip())} in line {number} does not hold two or three numbers; give "
                "the distance from the butt, the length of the foot and, if you like, the "
                "diameter of the ring.",
            )
        found.append(tuple(number_in(one, given, units, number, FIELD) for one in texts))
    if not found:
        raise DesignProblem.at(
            FIELD, "the list holds no guide; give a place and the length of a foot in each line."
        )
    return sorted(found)


def with_guides(design: Design, rows: list[Row]) -> dict[str, Any]:
    """List the change that puts guides at the places of a list; grips stay.

    Guides that there are keep how they are bound and all else, counted from the butt; further ones
    are like the last.

    Parameters
    ----------
    design : Design
    rows : list of tuple of float
        From `read_guides`, in the design's units.

    Returns
    -------
    dict
        The new list of what is fitted, by its path.
    """
    fitted = document_of(design)["blank"].get("fitted", [])
    guides = sorted((one for one in fitted if one["kind"] == "guide"), key=_place_of)
    model = guides[-1] if guides else new_fitting(design, "guide")
    made = [
        {
            **(guides[place] if place < len(guides) else model),
            **dict(zip(_COLUMNS, row, strict=False)),
        }
        for place, row in enumerate(rows)
    ]
    return {"blank.fitted": [*(one for one in fitted if one["kind"] != "guide"), *made]}


def _place_of(guide: dict[str, Any]) -> float:
    return float(guide.get("at", math.inf))
