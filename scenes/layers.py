"""The layers of a wrap as a design describes them, in bench order.

A new kind of layer is one model here and its name in the `Layer` union.
"""

from collections.abc import Mapping
from enum import StrEnum
from typing import Annotated, Any, ClassVar, Literal, Self, get_args

from pydantic import BaseModel, ConfigDict, Field, ValidationInfo, model_validator

from geometry import winding
from geometry.winding import Hand
from scenes.problems import one_of, refusal
from scenes.quantities import Angle, Count, Length, Ratio, ShelfName, Words, length, units_of

__all__ = [
    "LAYER_KINDS",
    "CordLattice",
    "Cover",
    "Edge",
    "Flaw",
    "Grade",
    "Hand",
    "Laid",
    "Layer",
    "LayerModel",
    "MeshStrip",
    "Part",
    "Relief",
    "Role",
    "SeamTrim",
    "ThreadName",
    "TrimThread",
    "layer_path",
]

MOST_TRIM_THREADS = 400
"""Threads in one trim: side by side they are some 70 mm wide, more than any gap."""


class Part(BaseModel):
    """Any part of a design: frozen, with no field but its own."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", strict=True, serialize_by_alias=True, hide_input_in_errors=True
    )

    alternatives: ClassVar[tuple[str, ...]] = ()
    """Fields of which a design gives exactly one."""


class Role(StrEnum):
    """What a layer does in the stack, and the name by which paths call it."""

    RELIEF = "relief"
    COVER = "cover"
    TRIM = "trim"


class Laid(StrEnum):
    """How the strip is led up a tapering blank."""

    CONSTANT_GAP = "constant gap"
    FIXED_ANGLE = "fixed angle"
    UNSTEERED = "unsteered"


class Flaw(StrEnum):
    """A mistake shown on purpose in the middle of the cover, towards the viewer."""

    NONE = "none"
    GAP = "gap"
    CROSSED_ROW = "crossed row"


class Edge(StrEnum):
    """Which edge of the relief a trim lies along: lower is nearer the butt."""

    BOTH = "both"
    LOWER = "lower"
    UPPER = "upper"


ThreadName = Annotated[str, ShelfName(80, "the name of a thread on the shelf")]
LayerName = Annotated[str, Words(40, "a short name for the layer")]


class LayerModel(Part):
    """What every layer has."""

    role: ClassVar[Role]

    kind: str
    name: LayerName | None = None


def only_one(part: Part) -> None:
    """Check that exactly one of a part's alternatives is given."""
    given = [name for name in part.alternatives if getattr(part, name) is not None]
    if not given:
        options = one_of(part.alternatives)
        raise refusal(f"it has no {options}; give exactly one of them")
    if len(given) > 1:
        raise refusal(f"{one_of(given, 'and')} are given together; keep one of them")


class MeshStrip(LayerModel):
    """A strip of plastic mesh, wound at an angle under the cover."""

    role: ClassVar[Role] = Role.RELIEF
    alternatives: ClassVar[tuple[str, ...]] = ("gap", "strip_width", "covered_share")

    kind: Literal["mesh strip"]
    cell: Annotated[float, Length(0.5, 20, "the distance from yarn to yarn")]
    yarn_width: Annotated[float, Length(0.05, 10, "the width of one yarn")]
    yarn_height: Annotated[float, Length(0.02, 5, "the height of one yarn")]
    crossing_height: (
        Annotated[float, Length(0.02, 10, "the thickness where two yarns cross")] | None
    ) = None
    angle: Annotated[float, Angle(5, 85, "the angle between the strip's run and the blank's axis")]
    starts: Annotated[int, Count(1, 24, "the number of strips side by side")] = 1
    hand: Annotated[Hand, Field(strict=False)] = Hand.RIGHT
    gap: Annotated[float, Length(0, 1000, "the gap along the blank between strips")] | None = None
    strip_width: (
        Annotated[float, Length(0.5, 500, "the width of the strip across its run")] | None
    ) = None
    covered_share: (
        Annotated[float, Ratio(0.01, 1, "the share of the blank under the strip, 1 for all of it")]
        | None
    ) = None
    laid: Annotated[Laid, Field(strict=False)] = Laid.CONSTANT_GAP

    @property
    def crossing(self) -> float:
        """Thickness where two yarns cross, mm: twice a yarn's height unless measured."""
        return 2 * self.yarn_height if self.crossing_height is None else self.crossing_height

    def width_on(self, radius: float) -> float:
        """Width of the strip across its run, mm.

        Parameters
        ----------
        radius : float
            Radius of the bare blank at the middle of the wrap, mm: there the gap, width or share
            is as given.
        """
        if self.strip_width is not None:
            return self.strip_width
        if self.gap is not None:
            return float(winding.width_from_gap(radius, self.angle, self.gap, self.starts))
        share = self.covered_share
        return float(winding.width_from_share(radius, self.angle, share or 0.0, self.starts))

    def gap_on(self, radius: float) -> float:
        """Gap along the axis between neighbouring strips at the middle of the wrap, mm."""
        if self.gap is not None:
            return self.gap
        width = self.width_on(radius)
        return float(winding.gap_from_width(radius, self.angle, width, self.starts))

    @model_validator(mode="after")
    def _checked(self, info: ValidationInfo) -> Self:
        only_one(self)
        units = units_of(info.context)
        if self.yarn_width >= self.cell:
            raise refusal(
                f"{length(self.yarn_width, units)} is not narrower than a cell of "
                f"{length(self.cell, units)}; give the width of one yarn, or there is no mesh",
                field="yarn_width",
            )
        if self.crossing < self.yarn_height:
            raise refusal(
                f"{length(self.crossing, units)} is less than yarn_height, "
                f"{length(self.yarn_height, units)}; give the thickness where two yarns cross",
                field="crossing_height",
            )
        return self


