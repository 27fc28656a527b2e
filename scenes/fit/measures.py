"""What may be wished of a design: measures that follow from it, by the words of `check`."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from geometry.grid import Detail
from materials.shelf import Shelf
from scenes.bench.report import added_mass
from scenes.building.build import Plan, Wrap, build
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
"""The units in which a measure may be given, and what one of each is as it is held; the empty one
is for a number without a unit."""


class Measured:
    """A design and its measures, each worked out when it is asked for.

    Parameters
    ----------
    design : Design
    shelf : Shelf
    beside : CompanionFiles
        Where its files are looked up.
    """

    def __init__(self, design: Design, shelf: Shelf, beside: CompanionFiles = SHIPPED) -> None:
        self.design = design
        self.plan = Plan(design, shelf, beside)

    @cached_property
    def builders(self) -> tuple[LayerBuilder[Any], ...]:
        """The layers that are measured and changed: the first of each role."""
        first: dict[str, LayerBuilder[Any]] = {}
        for builder in self.plan.builders:
            first.setdefault(builder.layer.role, builder)
        return tuple(first.values())

    @cached_property
    def wrap(self) -> Wrap:
        """The wrap at draft detail: thread and weight need no more."""
        return build(self.plan, Detail.DRAFT)

    @cached_property
    def mass(self) -> float:
        """What the wrap adds to the blank, g."""
        return added_mass(self.wrap)

    @cached_property
    def cover_thread(self) -> float:
        """Thread of the first cover, mm."""
        cover = self.plan.cover
        path = None if cover is None else cover.path
        return sum(use.length for use in self.wrap.threads() if use.use == path)


@dataclass(frozen=True, slots=True)
class Measure:
    """One thing that follows from a design and may be wished.

    Parameters
    ----------
    name : str
        As it is typed; spaces and hyphens do for its underscores.
    what : str
        In plain words.
    kind : Kind
        What it is told in, and how it is held.
    of : callable
        Reads it off; None where the design has no such thing.
    low, high : float
        What any design may have, as it is held.
    slow : bool
        Whether the wrap must be built for it.
    purposes : tuple of Purpose
        Fields with one of them are changed for it.
    tangent_power : int
        Power of tan(alpha) that it goes with, where a run keeps its angle; 0 for none.
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

    def text(self, held: float, units: Units) -> str:
        """Write a value for people, with its unit."""
        return FigureFormatter(units).precise(held, self.kind)


def _read(name: str) -> Callable[[Measured], float | None]:
    """Read a measure off the first layer that has it."""

    def read(measured: Measured) -> float | None:
        for builder in measured.builders:
            found = kind_of(builder.layer).numbers.measure(name)
            if found is not None:
                return found.value_of(builder)
        return None

    return read


def _of_layers() -> dict[str, Measure]:
    """The measures that kinds of layer bring, each name once."""
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
"""By name."""


def measure_named(text: str) -> Measure | None:
    """Find a measure by its name; spaces and hyphens do for underscores."""
    return MEASURES.get("_".join(text.casefold().replace("-", " ").replace("_", " ").split()))
