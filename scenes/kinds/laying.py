"""How a layer of a design is laid: what every kind of layer answers, and what it gives back."""

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Generic, TypeVar

from geometry.surface import Surface
from materials.appearance import Appearance
from materials.thread import Thread
from scenes.parts.layer import LayerModel

if TYPE_CHECKING:
    from scenes.building.build import Plan

__all__ = ["Laid", "Laying", "Palette", "ThreadUse"]

M = TypeVar("M", bound=LayerModel)


class Palette:
    """Looks by material index, each once, in the order in which they were first asked for."""

    def __init__(self) -> None:
        self._looks: dict[Appearance, int] = {}

    def index(self, look: Appearance) -> int:
        """The material index of a look."""
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
class Laid:
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
    found : object, optional
        What else laying it brought to light, for the numbers of its own kind (`Wrap.found_of`).
    instead : bool
        Whether it took the place of the outermost thread, so that what lies beneath is the same.
    """

    surface: Surface
    threads: Callable[[], tuple[ThreadUse, ...]] = tuple
    beneath: Surface | None = None
    found: object = None
    instead: bool = False


class Laying(ABC, Generic[M]):
    """One layer of a design, worked out.

    Everything but `lay` must be cheap: it is asked for before anything is sampled, as often as a
    setting is changed.

    Parameters
    ----------
    layer : LayerModel
        As the design describes it.
    plan : Plan
        The design that it is in.
    path : str
        What paths call it.
    """

    doing: ClassVar[str]
    """What is said of it while it is laid."""

    def __init__(self, layer: M, plan: "Plan", path: str) -> None:
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
        GeometryError
        """

    @abstractmethod
    def lay(self, surface: Surface, palette: Palette, step: Callable[[str], None]) -> Laid:
        """Lay the layer on everything that was laid before it.

        Parameters
        ----------
        surface : Surface
        palette : Palette
            Gives each look its material index.
        step : callable
            Called with a word now and then by a layer that takes seconds; may raise to cancel.
        """
