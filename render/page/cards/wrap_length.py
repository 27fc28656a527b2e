"""The length of the wrap as a field of its own: a design file has its two ends."""

from collections.abc import Sequence
from typing import Any

from render.page.cards.form import finest_step
from scenes.design.document import Design
from scenes.quantities import Length, Units, caliper_number, marker_of

__all__ = ["LENGTH_PATH", "add_length", "end_for"]

Json = dict[str, Any]

LENGTH_PATH = "placement.length"
"""Path of the field on the page; no design file has it."""

_END_PATH = "placement.to"


def add_length(cards: Sequence[Json], design: Design) -> None:
    """Add the field below the end of the wrap.

    Parameters
    ----------
    cards : sequence of dict
        From `form.cards_of`; the card of the placement is changed.
    design : Design
        In the units that the cards show.
    """
    units, place = design.units, design.placement
    marker = marker_of(type(place).model_fields["end"])
    assert isinstance(marker, Length)
    value = marker.write(place.length, units)
    for card in cards:
        paths = [field["path"] for field in card["fields"]]
        if _END_PATH in paths:
            end = card["fields"][paths.index(_END_PATH)]
            length = end | {
                "path": LENGTH_PATH,
                "label": "Length",
                "help": "How long the wrap is along the blank; its end moves",
                "value": value,
                "text": caliper_number(value, units),
                "low": finest_step(marker, units),
                "sets": _END_PATH,
            }
            card["fields"].insert(paths.index(_END_PATH) + 1, length)


def end_for(design: Design, length: float, units: Units) -> dict[str, object]:
    """Make the change that gives the wrap a length from its start on.

    Parameters
    ----------
    design : Design
    length : float
        In `units`.
    units : Units
        Units of the length.

    Returns
    -------
    dict
        Value by path, in the design's own units.
    """
    end = design.placement.start + length * units.in_mm
    return {_END_PATH: float(f"{end / design.units.in_mm:.12g}")}
