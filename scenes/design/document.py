"""The design document: everything that a wrap is, as one frozen model.

Lengths are held in mm and angles in radians, whatever the file gives. `design_from` reads the
nested tables of a file, `document_of` writes them again in the file's own units.
"""

import itertools
from collections.abc import Mapping
from enum import StrEnum
from functools import lru_cache
from typing import Annotated, Any, Literal, Self

import numpy as np
from pydantic import Field, ValidationError, model_validator
from pydantic_core import PydanticCustomError

from geometry.blank import Blank
from scenes import checks, paths
from scenes.bench_spec import BenchSpec
from scenes.layers import (
    Cover,
    Layer,
    LayerModel,
    Part,
    ReliefModel,
    SeamTrim,
    ThreadName,
    TrimThread,
    layer_path,
)
from scenes.lights import LightKind
from scenes.problems import DesignProblem, one_of, refusal, shown
from scenes.quantities import (
    Angle,
    Colour,
    Count,
    Length,
    Marker,
    Measure,
    Ratio,
    Units,
    Words,
)
from scenes.wording import problem_of

__all__ = [
    "FORMAT",
    "BenchSpec",
    "BlankSpec",
    "CameraSpec",
    "Design",
    "FinishSpec",
    "Fitted",
    "Grip",
    "GripMaterial",
    "GuideFoot",
    "LightSpec",
    "Placement",
    "Station",
    "Variant",
    "View",
    "design_from",
    "document_of",
    "with_changes",
]

FORMAT = 1
"""The newest version of the document that this Turnlight reads, and the one it writes."""


class Format(Marker):
    """The version of the document."""

    what = f"turnlight = {FORMAT}, the version of the document, at the top of the file"

    def read(self, given: object, units: Units) -> int:
        """Check the version, so that a newer file is not misread."""
        if isinstance(given, bool) or not isinstance(given, int) or given < 1:
            raise refusal(f"{shown(given)} is not a version; give turnlight = {FORMAT}")
        if given > FORMAT:
            raise refusal(
                f"version {shown(given)} is newer than this Turnlight reads ({FORMAT}); update "
                "Turnlight to open it"
            )
        return int(given)


class GripMaterial(StrEnum):
    """What a grip is made of."""

    CORK = "cork"
    FOAM = "foam"


class View(StrEnum):
    """Where the camera stands."""

    WHOLE_WRAP = "whole wrap"
    THREE_QUARTER = "three-quarter"
    CLOSE = "close"
    END_ON = "end-on"
    ARMS_LENGTH = "arm's length"


_PLACE = "a distance from the butt"
_SHEET = "from the product's own sheet, "


class Station(Part):
    """One measurement of the blank."""

    at: Annotated[float, Length(0, 6000, "the distance from the butt")]
    diameter: Annotated[float, Length(0.5, 60, "the outside diameter of the blank there")]


class Grip(Part):
    """A tube of cork or foam on the blank."""

    kind: Literal["grip"]
    start: Annotated[float, Length(0, 6000, _PLACE)] = Field(alias="from")
    end: Annotated[float, Length(0, 6000, _PLACE)] = Field(alias="to")
    diameter: Annotated[float, Length(2, 120, "the outside diameter of the grip")]
    material: Annotated[GripMaterial, Field(strict=False)]

    @property
    def span(self) -> tuple[float, float]:
        """Where it starts and ends, mm from the butt."""
        return self.start, self.end


class GuideFoot(Part):
    """The foot of a guide, with its wrap, on the guide line."""

    kind: Literal["guide"]
    at: Annotated[float, Length(0, 6000, "the distance from the butt to the middle of the foot")]
    length: Annotated[float, Length(2, 150, "the length of the foot")]
    thread: ThreadName
    underwrap: ThreadName | None = None
    """Wound on the blank under the foot and its wraps."""
    rings: Annotated[
        tuple[TrimThread, ...],
        Field(
            strict=False,
            max_length=60,
            description='a list such as [ { thread = "…", count = 2 } ]',
        ),
    ] = ()
    """Inlaid in the wrap at both outer ends of the foot, from its end inwards."""
    inset: Annotated[
        float, Length(0, 100, "the distance from the wrap's outer end to the first ring")
    ] = 0.0

    @property
    def span(self) -> tuple[float, float]:
        """Where it starts and ends, mm from the butt."""
        return self.at - self.length / 2, self.at + self.length / 2


Fitted = Annotated[Grip | GuideFoot, Field(discriminator="kind")]


