"""The clear finish as a design describes it."""

from typing import Annotated

from scenes.parts.part import Part
from scenes.quantities import Count, Example, Length, Measure

__all__ = ["FinishSpec"]

_SHEET = ", from the product's own sheet"


class FinishSpec(Part):
    """The clear finish over the wrap."""

    coats: Annotated[int, Count(0, 12, "the number of coats, 0 for a dry wrap")] = 2
    coat_thickness: Annotated[float, Length(0.01, 3, "the wet thickness of one coat")] = 0.12
    colour_preserver: bool = False
    """Whether plain nylon was sealed first, so that it stays dry to the eye and opaque."""
    work_time: (
        Annotated[float, Measure(0.1, 10_000, "its work time" + _SHEET, "min"), Example("20")]
        | None
    ) = None
    recoat_time: (
        Annotated[float, Measure(0.1, 1000, "the time between coats" + _SHEET, "h"), Example("12")]
        | None
    ) = None
    cure_time: (
        Annotated[float, Measure(0.1, 10_000, "its full cure" + _SHEET, "h"), Example("72")] | None
    ) = None
