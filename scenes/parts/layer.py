"""What every layer of a design has."""

from enum import StrEnum
from typing import TYPE_CHECKING, Annotated, ClassVar

from scenes.parts.part import Part
from scenes.quantities import Words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from scenes.design.document import Design
    from scenes.parts.blank import Placement

__all__ = ["LayerModel", "LayerName", "ReliefModel", "Role"]


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

    kind: str
    name: LayerName | None = None

    @classmethod
    def rivals(cls, field: str) -> tuple[str, ...]:
        """Fields that give way when a change sets this one."""
        if field not in cls.alternatives:
            return ()
        return tuple(other for other in cls.alternatives if other != field)

    def extent(self, placement: "Placement") -> tuple[float, float]:
        """Where the layer begins and ends on the blank, mm from the butt."""
        return placement.start, placement.end

    def check(self, design: "Design", path: str) -> None:
        """Check what only the whole design tells: that the layer fits where it is laid.

        Parameters
        ----------
        design : Design
            Sound in all but its layers.
        path : str
            What paths call this layer, to begin a refusal's field with.

        Raises
        ------
        PydanticCustomError
            Made by `scenes.problems.refusal`.
        """

    def warnings(self, design: "Design", path: str) -> "Iterator[str]":
        """Find what is allowed but unlikely to be meant.

        Yields
        ------
        str
            One sentence that begins with the path of a field.
        """
        yield from ()


class ReliefModel(LayerModel):
    """What lies under a cover and raises it."""

    role: ClassVar[Role] = Role.RELIEF

    def flat(self, design: "Design") -> tuple[float, float]:
        """Room for trims beside its edges.

        Returns
        -------
        width, room : float
            From edge to edge of the relief, and from an edge to where the flat ends, mm.
        """
        raise NotImplementedError
