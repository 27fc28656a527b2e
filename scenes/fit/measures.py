"""Measures of a design that may be wished for, under the names that `check` prints."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from geometry.grid import Detail
from materials.shelf import Shelf
from scenes.bench.report import added_mass, thread_length
from scenes.building.build import Plan, build_for_bench
from scenes.design.document import Design
from scenes.design.layers import KINDS, kind_of
from scenes.figures.figures import Kind
from scenes.figures.formatter import FOOT, OUNCE, FigureFormatter
from scenes.files.companion_files import SHIPPED, CompanionFiles
from scenes.kinds.builder import LayerBuilder
from scenes.kinds.numbers import Purpose
from scenes.quantities import IN, Units

__all__ = ["MEASURES", "UNITS", "Measure", "Measured", "measure_named"]


UNITS: dict[Kind, dict[str, float]] = {
    Kind.LENGTH: {"mm": 1.0, "cm": 10.0, "in": IN},
    Kind.ANGLE: {"degrees": math.pi / 180, "deg": math.pi / 180, "°": math.pi / 180},
    Kind.SHARE: {"": 1.0, "%": 0.01},
    Kind.NUMBER: {"": 1.0},
    Kind.MASS: {"g": 1.0, "oz": OUNCE},
    Kind.THREAD_LENGTH: {"m": 1000.0, "ft": FOOT},
}
"""Units in which a measure may be given, with their size in internal units; the empty name is for a
number without a unit."""


class Measured:
    """A design and its measures, each computed on first use.

    Parameters
    ----------
    design : Design
    shelf : Shelf
    beside : CompanionFiles
        Where the design's files are looked up.
    """

    def __init__(self, design: Design, shelf: Shelf, beside: CompanionFiles = SHIPPED) -> None:
        self.design = design
        self.plan = Plan(design, shelf, beside)

    @cached_property
    def builders(self) -> tuple[LayerBuilder[Any], ...]:
        """Builders of the layers that are measured and changed: the first of each role."""
        first: dict[str, LayerBuilder[Any]] = {}
        for builder in self.plan.builders:
            first.setdefault(builder.layer.role, builder)
        return tuple(first.values())

    @cached_property
    def points(self) -> int:
        """Grid points of the wrap that is built to be weighed.

        Raises
        ------
        GeometryError
            If the design is too large to be built.
        """
        return self.plan.grid(Detail.DRAFT).points

    @cached_property
    def mass(self) -> float:
        """Mass that the wrap adds to the blank, g."""
        return self._of_wrap[0]

    @cached_property
    def cover_thread(self) -> float:
        """Length of thread in the first cover, mm."""
        return self._of_wrap[1]

    @cached_property
    def _of_wrap(self) -> tuple[float, float]:
        """Both are read off the wrap that `check` measures, which is too large to be kept."""
        wrap, cover = build_for_bench(self.plan), self.plan.cover
        return added_mass(wrap), 0.0 if cover is None else thread_length(wrap, cover.path)


@dataclass(frozen=True, slots=True)
class Measure:
    """A figure that follows from a design and may be wished for.

    Parameters
    ----------
    name : str
        As it is typed; spaces and hyphens are allowed for its underscores.
    what : str
        Description in plain words.
    kind : Kind
        Quantity, which gives the internal unit and those shown.
    of : callable
        Gives the value, in internal units, for a `Measured`; None if the design has no such figure.
    low, high : float
        Range for any design, in internal units.
    slow : bool
        Whether the wrap must be built to compute it.
    purposes : tuple of Purpose
        Fields with one of these purposes affect it.
    tangent_power : int
        Power of tan(alpha) to which it is proportional if a run keeps its angle; 0 for none.
    """

    name: str
    what: str
    kind: Kind
    of: Callable[[Measured], float | None]
    low: float = 0.0
    high: float = math.inf
    slow: bool = False
    purposes: tuple[Purpose, ...] = (Purpose.RUN,)
    tangent_power: int = 0

    def text(self, value: float, units: Units) -> str:
        """Write a value with its unit.

        Parameters
        ----------
        value : float
            In internal units.
        units : Units
            Units of lengths.
        """
        return FigureFormatter(units).precise(value, self.kind)


def _read(name: str) -> Callable[[Measured], float | None]:
    """Make the function that reads a measure of the first layer that has it."""

    def read(measured: Measured) -> float | None:
        for builder in measured.builders:
            found = kind_of(builder.layer).numbers.measure(name)
            if found is not None:
                return found.value_of(builder)
        return None

    return read


def _of_layers() -> dict[str, Measure]:
    """The measures that kinds of layer define, each name once."""
    made: dict[str, Measure] = {}
    for measure in (measure for kind in KINDS for measure in kind.numbers.measures):
        made.setdefault(
            measure.name,
            Measure(
                measure.name,
                measure.what,
                measure.kind,
                _read(measure.name),
                measure.low,
                measure.high,
                purposes=measure.purposes,
                tangent_power=measure.tangent_power,
            ),
        )
    return made


MEASURES: dict[str, Measure] = _of_layers() | {
    one.name: one
    for one in (
        Measure(
            "wrap_length",
            "the length of the relief along the blank",
            Kind.LENGTH,
            lambda measured: measured.design.placement.length,
            purposes=(Purpose.LENGTH,),
        ),
        Measure(
            "weight",
            "what the whole wrap adds to the bare blank",
            Kind.MASS,
            lambda measured: measured.mass,
            slow=True,
            purposes=(Purpose.WEIGHT, Purpose.THREAD),
        ),
        Measure(
            "cover_thread",
            "thread of the cover on the blank, without tails or waste",
            Kind.THREAD_LENGTH,
            lambda measured: measured.cover_thread,
            slow=True,
            purposes=(Purpose.THREAD,),
        ),
    )
}
"""All measures, by name."""


def measure_named(text: str) -> Measure | None:
    """Find a measure by its name; None if there is none.

    Parameters
    ----------
    text : str
        With underscores, spaces or hyphens.
    """
    return MEASURES.get("_".join(text.casefold().replace("-", " ").replace("_", " ").split()))