class BlankSpec(Part):
    """The blank as measured, and what is fitted on it near the wrap."""

    colour: Annotated[str, Colour("the colour of the blank")]
    stations: Annotated[
        tuple[Station, ...],
        Field(
            strict=False,
            min_length=2,
            max_length=200,
            description="a list such as [ { at = 250, diameter = 19.6 }, … ]",
        ),
    ]
    fitted: Annotated[tuple[Fitted, ...], Field(strict=False, max_length=24)] = ()
    mass: Annotated[float, Measure(0.1, 5000, "what the blank weighs", "g")] | None = None
    balance: (
        Annotated[float, Length(0, 6000, "the distance from the butt to where it balances")] | None
    ) = None
    reel_seat: (
        Annotated[float, Length(0, 6000, "the distance from the butt to the reel seat")] | None
    ) = None

    @model_validator(mode="after")
    def _checked(self) -> Self:
        given = [name for name in ("mass", "balance") if getattr(self, name) is not None]
        if len(given) == 1 or (self.reel_seat is not None and not given):
            missing = one_of([n for n in ("mass", "balance") if n not in given], "and")
            raise refusal(
                f"{given[0] if given else 'reel_seat'} is given without {missing}; give "
                f"{'both' if given else 'all three'}, or the swing cannot be worked out"
            )
        return self

    def measured(self) -> Blank:
        """Build the blank's shape from its stations."""
        return _measured(tuple((station.at, station.diameter) for station in self.stations))


# One check of a design asks for it five times, and a dragged slider never changes it.
@lru_cache(maxsize=16)
def _measured(stations: tuple[tuple[float, float], ...]) -> Blank:
    at, diameter = np.array(stations).T
    return Blank(at, diameter)


class Placement(Part):
    """Where the wrap stands on the blank."""

    start: Annotated[float, Length(0, 6000, _PLACE)] = Field(alias="from")
    end: Annotated[float, Length(0, 6000, _PLACE)] = Field(alias="to")
    guide_line: Annotated[float, Angle(-360, 360, "a turn against the guide line")] = 0.0

    @property
    def length(self) -> float:
        """Length of the relief along the blank, mm."""
        return self.end - self.start

    @property
    def middle(self) -> float:
        """Distance from the butt to the wrap's middle, mm: there gap and angle are as given."""
        return (self.start + self.end) / 2


class FinishSpec(Part):
    """The clear finish over the wrap."""

    coats: Annotated[int, Count(0, 12, "the number of coats, 0 for a dry wrap")] = 2
    coat_thickness: Annotated[float, Length(0.01, 3, "the wet thickness of one coat")] = 0.12
    colour_preserver: bool = False
    """Whether plain nylon was sealed first, so that it stays dry to the eye and opaque."""
    work_time: Annotated[float, Measure(0.1, 10_000, _SHEET + "its work time", "min")] | None = None
    recoat_time: (
        Annotated[float, Measure(0.1, 1000, _SHEET + "the time between coats", "h")] | None
    ) = None
    cure_time: Annotated[float, Measure(0.1, 10_000, _SHEET + "its full cure", "h")] | None = None


class LightSpec(Part):
    """The light it is seen in."""

    kind: Annotated[LightKind, Field(strict=False)] = LightKind.SOFT_BOXES
    turn: Annotated[float, Angle(-360, 360, "how far the light is turned round the rod")] = 0.0
    backdrop: Annotated[str, Colour("the colour of the card behind", ("dark", "light"))] = "dark"
    exposure: Annotated[float, Ratio(-4, 4, "the exposure in stops, below 0 for darker")] = 0.0
    """As calibrated at 0, where a grey of 18 % reads 18 %; bright metal may want a stop less."""


class CameraSpec(Part):
    """How it is looked at."""

    view: Annotated[View, Field(strict=False)] = View.WHOLE_WRAP
    turn: Annotated[float, Angle(-360, 360, "how far the rod is turned about its axis")] = 0.0
    walk: Annotated[float, Angle(-180, 180, "how far the camera walks round towards the tip")] = 0.0
    rise: Annotated[float, Angle(-180, 180, "how far the camera rises over the rod")] = 0.0
    zoom: Annotated[float, Ratio(0.2, 12, "how many times larger than the view has it")] = 1.0
    along: Annotated[float, Length(-6000, 6000, "how far towards the tip the camera looks")] = 0.0


class Changes(Marker):
    """Changes by path, held as the file gives them: their units are the file's."""

    what = 'a table of paths and values, such as "relief.gap" = 20'

    def read(self, given: object, units: Units) -> dict[str, Any]:
        """Check the shape alone; the values are checked by making the changes."""
        if not isinstance(given, Mapping) or not given:
            raise refusal(f"{shown(given)} is not a change; give {self.what}")
        if len(given) > paths.MOST_CHANGES:
            raise refusal(f"{len(given)} changes are more than {paths.MOST_CHANGES}; give fewer")
        return {str(path): paths.plain(value) for path, value in given.items()}


class Variant(Part):
    """A named set of changes to a design, for comparison."""

    name: Annotated[str, Words(60, "a short name for the variant")]
    changes: Annotated[dict[str, Any], Changes()]


