"""Fields of guides that no design file has as such: a choice among its schemes, and a list of all.

The list is a text with a guide in each line, which a builder edits as a whole or pastes from a
spreadsheet; it is read as the command line reads one.
"""

import re
from collections.abc import Iterable
from operator import attrgetter
from typing import Any

from render.editor.desk import Desk
from scenes.design.document import Design
from scenes.problems import DesignProblem
from scenes.quantities import Length, Units, caliper_number
from scenes.starting.guide_list import FIELD, read_guides, with_guides

__all__ = ["LIST_PATH", "add_guides", "put_guides"]

Json = dict[str, Any]

LIST_PATH = "blank.guide_list"
"""Path of the list on the page; no design file has it."""

_LENGTH = Length(0, 0, "")
_FITTED = "blank.fitted"
_PART_OF_FITTED = re.compile(rf"{re.escape(_FITTED)}\.(\d+)\b")


def add_guides(fields: Iterable[Json], design: Design) -> None:
    """Make the scheme of each guide a choice, and add the list of all guides to what is fitted.

    Where there is no scheme, there is nothing to choose, and the field is left out.

    Parameters
    ----------
    fields : iterable of dict
        All fields of the cards (`form.all_fields`), which are changed.
    design : Design
        In the units that the cards show.
    """
    names = [scheme.name for scheme in design.blank.guide_schemes]
    choices = [{"value": name, "label": name or "none"} for name in ("", *names)]
    fitted = next((field for field in fields if field["path"] == _FITTED), None)
    if fitted is None:
        return
    fitted["guide_list"] = {"path": LIST_PATH, "text": _text(design)}
    for row in fitted["rows"]:
        scheme = f"{row['path']}.scheme"
        if not names:
            row["fields"] = [field for field in row["fields"] if field["path"] != scheme]
        for field in row["fields"]:
            if field["path"] == scheme:
                field |= {"type": "choice", "choices": choices}


def put_guides(desk: Desk, text: object, units: Units) -> None:
    """Put the guides at the places of a list.

    Parameters
    ----------
    desk : Desk
    text : object
        A text as `read_guides` takes it.
    units : Units
        Units of its numbers, where it gives none.

    Raises
    ------
    DesignProblem
        If it is no such text, or a guide does not fit; that guide is then named.
    """
    design = desk.design
    if not isinstance(text, str):
        raise DesignProblem.at(FIELD, "this is no text; give a line for each guide.")
    # A line that was left as it stands moves its guide by no rounding.
    shown = design.model_copy(update={"units": units})
    exact = dict(zip(_read(_text(shown), units), _rows(design), strict=True))
    scale = units.in_mm / design.units.in_mm
    rows = [
        exact.get(row) or tuple(float(f"{number * scale:.12g}") for number in row)
        for row in read_guides(text, units)
    ]
    try:
        desk.changes(with_guides(design, rows))
    except DesignProblem as problem:
        found = _PART_OF_FITTED.match(problem.field)
        if found is None:
            raise
        # Grips come first in the list that was tried.
        number = int(found[1]) - len(design.blank.fitted) + len(design.blank.guides) + 1
        if number < 1:
            raise
        reason = str(problem).removeprefix(f"{problem.field}: ")
        raise DesignProblem.at(FIELD, f"guide {number} from the butt: {reason}") from None


def _rows(design: Design) -> list[tuple[float, ...]]:
    """Place, foot and, where it is given, ring of each guide, in the design's units."""
    return [
        tuple(
            _LENGTH.write(number, design.units)
            for number in (guide.at, guide.length, guide.ring)
            if number is not None
        )
        for guide in sorted((guide for _, guide in design.blank.guides), key=attrgetter("at"))
    ]


def _text(design: Design) -> str:
    """The list of guides as a text with a heading, in cells that a spreadsheet takes."""
    heading = f"place\tfoot\tring, {design.units.value}"
    rows = (
        "\t".join(caliper_number(number, design.units) for number in row) for row in _rows(design)
    )
    return "\n".join((heading, *rows))


def _read(text: str, units: Units) -> list[tuple[float, ...]]:
    """Read a text that may hold no guide."""
    return read_guides(text, units) if "\n" in text else []
