"""Builders of layers: their interface, the context that they read, and their results."""

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, ClassVar, Generic, Protocol, Self, TypeVar

import numpy as np
from numpy.typing import NDArray

from geometry.blank import Blank
from geometry.layers.cover import Cover
from geometry.layers.trim import Edge, Ring, StripEdge
from geometry.surface import Layer, Surface
from geometry.winding import Winding
from materials.appearance import Appearance
from materials.shelf import Shelf
from materials.thread import Thread
from scenes.parts.layer import (
    BandModel,
    DesignContext,
    EdgeModel,
    LayerModel,
    ReliefModel,
    WoundModel,
)

__all__ = [
    "CARELESS",
    "BandBuilder",
    "CompanionContext",
    "EdgeBuilder",
    "LayerBuilder",
    "LayerResult",
    "Palette",
    "PlanContext",
    "Printed",
    "ReliefBuilder",
    "ThreadUse",
    "WoundBuilder",
    "WrapContext",
    "as_cut",
]

CARELESS = 0.15
"""Unevenness of a careless hand's rows, as a share of the thread's diameter (from memory)."""

P = TypeVar("P", bound="PlanContext")
M = TypeVar("M", bound=LayerModel)
R = TypeVar("R", bound=ReliefModel)
B = TypeVar("B", bound=BandModel)
W = TypeVar("W", bound=WoundModel)
E = TypeVar("E", bound=EdgeModel)


class Palette:
    """Looks by material index, each once, in the order of their first use."""

    def __init__(self) -> None:
        self._looks: dict[Appearance, int] = {}

    def index(self, look: Appearance) -> int:
        """Give the material index of a look, a new one at first sight.

        Parameters
        ----------
        look : Appearance
        """
        return self._looks.setdefault(look, len(self._looks))

    def looks(self) -> tuple[Appearance, ...]:
        """All looks so far."""
        return tuple(self._looks)


@dataclass(frozen=True, slots=True)
class ThreadUse:
    """Thread on the blank, without tails or waste.

    Parameters
    ----------
    use : str
        Path of the layer: ``cover``, ``trim``.
    thread : Thread
    length : float
        mm.
    """

    use: str
    thread: Thread
    length: float

    @property
    def mass_g(self) -> float:
        """From its tex, g."""
        return self.thread.mass_g(self.length / 1000)


@dataclass(frozen=True, slots=True)
class LayerResult:
    """Result of laying a layer.

    Parameters
    ----------
    surface : Surface
        All layers so far.
    threads : callable
        Computes the thread that the layer took; called only on demand.
    beneath : Surface, optional
        What lies directly under the outermost thread. Given where threads of one layer cross;
        otherwise it is the surface that the layer was laid on.
    kind_result : object, optional
        Further results for the bench entries of its own kind (`Wrap.kind_result_of`).
    replaces_outermost : bool
        Whether the layer replaces the outermost thread, so that what lies beneath is unchanged.
    """

    surface: Surface
    threads: Callable[[], tuple[ThreadUse, ...]] = tuple
    beneath: Surface | None = None
    kind_result: object = None
    replaces_outermost: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Printed:
    """A print on film for the wrap, at its true size.

    Parameters
    ----------
    title : str
        What it shows, in a few words.
    size : (float, float)
        Length along its run and height, mm.
    contours : tuple of (n, 2) float
        Outlines to fill by the non-zero rule, mm from the upper left corner, y up.
    ink : str
        Colour of the outlines, ``#rrggbb``.
    pixels : (h, w, 4) uint8, optional
        sRGB with alpha: a picture in place of outlines.
    """

    title: str
    size: tuple[float, float]
    contours: tuple[NDArray[np.float64], ...] = ()
    ink: str = "#000000"
    pixels: NDArray[np.uint8] | None = None


class CompanionContext(Protocol):
    """The files beside a design."""

    def read(self, name: str, field: str) -> bytes:
        """Read a file.

        Parameters
        ----------
        name : str
            Plain file name.
        field : str
            Path of the field that names the file, for a refusal.

        Raises
        ------
        DesignProblem
        """