class Design(Part):
    """A whole design."""

    turnlight: Annotated[int, Format()]
    units: Annotated[Units, Field(strict=False)]
    title: Annotated[str, Words(200, "a title")]
    notes: Annotated[str, Words(10_000, "notes", shortest=0, lines=True)] = ""
    shelf: Annotated[str, Words(100, "the file name of your own shelf")] | None = None
    blank: BlankSpec
    placement: Placement
    layers: Annotated[
        tuple[Layer, ...],
        Field(
            strict=False,
            min_length=1,
            max_length=24,
            description='at least one [[layers]], such as kind = "cover"',
        ),
    ]
    finish: FinishSpec = FinishSpec()
    light: LightSpec = LightSpec()
    camera: CameraSpec = CameraSpec()
    bench: BenchSpec = BenchSpec()
    variants: Annotated[tuple[Variant, ...], Field(strict=False, max_length=24)] = ()

    @property
    def relief(self) -> ReliefModel | None:
        """The first relief, if there is one."""
        return next((layer for layer in self.layers if isinstance(layer, ReliefModel)), None)

    @property
    def cover(self) -> Cover | None:
        """The first cover, if there is one."""
        return next((layer for layer in self.layers if isinstance(layer, Cover)), None)

    def relief_under(self, layer: LayerModel) -> ReliefModel | None:
        """The relief that was laid last before a layer."""
        before = itertools.takewhile(lambda one: one is not layer, self.layers)
        reliefs = [one for one in before if isinstance(one, ReliefModel)]
        return reliefs[-1] if reliefs else None

    def cover_over(self, relief: ReliefModel) -> Cover:
        """The cover that is wound over a relief."""
        after = itertools.dropwhile(lambda one: one is not relief, self.layers)
        return next(one for one in after if isinstance(one, Cover))

    @property
    def trims(self) -> tuple[SeamTrim, ...]:
        """The trims, in bench order."""
        return tuple(layer for layer in self.layers if isinstance(layer, SeamTrim))

    @property
    def warnings(self) -> tuple[str, ...]:
        """What is allowed but unlikely to be meant, one sentence each."""
        return tuple(checks.warnings(self))

    def path_of(self, layer: LayerModel) -> str:
        """Name one of the design's layers as a path does."""
        index = next(i for i, one in enumerate(self.layers) if one is layer)
        return layer_path(self.layers, index)

    def without_variants(self) -> "Design":
        """Copy the design without its variants, as one picture needs it."""
        bare = self.model_copy(update={"variants": ()})
        bare.model_fields_set.discard("variants")
        return bare

    @model_validator(mode="after")
    def _checked(self) -> Self:
        checks.check(self)
        base = self.without_variants()
        names: set[str] = set()
        for index, variant in enumerate(self.variants):
            field = f"variants.{index}"
            if variant.name in names:
                raise refusal(
                    f"{shown(variant.name)} is used twice; give each variant its own name",
                    field=f"{field}.name",
                )
            names.add(variant.name)
            try:
                with_changes(base, variant.changes)
            except DesignProblem as problem:
                raise refusal(
                    f"in {shown(variant.name)}, {problem}", field=f"{field}.changes"
                ) from None
        return self


def design_from(document: Mapping[str, Any]) -> Design:
    """Read a design from nested tables as in a file.

    Parameters
    ----------
    document : dict
        Lengths in the document's own units, angles in degrees.

    Raises
    ------
    DesignProblem
        With one sentence about the foremost thing that is wrong.
    """
    given = document.get("units")
    units = Units(given) if isinstance(given, str) and given in tuple(Units) else Units.MM
    try:
        return Design.model_validate(document, context={"units": units})
    except ValidationError as error:
        raise problem_of(error, document, Design) from None


def document_of(design: Design, *, defaults: bool = False) -> dict[str, Any]:
    """Write a design as nested tables, in the design's own units.

    Parameters
    ----------
    design : Design
    defaults : bool
        Whether fields that the file left to their defaults are written too.
    """
    return design.model_dump(
        mode="json",
        by_alias=True,
        exclude_unset=not defaults,
        exclude_none=True,
        context={"units": design.units},
    )


def with_changes(design: Design, changes: Mapping[str, object]) -> Design:
    """Change a design by path and check the whole of it anew, its variants too.

    Parameters
    ----------
    design : Design
    changes : dict
        New value by path (see `scenes.paths`), in the design's own units and degrees.

    Raises
    ------
    DesignProblem
        If a path leads nowhere or the changed design is not right.
    """
    try:
        values = {path: paths.plain(value) for path, value in changes.items()}
    except PydanticCustomError as error:
        raise DesignProblem(f"{error.message()}.") from None
    return design_from(paths.changed(document_of(design), values))
