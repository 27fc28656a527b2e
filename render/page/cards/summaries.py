"""The summary in the head of a card: a few values of its part."""

from itertools import islice

from scenes.design.layers import kind_of
from scenes.parts.layer import LayerModel
from scenes.parts.part import Part
from scenes.parts.summary import field_values, given_fields
from scenes.quantities import Units

__all__ = ["summary_of"]

_MOST_VALUES = 3
"""Values that the head of a card shows."""


def summary_of(part: Part, units: Units) -> str:
    """Summarise a part in a few values: a layer's as its kind chooses, else those that are given.

    Parameters
    ----------
    part : Part
    units : Units
        Units in which lengths are written.
    """
    if isinstance(part, LayerModel):
        values = kind_of(part).summary(part, units)
    else:
        values = field_values(part, given_fields(part), units)
    return ", ".join(islice(values, _MOST_VALUES))
