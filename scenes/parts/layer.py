"""What every layer of a design has, and what it may read of the design that it is in."""

from collections.abc import Iterator, Mapping, Sequence
from enum import StrEnum
from types import MappingProxyType
from typing import Annotated, ClassVar, Protocol

from scenes.parts.bench import BenchSpec
from scenes.parts.blank import BlankSpec, Placement
from scenes.parts.finish import FinishSpec
from scenes.parts.part import Part, ThreadName
from scenes.parts.view import CameraSpec
from scenes.quantities import Example, Units, Words

__all__ = [
    "BandModel",
    "DesignContext",
    "EdgeModel",
    "LayerModel",
    "LayerName",
    "ReliefModel",
    "Role",
    "WoundModel",
    "wound",
]


class Role(StrEnum):
    """Roles that others ask for; any other role is a word that its kind of layer gives."""

    RELIEF = "relief"
    COVER = "cover"
    TRIM = "trim"


LayerName = Annotated[str, Words(40, "a short name for the layer"), Example('"upper"')]


class LayerModel(Part):
    """What every layer has."""

    former_names: ClassVar[Mapping[str, str]] = MappingProxyType({})
    """Fields of today by the names that they had in files of earlier versions."""
    role: ClassVar[str]
    """What it does in the stack, in one word by which paths call it."""
    carries: ClassVar[bool] = True
    """Whether it is thread on which something flat can be laid."""
    own_ends: ClassVar[bool] = False
    """Whether it has fields for its ends, which `check` then keeps on the measured blank."""

    kind: str
    name: LayerName | None = None

    @classmethod
    def rivals(cls, field: str) -> tuple[str, ...]:
        """Find the fields that a change of a field removes.

        Parameters
        ----------
        field : str
            Name of the field that is set.
        """
        if field not in cls.alternatives:
            return ()
        return tuple(other for other in cls.alternatives if other != field)

    def another(self, field: str) -> dict[str, object] | None:
        """Give an entry to add to one of its lists, without lengths; None for one like the last.

        Parameters
        ----------
        field : str
            Name of the list.
        """
        return None

    def extent(self, placement: Placement) -> tuple[float, float]:
        """Find where the layer begins and ends on the blank, mm from the butt.

        Parameters
        ----------
        placement : Placement
            Where the wrap stands.
        """
        return placement.start, placement.end

    def check(self, design: "DesignContext", path: str) -> None:
        """Check what depends on the whole design: that the layer fits where it is laid.

        Parameters
        ----------
        design : DesignContext
            A design that is right apart from its layers.
        path : str
            Path of this layer, with which the path of a field begins.

        Raises
        ------
        PydanticCustomError
            Made by `scenes.problems.refusal`.
        """

    def warnings(self, design: "DesignContext", path: str) -> Iterator[str]:
        """Find what is allowed but unlikely to be meant.

        Parameters
        ----------
        design : DesignContext
            A design that is right.
        path : str
            Path of this layer, with which the path of a field begins.

        Yields
        ------
        str
            One sentence that begins with the path of a field.
        """
        yield from ()


class DesignContext(Protocol):
    """What a layer may read of the design that it is in."""

    @property
    def title(self) -> str:
        """What the design is called."""

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
    def finish(self) -> FinishSpec:
        """The coats of finish."""

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
        """Find the relief that was laid last before a layer.

        Parameters
        ----------
        layer : LayerModel
            A layer of the design.
        """

    def cover_over(self, relief: "ReliefModel") -> "WoundModel":
        """Find the cover that is wound over a relief.

        Parameters
        ----------
        relief : ReliefModel
            A relief of the design.
        """


class ReliefModel(LayerModel):
    """What lies under a cover and raises it."""

    role: ClassVar[str] = Role.RELIEF
    carries: ClassVar[bool] = False

    def flat(self, design: "DesignContext") -> tuple[float, float]:
        """Measure the room for trims beside the relief's edges.

        Parameters
        ----------
        design : DesignContext
            Design that it is in.

        Returns
        -------
        width, room : float
            Distance from edge to edge of the relief, and from an edge to where the flat ends, mm.
        """
        raise NotImplementedError


class BandModel(ReliefModel):
    """A relief wound as strips, with a flat band between each and the next."""

    angle: float
    """Between a strip's run and the blank's axis at the middle of the wrap, rad."""
    starts: int
    """Strips side by side."""


class WoundModel(LayerModel):
    """What is wound row against row over all that lies beneath."""

    role: ClassVar[str] = Role.COVER

    thread: ThreadName
    margin: float
    """How far it reaches beyond the wrap at either end, mm."""


class EdgeModel(LayerModel):
    """Threads along the edge of a relief."""

    role: ClassVar[str] = Role.TRIM

    offset: float
    """From the relief's edge outwards to the first thread, mm."""

    @property
    def graded(self) -> bool:
        """Whether all of its threads are shades that run into each other."""
        raise NotImplementedError


def wound(layers: Sequence[LayerModel]) -> tuple[WoundModel, ...]:
    """Find the covers among some layers.

    Parameters
    ----------
    layers : sequence of LayerModel
        In bench order.
    """
    return tuple(layer for layer in layers if isinstance(layer, WoundModel))
