"""The blank as a design describes it, what is fitted on it, and where the wrap stands."""

import dataclasses
from enum import StrEnum
from functools import lru_cache
from typing import Annotated, Literal, Self

import numpy as np
from numpy.typing import NDArray
from pydantic import Field, model_validator

from geometry.blank import Blank
from materials.blank_looks import BlankFinish
from scenes.figures.trust import CALIPER_MM
from scenes.parts.guides import GuideBinding, GuideFoot, GuideScheme, check_schemes
from scenes.parts.part import Part
from scenes.problems import at_field, one_of, refusal
from scenes.quantities import Angle, Colour, Example, Length, Measure

__all__ = [
    "THICKEST_BLANK",
    "BlankSpec",
    "Fitted",
    "Grip",
    "GripMaterial",
    "Placement",
    "Station",
]


class GripMaterial(StrEnum):
    """What a grip is made of."""

    CORK = "cork"
    FOAM = "foam"


_MANY = 12
"""Readings from which their scatter shows, and is smoothed; fewer are the blank as it is drawn."""

THICKEST_BLANK = 60.0
"""Largest outside diameter of a blank, mm."""

_WEIGHT = "what it weighs, if the blank was weighed without it"

_START = "the distance from the butt to where it starts"
_END = "the distance from the butt to where it ends"


class Station(Part):
    """One measurement of the blank."""

    at: Annotated[float, Length(0, 6000, "the distance from the butt")]
    diameter: Annotated[
        float, Length(0.5, THICKEST_BLANK, "the outside diameter of the blank there")
    ]


class Grip(Part):
    """A tube of cork or foam on the blank."""

    kind: Literal["grip"]
    start: Annotated[float, Length(0, 6000, _START)] = Field(alias="from")
    end: Annotated[float, Length(0, 6000, _END)] = Field(alias="to")
    diameter: Annotated[float, Length(2, 120, "the outside diameter of the grip")]
    material: Annotated[GripMaterial, Field(strict=False)]
    mass: Annotated[float, Measure(0.01, 2000, _WEIGHT, "g"), Example("31")] | None = None

    @property
    def span(self) -> tuple[float, float]:
        """Where it starts and ends, mm from the butt."""
        return self.start, self.end


_BOUND = dataclasses.fields(GuideBinding)

_TUBE = ("length", "wall", "density")

Fitted = Annotated[Grip | GuideFoot, Field(discriminator="kind")]


