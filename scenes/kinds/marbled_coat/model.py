"""Marbled coats in the document."""

import itertools
import math
from collections.abc import Iterator
from enum import StrEnum
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from geometry.winding import Hand
from scenes.kinds.taper import OVERLAP, middle_radius
from scenes.parts.blank import Placement
from scenes.parts.layer import DesignContext, LayerModel, ReliefModel, WoundModel
from scenes.parts.part import Part
from scenes.problems import one_of, refusal, shown
from scenes.quantities import (
    Angle,
    Colour,
    Count,
    Example,
    Length,
    Ratio,
    Words,
    about,
    length,
    plain_number,
)

__all__ = [
    "MOST_PIGMENTS",
    "SHOWN_BEYOND",
    "SIZES",
    "CombStroke",
    "Direction",
    "MarbledCoat",
    "Pigment",
]

MOST_PIGMENTS = 4
"""Pigments that one pair of hands can drop before the coat begins to set (from memory)."""

MOST_TINES = 60
"""Tines of one comb stroke."""

SIZES = (0.0, 0.5, -0.5, 1.0, -1.0)
"""Deviation of successive drops from the mean area, for an `unevenness` of 1. The sum is 0. No
number of pigments divides their number, so that every pigment has drops of each size."""

_SHORTEST = 2.0
"""Length of a coat, mm."""

SHOWN_BEYOND = 6.0
"""Most of a coat that shows beyond either end of a cover wound over it, mm."""

_CROWDED = 2.5
"""Area of the drops over that of the coat beyond which most pigment is pushed off the ends."""


class Direction(StrEnum):
    """Direction of a comb stroke."""

    ROUND = "round the blank"
    ALONG = "along the blank"
    SPIRAL = "in a spiral"


class Pigment(Part):
    """A pigment stirred into the finish."""

    name: Annotated[str, Words(40, "what you call the pigment")]
    colour: Annotated[str, Colour("the colour of the pigment")]


class CombStroke(Part):
    """One stroke of a comb, or of a single needle, through the whole coat."""

    direction: Annotated[Direction, Field(strict=False)]
    spacing: Annotated[float, Length(0.5, 400, "the distance from tine to tine")] = 6.0
    """Tines are set evenly, so the true distance is the nearest that divides the coat."""
    reach: Annotated[
        float, Length(-60, 60, "how far a tine drags the coat, below zero the other way")
    ] = 8.0
    softness: Annotated[
        float, Length(0.2, 20, "the distance from a tine at which it drags half as far")
    ] = 1.0
    """Less makes sharper lines."""
    alternate: bool = False
    """Whether every second tine goes the other way."""
    angle: Annotated[float, Angle(5, 85, "the angle of a spiral, from straight round")] = (
        math.pi / 4
    )
    """For a spiral alone."""
    hand: Annotated[Hand, Field(strict=False)] = Hand.RIGHT
    """Hand of a spiral."""

    def slope(self) -> float:
        """Direction of the path, rad from the hoop; along the blank it goes to the tip."""
        if self.direction is Direction.SPIRAL:
            return self.angle if self.hand is Hand.RIGHT else math.pi - self.angle
        return 0.0 if self.direction is Direction.ROUND else math.pi / 2

    def tines(self, circumference: float, along: float) -> int:
        """Number of tines that fill a coat; even if every second tine goes the other way.

        Parameters
        ----------
        circumference, along : float
            Size of the unrolled coat, mm.
        """
        room = along
        if self.direction is not Direction.ROUND:
            # From one turn of a path to the next, square to it.
            room = circumference * math.sin(self.slope())
        if self.alternate:
            return 2 * max(1, round(room / self.spacing / 2))
        return max(1, round(room / self.spacing))


