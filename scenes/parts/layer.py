"""What every layer of a design has, and what it may read of the design that it is in."""

from collections.abc import Iterator, Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import Annotated, ClassVar, Protocol

from scenes.parts.bench import BenchSpec
from scenes.parts.blank import BlankSpec, Placement
from scenes.parts.part import Part
from scenes.parts.view import CameraSpec
from scenes.quantities import Units, Words

__all__ = ["CoverContext", "DesignContext", "LayerModel", "LayerName", "ReliefModel", "Role"]


class Role(StrEnum):
    """What a layer does in the stack, and the name by which paths call it."""

    RELIEF = "relief"
    COVER = "cover"
    TRIM = "trim"
    CROSSED = "crossed"
    RINGS = "rings"
    OVERLAY = "overlay"
    DECAL = "decal"
    WOVEN = "woven"


LayerName = Annotated[str, Words(40, "a short name for the layer")]


class LayerModel(Part):
    """What every layer has."""

    role: ClassVar[Role]
    former_names: ClassVar[Mapping[str, str]] = MappingProxyType({})
    """Fields of today by the names that they had in files of earlier versions."""

    kind: str
    name: LayerName | None = None

    @classmethod
    def rivals(cls, field: str) -> tuple[str, ...]:
        """Fields that give way when a change sets this one."""
        if field not in cls.alternatives:
            return ()
        return tuple(other for other in cls.alternatives if other != field)

    def extent(self, placement: Placement) -> tuple[float, float]:
        """Where the layer begins and ends on the blank, mm from the butt."""
        return placement.start, placement.end

    def check(self, design: "DesignContext", path: str) -> None:
        """Check what only the whole design tells: that the layer fits where it is laid.

        Parameters
        ----------
        design : DesignContext
            Sound in all but its layers.
        path : str
            What paths call this layer, to begin a refusal's field with.

        Raises
        ------
        PydanticCustomError
            Made by `scenes.problems.refusal`.
        """

    def warnings(self, design: "DesignContext", path: str) -> Iterator[str]:
        """Find what is allowed but unlikely to be meant.

        Yields
        ------
        str
            One sentence that begins with the path of a field.
        """
        yield from ()


class CoverContext(Protocol):
    """What another layer may read of a cover."""

    @property
    def margin(self) -> float:
        """How far it reaches beyond the wrap at either end, mm."""


class DesignContext(Protocol):
    """What a layer may read of the design that it is in."""

    @property
    def units(self) -> Units:
        """Units of the design's file, for sentences."""

    @property
    def blank(self) -> BlankSpec:
        """The blank as measured."""

    @property
    def placement(self) -> Placement:
        """Where the wrap stands on the blank."""

    @property
    def camera(self) -> CameraSpec:
        """From where it is looked at."""

    @property
    def bench(self) -> BenchSpec:
        """The builder's own bench."""

    @property
    def layers(self) -> tuple[LayerModel, ...]:
        """All layers, in bench order."""

    def relief_under(self, layer: LayerModel) -> "ReliefModel | None":
        """The relief that was laid last before a layer."""

    def cover_over(self, relief: "ReliefModel") -> CoverContext:
        """The cover that is wound over a relief."""


class ReliefModel(LayerModel):
    """What lies under a cover and raises it."""

    role: ClassVar[Role] = Role.RELIEF

    def flat(self, design: "DesignContext") -> tuple[float, float]:
        """Room for trims beside its edges.

        Returns
        -------
        width, room : float
            From edge to edge of the relief, and from an edge to where the flat ends, mm.
        """
        raise NotImplementedError
