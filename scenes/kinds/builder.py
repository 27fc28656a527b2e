"""How a layer of a design is laid: what it answers, what it reads, and what it gives back."""

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
    """Looks by material index, each once, in the order in which they were first asked for."""

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
    """What laying a layer gives.

    Parameters
    ----------
    surface : Surface
        Everything laid so far.
    threads : callable
        Works out the thread that the layer took; called only when somebody asks.
    beneath : Surface, optional
        What lies directly under the outermost thread, if that is not everywhere what the layer
        was laid on: where threads of one layer cross.
    kind_result : object, optional
        Further results for the bench entries of its own kind (`Wrap.kind_result_of`).
    replaces_outermost : bool
        Whether it took the place of the outermost thread, so that what lies beneath is the same.
    """

    surface: Surface
    threads: Callable[[], tuple[ThreadUse, ...]] = tuple
    beneath: Surface | None = None
    kind_result: object = None
    replaces_outermost: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Printed:
    """What is printed on film and laid on the wrap, at its true size.

    Parameters
    ----------
    title : str
        What it shows, in a few words.
    size : (float, float)
        Length along its run and height, mm.
    contours : tuple of (n, 2) float
        Outlines to fill by the non-zero rule, mm from the upper left corner, y up.
    ink : str
        Their colour, ``#rrggbb``.
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
    """What a layer may read of the design that it is in, worked out."""

    @property
    def design(self) -> DesignContext:
        """The design."""

    @property
    def shelf(self) -> Shelf:
        """Where its threads are looked up."""

    @property
    def beside(self) -> CompanionContext:
        """Where its pictures, charts and fonts are looked up."""

    @property
    def blank(self) -> Blank:
        """The bare blank."""

    @property
    def start(self) -> float:
        """Where the wrap begins, mm from the butt."""

    @property
    def end(self) -> float:
        """Where it ends, mm from the butt."""

    @property
    def middle(self) -> float:
        """Its middle, mm from the butt."""

    @property
    def middle_radius(self) -> float:
        """Bare radius there, mm."""

    @property
    def builders(self) -> "tuple[LayerBuilder[Any], ...]":
        """All layers, in bench order."""

    @property
    def finished(self) -> bool:
        """Whether there is any finish on the wrap."""

    @property
    def wound_span(self) -> tuple[float, float]:
        """Where the first thread of any layer lies and the last, mm from the butt."""

    @property
    def grid_span(self) -> tuple[float, float]:
        """What the grid covers, mm from the butt."""

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

    def changed(self, changes: Mapping[str, object]) -> Self:
        """Work the design out with some values changed by path, its variants left out.

        Parameters
        ----------
        changes : dict
            New value by path, in the design's own units and degrees.

        Raises
        ------
        DesignProblem
            If the changed design is not right.
        """


class WrapContext(Protocol):
    """What the bench entries of a layer may read of a wrap that was laid."""

    @property
    def plan(self) -> PlanContext:
        """The design, worked out."""

    @property
    def design(self) -> DesignContext:
        """The design."""

    @property
    def surface(self) -> Surface:
        """Everything that is laid, without the finish."""

    def kind_result_of(self, layer: LayerModel) -> object:
        """Further results of one layer (`LayerResult.kind_result`).

        Parameters
        ----------
        layer : LayerModel
            One of the design's layers.
        """


class LayerBuilder(ABC, Generic[M]):
    """One layer of a design, worked out.

    Everything but `lay` must be cheap: it is asked for before anything is sampled, as often as a
    setting is changed.

    Parameters
    ----------
    layer : LayerModel
        As the design describes it.
    plan : PlanContext
        The design that it is in, worked out.
    path : str
        What paths call it.
    """

    progress_label: ClassVar[str]
    """What is said of it while it is laid."""

    def __init__(self, layer: M, plan: "PlanContext", path: str) -> None:
        self.layer = layer
        self.plan = plan
        self.path = path

    @property
    def span(self) -> tuple[float, float]:
        """Where it begins and ends on the blank, mm from the butt."""
        return self.layer.extent(self.plan.design.placement)

    def threads(self) -> Iterator[Thread]:
        """Every thread that is laid, each at least once; the grid resolves the thinnest."""
        yield from ()

    @cached_property
    def cover_thickness(self) -> float:
        """Thickness of the covers laid before it, mm."""
        before = self.plan.before(self)
        return sum(
            earlier.thread.diameter_mm for earlier in before if isinstance(earlier, WoundBuilder)
        )

    def cell(self) -> float | None:
        """Smallest period that the grid must resolve besides the threads, mm."""
        return None

    @property
    def striped(self) -> bool:
        """Whether it lies as stripes over other stripes, which a grid must tell apart."""
        return False

    def inlaid(self) -> tuple[tuple[float, float], ...]:
        """Stretches of the cover before it whose rows give way to it, mm from the butt."""
        return ()

    def prepare(self) -> None:
        """Work out what may turn out impossible to wind.

        Raises
        ------
        DesignProblem
        """

    def as_cut(self, plan: P) -> P:
        """Work the design out with this layer as it can be cut from what there is to buy.

        Parameters
        ----------
        plan : PlanContext
            The design that this layer is in.
        """
        return plan

    def printed(self) -> Printed | None:
        """What is printed of it, if it is laid as a print on film.

        Raises
        ------
        DesignProblem
            If a file that it names cannot be read.
        GeometryError
            If it has no room.
        """
        return None

    def spelled_out(self) -> dict[str, object]:
        """Fields that say at length what the layer gives in short; as in a file, by name."""
        return {}

    @abstractmethod
    def lay(self, surface: Surface, palette: Palette, step: Callable[[str], None]) -> LayerResult:
        """Lay the layer on everything that was laid before it.

        Parameters
        ----------
        surface : Surface
        palette : Palette
            Gives each look its material index.
        step : callable
            Called with a word now and then by a layer that takes seconds; may raise to cancel.
        """


class ReliefBuilder(LayerBuilder[R]):
    """A layer that is laid under a cover and raises it."""

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
    """A relief wound as strips, with a flat band between each and the next."""

    @property
    @abstractmethod
    def width(self) -> float:
        """Of one strip, across its run, mm."""

    @property
    @abstractmethod
    def winding(self) -> Winding:
        """How the strips are wound."""


class WoundBuilder(LayerBuilder[W]):
    """A layer wound row against row over all that lies beneath."""

    @property
    @abstractmethod
    def thread(self) -> Thread:
        """What it is wound with."""

    @property
    @abstractmethod
    def rows(self) -> int:
        """Turns of its own thread."""

    @property
    @abstractmethod
    def row_share(self) -> float:
        """Share by which the distance from row to row may be off."""

    @abstractmethod
    def cover(self, material: int = 0) -> Cover:
        """Make the geometry layer.

        Parameters
        ----------
        material : int
            Material index of the thread.
        """


class EdgeBuilder(LayerBuilder[E]):
    """Threads along the edges of the relief that was laid last before them."""

    @property
    @abstractmethod
    def ordered_threads(self) -> tuple[Thread, ...]:
        """Every thread, from the relief outwards."""

    @property
    @abstractmethod
    def lines(self) -> list[StripEdge | Ring]:
        """The edges that they follow."""


def as_cut(plan: P) -> P:
    """Work the design out with every layer as it can be cut: the bench works to this one.

    Parameters
    ----------
    plan : PlanContext
    """
    for path in [builder.path for builder in plan.builders]:
        plan = next(builder for builder in plan.builders if builder.path == path).as_cut(plan)
    return plan