class MarbledCoat(LayerModel):
    """Pigments dropped into a thin, wet coat of finish over a base colour, and combed."""

    role: ClassVar[str] = "marbled"
    carries: ClassVar[bool] = False
    own_ends: ClassVar[bool] = True

    kind: Literal["marbled coat"]
    base: Annotated[str, Colour("the colour brushed on first, seen between the pigments")]
    pigments: Annotated[
        tuple[Pigment, ...],
        Field(strict=False, min_length=2, max_length=MOST_PIGMENTS),
        Example(
            '[ { name = "Slate", colour = "#47525c" }, { name = "Chalk", colour = "#ece7da" } ]'
        ),
    ]
    """Dropped in turn, drop by drop."""
    drops: Annotated[int, Count(1, 160, "the number of drops, of all pigments together")] = 60
    drop_diameter: Annotated[
        float, Length(0.5, 20, "the diameter of a drop that spreads undisturbed")
    ] = 6.0
    unevenness: Annotated[
        float, Ratio(0, 0.9, "how much drops differ in area, 0 for drops all alike")
    ] = 0.5
    strokes: Annotated[
        tuple[CombStroke, ...],
        Field(strict=False, max_length=6),
        Example('[ { direction = "round the blank", spacing = 6 } ]'),
    ] = ()
    """In the order in which they are drawn, after the last drop."""
    thickness: Annotated[float, Length(0.03, 0.8, "the thickness of the coat, levelled")] = 0.15
    start: Annotated[float, Length(0, 6000, "where it begins, from the butt")] | None = Field(
        default=None, alias="from"
    )
    """Default: where the wrap begins."""
    end: Annotated[float, Length(0, 6000, "where it ends, from the butt")] | None = Field(
        default=None, alias="to"
    )
    """Default: where the wrap ends."""
    seed: Annotated[int, Count(0, 999_999, "a number that picks where the drops fall")] = 1

    def extent(self, placement: Placement) -> tuple[float, float]:
        """Where it begins and ends, mm from the butt."""
        return (
            placement.start if self.start is None else self.start,
            placement.end if self.end is None else self.end,
        )

    def _room(self, design: DesignContext) -> tuple[float, float]:
        """Where it may lie, mm from the butt: on the wrap with all its other layers.

        Under a cover it may show beyond the cover's ends, on measured blank.
        """
        place = design.placement
        others = [
            layer.extent(place) for layer in design.layers if not isinstance(layer, MarbledCoat)
        ]
        low = min([place.start, *(start for start, _ in others)])
        high = max([place.end, *(end for _, end in others)])
        after = itertools.dropwhile(lambda layer: layer is not self, design.layers)
        if any(isinstance(later, WoundModel) for later in after):
            stations = design.blank.stations
            low = min(low, max(low - SHOWN_BEYOND, stations[0].at))
            high = max(high, min(high + SHOWN_BEYOND, stations[-1].at))
        return low, high

    def _thread_under(self, design: DesignContext) -> tuple[float, float] | None:
        """Range of the thread laid before it, mm from the butt; None if there is none."""
        before = itertools.takewhile(lambda layer: layer is not self, design.layers)
        spans = [layer.extent(design.placement) for layer in before if layer.carries]
        if not spans:
            return None
        return min(start for start, _ in spans), max(end for _, end in spans)

    def areas(self) -> tuple[float, ...]:
        """Areas of drops, mm², in turn."""
        mean = math.pi / 4 * self.drop_diameter**2
        return tuple(mean * (1 + self.unevenness * size) for size in SIZES)

    def check(self, design: DesignContext, path: str) -> None:
        """Check that there is room for it, and that its pigments can be told apart."""
        units = design.units
        start, end = self.extent(design.placement)
        low, high = self._room(design)
        # A wrong end is advised as if the other one were right.
        most = (min(high, end) if end >= low + _SHORTEST else high) - _SHORTEST
        least = (max(low, start) if start <= high - _SHORTEST else low) + _SHORTEST
        for field, place, first, last in (
            ("from", self.start, low, most),
            ("to", self.end, least, high),
        ):
            if place is not None and not low - OVERLAP <= place <= high + OVERLAP:
                raise refusal(
                    f"{length(place, units)} is not on the wrap; give a place from "
                    f"{about(first, units, upwards=True)} to {about(last, units)}",
                    field=f"{path}.{field}",
                )
        if end - start < _SHORTEST:
            field = "to" if self.end is not None else "from"
            value = end if self.end is not None else start
            raise refusal(
                f"{length(value, units)} leaves no coat from {length(start, units)} to "
                f"{length(end, units)}; give "
                + (
                    f"{about(start + _SHORTEST, units, upwards=True)} or more"
                    if field == "to"
                    else f"{about(end - _SHORTEST, units)} or less"
                ),
                field=f"{path}.{field}",
            )
        for what in ("colour", "name"):
            taken: list[str] = []
            for index, pigment in enumerate(self.pigments):
                value = getattr(pigment, what)
                if value.casefold() in taken:
                    raise refusal(
                        f"{shown(value)} is the {what} of another pigment too; give each its own",
                        field=f"{path}.pigments.{index}.{what}",
                    )
                taken.append(value.casefold())
        round_ = 2 * math.pi * middle_radius(design)
        for index, stroke in enumerate(self.strokes):
            tines = stroke.tines(round_, end - start)
            if tines > MOST_TINES:
                least = stroke.spacing * tines / MOST_TINES
                raise refusal(
                    f"{length(stroke.spacing, units)} makes {tines} tines, more than {MOST_TINES}; "
                    f"give {length(math.ceil(10 * least) / 10, units)} or more",
                    field=f"{path}.strokes.{index}.spacing",
                )
            if stroke.softness > stroke.spacing:
                raise refusal(
                    f"{length(stroke.softness, units)} is more than the "
                    f"{length(stroke.spacing, units)} from tine to tine, so that all would be "
                    f"dragged alike; give {length(stroke.spacing, units)} or less",
                    field=f"{path}.strokes.{index}.softness",
                )

    def warnings(self, design: DesignContext, path: str) -> Iterator[str]:
        """Warn of invisible pigments, of too many drops and of uneven ground."""
        for index, pigment in enumerate(self.pigments):
            if pigment.colour.casefold() == self.base.casefold():
                yield (
                    f"{path}.pigments.{index}.colour: {shown(pigment.colour)} is the base colour "
                    "too; give another, or it is not told from what it falls on."
                )
        start, end = self.extent(design.placement)
        area = 2 * math.pi * middle_radius(design) * (end - start)
        dropped = self.drops * math.pi / 4 * self.drop_diameter**2
        if dropped > _CROWDED * area:
            most = max(1, math.floor(_CROWDED * self.drops * area / dropped))
            yield (
                f"{path}.drops: {self.drops} drops would cover the coat "
                f"{plain_number(round(dropped / area, 1))} times, and most is pushed off its ends; "
                f"give {most} or fewer, or smaller ones."
            )
        for index, stroke in enumerate(self.strokes):
            given = [name for name in ("angle", "hand") if name in stroke.model_fields_set]
            if stroke.direction is not Direction.SPIRAL and given:
                yield (
                    f"{path}.strokes.{index}.{given[0]}: a stroke {stroke.direction.value} has no "
                    f'{one_of(given)}; leave it out, or give direction = "{Direction.SPIRAL}".'
                )
        thread = self._thread_under(design)
        if thread is not None and (start < thread[0] - OVERLAP or end > thread[1] + OVERLAP):
            field = "from" if start < thread[0] - OVERLAP else "to"
            yield (
                f"{path}.{field}: the coat from {length(start, design.units)} to "
                f"{length(end, design.units)} reaches beyond the thread under it, which lies from "
                f"{length(thread[0], design.units)} to {length(thread[1], design.units)}; end it "
                "on the thread, or fill the step at the thread's end first."
            )
        before = design.layers[: next(i for i, layer in enumerate(design.layers) if layer is self)]
        if any(isinstance(earlier, ReliefModel) for earlier in before):
            yield (
                f"{path}: it lies over a relief, where pigment runs off the ridges into the "
                "valleys, which the picture does not show; lay it on a level ground."
            )

    def another(self, field: str) -> dict[str, object] | None:
        """Give a further pigment in a colour that is not used yet."""
        if field != "pigments":
            return None
        used = {pigment.colour.casefold() for pigment in self.pigments}
        names = {pigment.name.casefold() for pigment in self.pigments}
        free = [
            {"name": name, "colour": colour}
            for name, colour in _FURTHER
            if colour not in used and name.casefold() not in names
        ]
        return dict(free[0]) if free else None


_FURTHER = (
    ("Ochre", "#c8963c"),
    ("Slate", "#47525c"),
    ("Rust", "#9c4a2b"),
    ("Sage", "#7f9a7a"),
    ("Chalk", "#ece7da"),
)
"""Pigments to add (invented)."""
