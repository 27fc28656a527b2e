"""Overlays in the document: threads wound in turn, some of them pulled out again."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, model_validator

from scenes.parts.blank import Placement
from scenes.parts.layer import DesignContext, LayerModel
from scenes.parts.part import Part, ThreadName
from scenes.problems import refusal
from scenes.quantities import Count, Example, Length, Ratio, about, length

__all__ = ["MOST_STRANDS", "Overlay", "OverlayThread"]

_MOST_LEFT_BARE = 0.95
"""Most of half a wrap that a margin below zero leaves bare, when one is advised."""

MOST_STRANDS = 24
"""Threads wound together: more cannot be kept side by side by one pair of hands (from memory)."""


class OverlayThread(Part):
    """Some threads of one kind in the sequence."""

    thread: ThreadName
    count: Annotated[int, Count(1, MOST_STRANDS, "the number of these threads side by side")] = 1
    removed: bool = False
    """Whether it is wound only to keep the others apart, and pulled out before the finish."""


class Overlay(LayerModel):
    """Threads wound in turn over what lies there; those pulled out leave stripes of it bare."""

    role: ClassVar[str] = "overlay"
    former_names: ClassVar[Mapping[str, str]] = MappingProxyType({"hand": "unevenness"})

    kind: Literal["overlay"]
    sequence: Annotated[
        tuple[OverlayThread, ...],
        Field(strict=False, min_length=1, max_length=MOST_STRANDS),
        Example('[ { thread = "Heron Silver A" }, { thread = "Pewter Rain A", removed = true } ]'),
    ]
    """Threads of one repeat, wound together side by side, from the butt on."""
    pitch: Annotated[float, Length(0.05, 60, "the distance from one repeat to the next")] | None = (
        None
    )
    """As wound and measured: left out, the threads' widths on the shelf together."""
    margin: Annotated[
        float,
        Length(-200, 60, "how far it runs on beyond the wrap, below zero to leave the ends bare"),
    ] = 8.0
    unevenness: Annotated[
        float, Ratio(0, 1, "how unevenly the rows lie, 0 for a perfect hand, 1 for a careless one")
    ] = 0.1
    seed: Annotated[int, Count(0, 999_999, "a number that picks which rows lie unevenly")] = 1

    @model_validator(mode="after")
    def _checked(self) -> Self:
        total = sum(entry.count for entry in self.sequence)
        if total > MOST_STRANDS:
            raise refusal(
                f"{total} threads in one repeat are more than {MOST_STRANDS}; give that or fewer",
                field="sequence",
            )
        if all(entry.removed for entry in self.sequence):
            raise refusal(
                "every thread of it is pulled out again, which leaves nothing; keep one",
                field="sequence",
            )
        return self

    def extent(self, placement: Placement) -> tuple[float, float]:
        """First and last row, mm from the butt."""
        return placement.start - self.margin, placement.end + self.margin

    def check(self, design: DesignContext, path: str) -> None:
        """Check that something of it is left between its ends."""
        half, units = design.placement.length / 2, design.units
        if -self.margin >= half:
            raise refusal(
                f"{length(self.margin, units)} leaves nothing of a wrap of "
                f"{length(2 * half, units)}; give -{about(_MOST_LEFT_BARE * half, units)} or more",
                field=f"{path}.margin",
            )