class BlankSpec(Part):
    """The blank as measured, and what is fitted on it near the wrap."""

    colour: Annotated[str, Colour("the colour of the blank")]
    finish: Annotated[BlankFinish, Field(strict=False)] = BlankFinish.PLAIN
    """What its outside is like: paint, plain or matt, or under clear lacquer paint, carbon cloth in
    2 x 2 twill, carbon tape wound over it crosswise, paint with metal flakes, or pearl. Under cloth
    and tape the colour is that of the resin."""
    stations: Annotated[
        tuple[Station, ...],
        Field(strict=False, min_length=2, max_length=200),
        Example("[ { at = 250, diameter = 19.6 }, { at = 400, diameter = 18.7 } ]"),
    ]
    """The blank as measured with a caliper, from butt to tip."""
    fitted: Annotated[
        tuple[Fitted, ...],
        Field(strict=False, max_length=24),
        Example('[ { kind = "guide", at = 460, length = 30, thread = "Heron Silver A" } ]'),
    ] = ()
    """Grips and guides near the wrap."""
    guide_schemes: Annotated[
        tuple[GuideScheme, ...],
        Field(strict=False, max_length=12),
        Example('[ { name = "running", thread = "Heron Silver A" } ]'),
    ] = ()
    """Named ways of binding guides, which they refer to by `scheme`."""
    mass: (
        Annotated[float, Measure(0.1, 5000, "what the blank weighs", "g"), Example("96")] | None
    ) = None
    balance: (
        Annotated[
            float,
            Length(0, 6000, "the distance from the butt to where it balances"),
            Example("780"),
        ]
        | None
    ) = None
    reel_seat: (
        Annotated[
            float, Length(0, 6000, "the distance from the butt to the reel seat"), Example("180")
        ]
        | None
    ) = None
    length: (
        Annotated[float, Length(100, 6000, "the whole length of the blank"), Example("2130")] | None
    ) = None
    """With weight and balance it gives the swing: the period as a pendulum."""
    wall: (
        Annotated[float, Length(0.05, 20, "the thickness of the wall of the blank"), Example("1.1")]
        | None
    ) = None
    """With length and density it gives the weight of a blank that was not weighed."""
    density: (
        Annotated[
            float, Measure(0.3, 10, "the density of the wall of the blank", "g/cm3"), Example("1.5")
        ]
        | None
    ) = None

    @property
    def has_shape(self) -> bool:
        """Whether its mass along the rod follows from its wall."""
        return None not in (self.length, self.wall, self.density)

    @property
    def guides(self) -> tuple[tuple[int, GuideFoot], ...]:
        """The guides, with their positions among what is fitted."""
        fitted = enumerate(self.fitted)
        return tuple((index, one) for index, one in fitted if isinstance(one, GuideFoot))

    def binding_of(self, foot: GuideFoot) -> GuideBinding:
        """Work out how a guide is bound.

        Parameters
        ----------
        foot : GuideFoot
            One of its guides.
        """
        return GuideBinding.of(foot, self.guide_schemes)

    def written_out(self) -> "BlankSpec":
        """The same blank without schemes: each guide gives itself how it is bound."""
        if not self.guide_schemes:
            return self
        fitted = tuple(
            GuideFoot.model_construct(
                **{name: getattr(one, name) for name in GuideFoot.model_fields}
                | {field.name: getattr(self.binding_of(one), field.name) for field in _BOUND}
                | {"scheme": None}
            )
            if isinstance(one, GuideFoot)
            else one
            for one in self.fitted
        )
        made = self.model_copy(update={"fitted": fitted, "guide_schemes": ()})
        made.model_fields_set.discard("guide_schemes")
        return made

    @model_validator(mode="after")
    def _checked(self) -> Self:
        check_schemes(self.guide_schemes, self.guides)
        given = [name for name in ("mass", "balance") if getattr(self, name) is not None]
        tube = [name for name in _TUBE if getattr(self, name) is not None]
        if not self.has_shape and tube not in ([], ["length"]):
            missing = one_of([name for name in _TUBE if name not in tube], "and")
            raise refusal(
                f"{one_of(tube, 'and')} {'is' if len(tube) == 1 else 'are'} given without "
                f"{missing}; give all three, or the swing cannot be worked out"
            )
        if len(given) == 1 or (self.reel_seat is not None and not (given or self.has_shape)):
            missing = one_of([n for n in ("mass", "balance") if n not in given], "and")
            raise refusal(
                f"{given[0] if given else 'reel_seat'} is given without {missing}; give "
                f"{'both' if given else 'all three'}, or the swing cannot be worked out"
            )
        return self

    def measured(self) -> Blank:
        """Build the blank's shape from its stations.

        Raises
        ------
        DesignProblem
            If no blank can have these diameters.
        """
        with at_field("blank", {"at": "stations", "diameter": "stations"}):
            return _measured(tuple((station.at, station.diameter) for station in self.stations))


# One check of a design asks for it five times, and a dragged slider never changes it.
@lru_cache(maxsize=16)
def _measured(stations: tuple[tuple[float, float], ...]) -> Blank:
    at, diameter = np.array(stations).T
    if at.size >= _MANY:
        diameter = _smoothed(at, diameter)
    return Blank(at, diameter)


def _smoothed(at: NDArray[np.float64], diameter: NDArray[np.float64]) -> NDArray[np.float64]:
    """Diameters without a caliper's noise, by a smoothing spline [Woltring1986].

    Its smoothness follows from the scatter by generalised cross-validation. No reading is moved by
    more than a caliper is off, so a step of the blank stays where it was measured.
    """
    # Only blanks of many readings wait for it to load.
    from scipy.interpolate import make_smoothing_spline

    fitted = np.asarray(make_smoothing_spline(at, diameter)(at))
    return np.clip(fitted, diameter - CALIPER_MM, diameter + CALIPER_MM)


class Placement(Part):
    """Where the wrap stands on the blank."""

    start: Annotated[float, Length(0, 6000, _START)] = Field(alias="from")
    end: Annotated[float, Length(0, 6000, _END)] = Field(alias="to")
    guide_line: Annotated[float, Angle(-360, 360, "a turn against the guide line")] = 0.0

    @property
    def length(self) -> float:
        """Length of the relief along the blank, mm."""
        return self.end - self.start

    @property
    def middle(self) -> float:
        """Distance from the butt to the wrap's middle, mm: there gap and angle are as given."""
        return (self.start + self.end) / 2
