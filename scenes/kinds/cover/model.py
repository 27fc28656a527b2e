"""The cover, as a design describes it."""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, ValidationInfo, model_validator

from geometry.layers.settle import STEEPEST_SLOPE
from scenes.parts.blank import Placement
from scenes.parts.layer import WoundModel
from scenes.parts.part import Part, ThreadName
from scenes.problems import refusal
from scenes.quantities import Count, Example, Length, Ratio, length, units_of

__all__ = ["CoverModel", "Flaw", "SlopeRows", "WoundStrip"]

_ROW_WIDTHS = (0.03, 3.0)
"""Bounds of a thread's diameter on a shelf, mm."""


class Flaw(StrEnum):
    """A mistake shown on purpose in the middle of the cover, towards the viewer."""

    NONE = "none"
    GAP = "gap"
    CROSSED_ROW = "crossed row"


class SlopeRows(StrEnum):
    """How rows lie on slopes along the blank."""

    PACKED = "packed"
    SPREAD = "spread"


class WoundStrip(Part):
    """A test strip: a number of turns, row against row, over a measured length of blank."""

    turns: Annotated[int, Count(2, 2000, "the number of turns wound side by side"), Example("20")]
    over: Annotated[float, Length(0.1, 500, "the length of blank that they take"), Example("3.4")]

    @property
    def width(self) -> float:
        """Width of one turn, mm."""
        return self.over / self.turns

    @model_validator(mode="after")
    def _checked(self, info: ValidationInfo) -> Self:
        low, high = _ROW_WIDTHS
        if not low <= self.width <= high:
            units = units_of(info.context)
            raise refusal(
                f"{self.turns} turns in {length(self.over, units)} are {length(self.width, units)} "
                f"a turn, not between {length(low, units)} and {length(high, units)}; count the "
                "turns and measure them again",
                field="over",
            )
        return self


class CoverModel(WoundModel):
    """The tightly wound thread over the relief."""

    former_names: ClassVar[Mapping[str, str]] = MappingProxyType({"hand": "unevenness"})

    kind: Literal["cover"]
    thread: ThreadName
    """Wound row against row over all that lies beneath."""
    margin: Annotated[
        float, Length(0, 60, "how far the cover starts before and ends after the relief")
    ] = 8.0
    """Default: the cover starts 5 to 10 mm beyond the relief (common practice, no source)."""
    unevenness: Annotated[
        float, Ratio(0, 1, "how unevenly the rows lie, 0 for a perfect hand, 1 for a careless one")
    ] = 0.1
    seed: Annotated[int, Count(0, 999_999, "a number that picks which rows lie unevenly")] = 1
    steepest_slope: Annotated[
        float, Ratio(0.1, 5, "the steepest slope that closely wound rows hold, as rise over run")
    ] = STEEPEST_SLOPE
    rows: Annotated[SlopeRows, Field(strict=False)] = SlopeRows.PACKED
    """Against one another along slopes, or spread by them: as far apart along the blank as on the
    level."""
    flaw: Annotated[Flaw, Field(strict=False)] = Flaw.NONE
    wound: Annotated[WoundStrip | None, Example("{ turns = 20, over = 3.4 }")] = None
    """A test strip of this thread that the builder has measured; it sets the row width."""

    def row_width(self, diameter: float) -> float:
        """Distance from row to row, mm: as measured, or the diameter of the thread.

        Parameters
        ----------
        diameter : float
            Diameter of the thread on the shelf, mm.
        """
        return diameter if self.wound is None else self.wound.width

    def extent(self, placement: Placement) -> tuple[float, float]:
        """First and last row, mm from the butt."""
        return placement.start - self.margin, placement.end + self.margin