class CordLattice(LayerModel):
    """Round or flattened cords wound both ways, crossing in diamonds."""

    role: ClassVar[Role] = Role.RELIEF

    kind: Literal["cord lattice"]
    cord_diameter: Annotated[float, Length(0.1, 6, "the width of a cord as laid")]
    flatten: Annotated[
        float, Ratio(0.2, 1, "the laid cord's height to its width, 1 for a round cord")
    ] = 1.0
    count: Annotated[int, Count(1, 60, "the number of cords each way")]
    angle: Annotated[float, Angle(5, 85, "the angle between the cords' run and the blank's axis")]


class Cover(LayerModel):
    """The tightly wound thread over the relief."""

    role: ClassVar[Role] = Role.COVER

    kind: Literal["cover"]
    thread: ThreadName
    margin: Annotated[
        float, Length(0, 60, "how far the cover starts before and ends after the relief")
    ] = 8.0
    """Default: the cover starts 5 to 10 mm beyond the relief (common practice, no source)."""
    hand: Annotated[
        float, Ratio(0, 1, "how unevenly the rows lie, 0 for a perfect hand, 1 for a careless one")
    ] = 0.3
    seed: Annotated[int, Count(0, 999_999, "a number that picks which rows lie unevenly")] = 1
    flaw: Annotated[Flaw, Field(strict=False)] = Flaw.NONE


class TrimThread(Part):
    """Some threads of one kind, side by side."""

    thread: ThreadName
    count: Annotated[int, Count(1, 60, "the number of these threads side by side")] = 1


class Grade(Part):
    """Shades spread evenly from one thread to another, one thread of each."""

    first: ThreadName = Field(alias="from")
    last: ThreadName = Field(alias="to")
    count: Annotated[int, Count(2, 60, "the number of threads in all, both ends counted")]


class SeamTrim(LayerModel):
    """Threads laid along the edge where relief meets flat, from the relief outwards.

    A strip's edges are its two sides; a lattice has none, so its edges are the rings where it
    begins and ends.
    """

    role: ClassVar[Role] = Role.TRIM
    alternatives: ClassVar[tuple[str, ...]] = ("threads", "grade")

    kind: Literal["seam trim"]
    edge: Annotated[Edge, Field(strict=False)] = Edge.BOTH
    offset: Annotated[
        float,
        Length(-60, 60, "the distance from the relief's edge, below zero to climb the relief"),
    ] = 0.0
    threads: (
        Annotated[
            tuple[TrimThread, ...],
            Field(
                strict=False,
                min_length=1,
                max_length=60,
                description='a list such as [ { thread = "…", count = 2 } ]',
            ),
        ]
        | None
    ) = None
    grade: Grade | None = None

    @property
    def count(self) -> int:
        """Threads side by side, in all."""
        if self.grade is not None:
            return self.grade.count
        return sum(one.count for one in self.threads or ())

    @model_validator(mode="after")
    def _checked(self) -> Self:
        only_one(self)
        if self.count > MOST_TRIM_THREADS:
            raise refusal(
                f"{self.count} threads side by side are more than {MOST_TRIM_THREADS}; give fewer "
                "threads, since they must lie in the gap",
                field="threads",
            )
        return self


Layer = Annotated[MeshStrip | CordLattice | Cover | SeamTrim, Field(discriminator="kind")]
Relief = MeshStrip | CordLattice

LAYER_KINDS: dict[str, type[LayerModel]] = {
    get_args(model.model_fields["kind"].annotation)[0]: model
    for model in get_args(get_args(Layer)[0])
}
"""Each kind of layer, by the `kind` that a file gives."""


def layer_path(layers: "tuple[LayerModel, ...] | list[Any]", index: int) -> str:
    """Name a layer as a path does: its role, or its own name where the role is taken twice.

    Parameters
    ----------
    layers : sequence of LayerModel or of dict
        All layers, as models or as the file's tables.
    index : int

    Returns
    -------
    str
        ``layers.2`` where a layer has neither a role nor a name to itself.
    """
    roles = [_role(layer) for layer in layers]
    if roles[index] is not None and roles.count(roles[index]) == 1:
        return str(roles[index])
    names = [_of(layer, "name") for layer in layers]
    if isinstance(names[index], str) and names.count(names[index]) == 1:
        return str(names[index])
    return f"layers.{index}"


def _of(layer: object, key: str) -> object:
    return layer.get(key) if isinstance(layer, Mapping) else getattr(layer, key, None)


def _role(layer: object) -> Role | None:
    kind = _of(layer, "kind")
    model = LAYER_KINDS.get(kind) if isinstance(kind, str) else None
    return model.role if model is not None else None