class PlanContext(Protocol):
    """The part of a plan that its layers may read."""

    @property
    def design(self) -> DesignContext:
        """The design."""

    @property
    def shelf(self) -> Shelf:
        """Source of its threads."""

    @property
    def beside(self) -> CompanionContext:
        """Source of its pictures, charts and fonts."""

    @property
    def blank(self) -> Blank:
        """The bare blank."""

    @property
    def start(self) -> float:
        """Where the wrap begins, mm from the butt."""

    @property
    def end(self) -> float:
        """Where the wrap ends, mm from the butt."""

    @property
    def middle(self) -> float:
        """Middle of the wrap, mm from the butt."""

    @property
    def middle_radius(self) -> float:
        """Radius of the bare blank at the middle of the wrap, mm."""

    @property
    def designed(self) -> "PlanContext":
        """The plan of the design itself, where this one was made of it by `as_cut`; else itself."""

    @property
    def builders(self) -> "tuple[LayerBuilder[Any], ...]":
        """All layers, in bench order."""

    @property
    def finished(self) -> bool:
        """Whether there is any finish on the wrap."""

    @property
    def wound_span(self) -> tuple[float, float]:
        """Range from the first thread of any layer to the last, mm from the butt."""

    @property
    def grid_span(self) -> tuple[float, float]:
        """Range of the grid, mm from the butt."""

    def before(self, builder: "LayerBuilder[Any]") -> "tuple[LayerBuilder[Any], ...]":
        """Every layer that is laid before another, in bench order.

        Parameters
        ----------
        builder : LayerBuilder
            The other layer.
        """

    def relief_under(self, builder: "LayerBuilder[Any]") -> "ReliefBuilder[Any]":
        """The last relief that is laid before a layer.

        Parameters
        ----------
        builder : LayerBuilder
            The layer.
        """

    def look_of(self, thread: Thread) -> Appearance:
        """Look of a thread in this wrap: dry, or under its finish.

        Parameters
        ----------
        thread : Thread
        """

    def prepare(self) -> None:
        """Compute every winding without sampling.

        Raises
        ------
        DesignProblem
        """

    def changed(self, changes: Mapping[str, object]) -> Self:
        """Make the plan of the same design without variants and with some values changed.

        Its `designed` plan stays the one that this plan has.

        Parameters
        ----------
        changes : dict
            New value by path, in the design's own units and degrees.

        Raises
        ------
        DesignProblem
            If the changed design is invalid.
        """


class WrapContext(Protocol):
    """The part of a wrap that the bench entries of a layer may read."""

    @property
    def plan(self) -> PlanContext:
        """The plan of the design."""

    @property
    def design(self) -> DesignContext:
        """The design."""

    @property
    def surface(self) -> Surface:
        """All layers, without the finish."""

    def kind_result_of(self, layer: LayerModel) -> object:
        """Further results of one layer (`LayerResult.kind_result`).

        Parameters
        ----------
        layer : LayerModel
            One of the design's layers.
        """


