"""What every part and every layer of a design has."""

from enum import StrEnum
from typing import TYPE_CHECKING, Annotated, ClassVar

from pydantic import BaseModel, ConfigDict, Field

from scenes.problems import one_of, refusal
from scenes.quantities import Count, ShelfName, Words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from scenes.document import Design, Placement

__all__ = [
    "LayerModel",
    "LayerName",
    "Part",
    "ReliefModel",
    "Role",
    "ThreadName",
    "ThreadRuns",
    "TrimThread",
    "only_one",
]


class Part(BaseModel):
    """Any part of a design: frozen, with no field but its own."""

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        strict=True,
        serialize_by_alias=True,
        hide_input_in_errors=True,
        # What is written under a field explains it on its card.
        use_attribute_docstrings=True,
    )

    alternatives: ClassVar[tuple[str, ...]] = ()
    """Fields of which a design gives exactly one."""


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


ThreadName = Annotated[str, ShelfName(80, "the name of a thread on the shelf")]
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


def only_one(part: Part) -> None:
    """Check that exactly one of a part's alternatives is given."""
    given = [name for name in part.alternatives if getattr(part, name) is not None]
    if not given:
        options = one_of(part.alternatives)
        raise refusal(f"it has no {options}; give exactly one of them")
    if len(given) > 1:
        raise refusal(f"{one_of(given, 'and')} are given together; keep one of them")


class TrimThread(Part):
    """Some threads of one kind, side by side."""

    thread: ThreadName
    count: Annotated[int, Count(1, 60, "the number of these threads side by side")] = 1


ThreadRuns = Annotated[
    tuple[TrimThread, ...],
    Field(
        strict=False,
        min_length=1,
        max_length=60,
        description='a list such as [ { thread = "…", count = 2 } ]',
    ),
]