class LayerBuilder(ABC, Generic[M]):
    """Computes and lays one layer of a design.

    Everything but `lay` must be cheap: it runs before anything is sampled, after every change of a
    setting.

    Parameters
    ----------
    layer : LayerModel
        The layer in the document.
    plan : PlanContext
        Plan of the design that the layer is in.
    path : str
        Path of the layer in the design.
    """

    progress_label: ClassVar[str]
    """Name of the layer in the progress display."""

    def __init__(self, layer: M, plan: "PlanContext", path: str) -> None:
        self.layer = layer
        self.plan = plan
        self.path = path

    @property
    def span(self) -> tuple[float, float]:
        """Where the layer begins and ends on the blank, mm from the butt."""
        return self.layer.extent(self.plan.design.placement)

    def threads(self) -> Iterator[Thread]:
        """Yield every thread of the layer at least once; the grid resolves the thinnest."""
        yield from ()

    @cached_property
    def cover_thickness(self) -> float:
        """Thickness of the covers laid before it, mm."""
        before = self.plan.before(self)
        return sum(
            earlier.thread.diameter_mm for earlier in before if isinstance(earlier, WoundBuilder)
        )

    def cell(self) -> float | None:
        """Smallest period besides the threads that the grid must resolve, mm."""
        return None

    @property
    def striped(self) -> bool:
        """Whether it lies as stripes over other stripes, which the grid must resolve."""
        return False

    def inlaid(self) -> tuple[tuple[float, float], ...]:
        """Stretches of the cover below whose rows it replaces, mm from the butt."""
        return ()

    def prepare(self) -> None:
        """Compute what may turn out impossible to wind.

        Raises
        ------
        DesignProblem
        """

    def as_cut(self, plan: P) -> P:
        """Make a plan in which this layer has a size that can be cut.

        Parameters
        ----------
        plan : PlanContext
            Plan that this layer is in.
        """
        return plan

    def printed(self) -> Printed | None:
        """The print on film that the layer is; None if it is no print.

        Raises
        ------
        DesignProblem
            If a file that the layer names cannot be read.
        GeometryError
            If the print has no room.
        """
        return None

    def spelled_out(self) -> dict[str, object]:
        """Fields that write the layer's pattern in full, as in a file, by name."""
        return {}

    @abstractmethod
    def lay(self, surface: Surface, palette: Palette, step: Callable[[str], None]) -> LayerResult:
        """Lay the layer on the layers before it.

        Parameters
        ----------
        surface : Surface
        palette : Palette
            Gives looks their material index.
        step : callable
            Called with a word now and then if laying takes seconds; may raise to cancel.
        """


class ReliefBuilder(LayerBuilder[R]):
    """Builder of a layer that lies under a cover and raises it."""

    @abstractmethod
    def edge(self, edge: Edge) -> StripEdge | Ring:
        """Give one edge of the relief, for threads to lie along.

        Parameters
        ----------
        edge : Edge
        """

    @abstractmethod
    def relief(self, material: int = 0) -> Layer:
        """Make the geometry layer.

        Parameters
        ----------
        material : int
            Material index of the relief.
        """


class BandBuilder(ReliefBuilder[B]):
    """Builder of a relief wound as strips, with a flat band between neighbours."""

    @property
    @abstractmethod
    def width(self) -> float:
        """Width of one strip across its run, mm."""

    @property
    @abstractmethod
    def winding(self) -> Winding:
        """Winding of the strips."""


class WoundBuilder(LayerBuilder[W]):
    """Builder of a layer wound row against row over everything beneath."""

    @property
    @abstractmethod
    def thread(self) -> Thread:
        """Thread of the cover."""

    @property
    @abstractmethod
    def level_rows(self) -> int:
        """Number of turns of its thread if all that it lies on were level."""

    @property
    @abstractmethod
    def row_share(self) -> float:
        """Relative uncertainty of the distance from row to row."""

    @abstractmethod
    def cover(self, material: int = 0) -> Cover:
        """Make the geometry layer.

        Parameters
        ----------
        material : int
            Material index of the thread.
        """


class EdgeBuilder(LayerBuilder[E]):
    """Builder of threads along the edges of the last relief before them."""

    @property
    @abstractmethod
    def ordered_threads(self) -> tuple[Thread, ...]:
        """Every thread, from the relief outwards."""

    @property
    @abstractmethod
    def lines(self) -> list[StripEdge | Ring]:
        """Edges that the threads are laid along."""

    @property
    @abstractmethod
    def lines_at_rest(self) -> list[StripEdge | Ring]:
        """Its lines, each moved as far as its threads slide."""

    @property
    @abstractmethod
    def places(self) -> Mapping[Edge, tuple[float, float]]:
        """Where its threads rest beside each edge, from the first to the last, mm.

        Measured from the relief's edge outwards. This alone says where a trim lies.
        """


def as_cut(plan: P) -> P:
    """Make a plan in which every layer has a size that can be cut, for work at the bench.

    Parameters
    ----------
    plan : PlanContext

    Returns
    -------
    PlanContext
        The plan itself where every layer can be cut as it is.
    """
    for path in [builder.path for builder in plan.builders]:
        plan = next(builder for builder in plan.builders if builder.path == path).as_cut(plan)
    return plan
