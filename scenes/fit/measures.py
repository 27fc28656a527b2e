"""What may be wished of a design: measures that follow from it, by the words of `check`."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from functools import cached_property

from geometry import winding
from geometry.grid import Detail
from geometry.strip import StripFigure
from materials.shelf import Shelf
from scenes.bench.numbers import (
    LatticeNumbers,
    StripNumbers,
    lattice_numbers,
    numbers_of,
    strip_numbers,
)
from scenes.bench.whole import added_mass
from scenes.building.build import Plan, Wrap, build
from scenes.design.document import Design
from scenes.files.companion_files import SHIPPED, Beside
from scenes.kinds.cord_lattice.model import CordLattice
from scenes.kinds.mesh_strip.model import MeshStrip
from scenes.quantities import Units, plain_number

__all__ = ["MEASURES", "Dimension", "Measure", "Measured", "measure_named", "measures_of"]


class Dimension(Enum):
    """What a measure is told in: the units it may be given in, and how it is held."""

    LENGTH = "a length"
    """mm"""
    ANGLE = "an angle"
    """rad"""
    SHARE = "a share"
    """0 to 1"""
    NUMBER = "a number"
    MASS = "a weight"
    """g"""
    THREAD = "a length of thread"
    """m"""

    def unit(self, units: Units) -> str:
        """Name the unit in which a design in `units` gives it; empty for a plain number."""
        return {
            Dimension.LENGTH: units.value,
            Dimension.ANGLE: "degrees",
            Dimension.MASS: "g",
            Dimension.THREAD: "m" if units is Units.MM else "ft",
        }.get(self, "")

    def scale(self, unit: str) -> float | None:
        """How much of what is held one `unit` is; None if it is no unit of this."""
        return _SCALES[self].get(unit)

    def units(self) -> tuple[str, ...]:
        """Name all the units in which it may be given."""
        return tuple(_SCALES[self])


_SCALES: dict[Dimension, dict[str, float]] = {
    Dimension.LENGTH: {"mm": 1.0, "cm": 10.0, "in": 25.4},
    Dimension.ANGLE: {"degrees": math.pi / 180, "deg": math.pi / 180, "°": math.pi / 180},
    Dimension.SHARE: {"": 1.0, "%": 0.01},
    Dimension.NUMBER: {"": 1.0},
    Dimension.MASS: {"g": 1.0, "oz": 28.349523125},
    Dimension.THREAD: {"m": 1.0, "ft": 0.3048},
}
"""The avoirdupois ounce and the foot: international yard and pound agreement, 1959."""


class Measured:
    """A design and its measures, each worked out when it is asked for.

    Parameters
    ----------
    design : Design
    shelf : Shelf
    beside : Beside
        Where its files are looked up.
    """

    def __init__(self, design: Design, shelf: Shelf, beside: Beside = SHIPPED) -> None:
        self.design = design
        self.plan = Plan(design, shelf, beside)
        relief = design.relief
        self.mesh = relief if isinstance(relief, MeshStrip) else None
        self.cords = relief if isinstance(relief, CordLattice) else None

    @property
    def around(self) -> float:
        """The part of the blank's round that each start or cord has, mid wrap, mm."""
        count = self.mesh.starts if self.mesh else self.cords.count if self.cords else 1
        return 2 * math.pi * self.plan.middle_radius / count

    @cached_property
    def strip(self) -> StripNumbers | None:
        """How the mesh strip is wound, if there is one."""
        return strip_numbers(self.plan)

    @cached_property
    def lattice(self) -> LatticeNumbers | None:
        """How the cords are wound, if there are any."""
        return lattice_numbers(self.plan)

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
        """Thread of the cover, m."""
        return sum(one.length for one in numbers_of(self.wrap).threads if one.use == "cover") / 1e3


@dataclass(frozen=True, slots=True)
class Measure:
    """One thing that follows from a design and may be wished.

    Parameters
    ----------
    name : str
        As it is typed; spaces and hyphens do for its underscores.
    what : str
        In plain words.
    dimension : Dimension
    of : callable
        Reads it off; None where the design has no such thing.
    low, high : float
        What any design may have, as it is held.
    slow : bool
        Whether the wrap must be built for it.
    """

    name: str
    what: str
    dimension: Dimension
    of: Callable[[Measured], float | None]
    low: float = 0.0
    high: float = math.inf
    slow: bool = False

    def told(self, held: float, units: Units) -> str:
        """Write a value for people, with its unit."""
        unit = self.dimension.unit(units)
        number = held / (self.dimension.scale(unit) or 1.0)
        return f"{plain_number(float(f'{number:.4g}'))} {unit}".rstrip()


def _mesh(
    read: Callable[[MeshStrip, float, float], float],
) -> Callable[[Measured], float | None]:
    """Read off the mesh strip, with the blank's radius mid wrap and its round for each start."""
    return lambda measured: (
        read(measured.mesh, measured.plan.middle_radius, measured.around) if measured.mesh else None
    )


def _strip(read: Callable[[StripNumbers], float]) -> Callable[[Measured], float | None]:
    return lambda measured: read(measured.strip) if measured.strip else None


def _lattice(read: Callable[[LatticeNumbers], float]) -> Callable[[Measured], float | None]:
    return lambda measured: read(measured.lattice) if measured.lattice else None


def _turns(measured: Measured) -> float | None:
    numbers = measured.strip or measured.lattice
    return numbers.turns if numbers else None


def _angle(measured: Measured) -> float | None:
    relief = measured.mesh or measured.cords
    return relief.angle if relief else None


def _pitch(measured: Measured) -> float | None:
    angle = _angle(measured)
    return None if angle is None else float(winding.pitch(measured.plan.middle_radius, angle))


_FLATTEST, _STEEPEST = math.radians(5), math.radians(85)

MEASURES: dict[str, Measure] = {
    one.name: one
    for one in (
        Measure(
            StripFigure.ANGLE.value,
            "the angle between the run and the blank's axis, at the middle of the wrap",
            Dimension.ANGLE,
            _angle,
            _FLATTEST,
            _STEEPEST,
        ),
        Measure(
            StripFigure.PITCH.value,
            "how far one strip or cord climbs in a turn",
            Dimension.LENGTH,
            _pitch,
        ),
        Measure(
            "turns",
            "turns of each strip or cord from end to end of the relief",
            Dimension.NUMBER,
            _turns,
        ),
        Measure(
            StripFigure.GAP.value,
            "the gap along the blank from strip to strip",
            Dimension.LENGTH,
            _mesh(lambda mesh, radius, around: mesh.gap_on(radius)),
        ),
        Measure(
            StripFigure.WIDTH.value,
            "the width of the strip across its run",
            Dimension.LENGTH,
            _mesh(lambda mesh, radius, around: mesh.width_on(radius)),
        ),
        Measure(
            StripFigure.SHARE.value,
            "the share of the blank under the strip, 0.5 or 50% for half",
            Dimension.SHARE,
            _mesh(
                lambda mesh, radius, around: mesh.width_on(radius) / (around * math.cos(mesh.angle))
            ),
            0.01,
            1.0,
        ),
        Measure(
            "cells",
            "cells across the strip; a mesh is cut along its yarns, so whole ones",
            Dimension.NUMBER,
            _mesh(lambda mesh, radius, around: mesh.width_on(radius) / mesh.cell),
        ),
        Measure(
            "cells_along",
            "cells along the strip from one crossing of the guide line to the next",
            Dimension.NUMBER,
            _mesh(lambda mesh, radius, around: around / math.sin(mesh.angle) / mesh.cell),
        ),
        Measure(
            "cells_ahead",
            "cells by which a turn is ahead of the next one at the seam between them",
            Dimension.NUMBER,
            _mesh(lambda mesh, radius, around: around * math.sin(mesh.angle) / mesh.cell),
        ),
        Measure(
            "strip_length",
            "the length of each strip along its run",
            Dimension.LENGTH,
            _strip(lambda strip: strip.length),
        ),
        Measure(
            "diamonds",
            "diamonds of a cord lattice from end to end along the guide line",
            Dimension.NUMBER,
            _lattice(lambda lattice: lattice.turns * lattice.around),
        ),
        Measure(
            "diamonds_round",
            "diamonds round the blank: as many as cords each way",
            Dimension.NUMBER,
            _lattice(lambda lattice: lattice.around),
        ),
        Measure(
            "diamond_length",
            "the length of a diamond along the blank",
            Dimension.LENGTH,
            _lattice(lambda lattice: lattice.diamond),
        ),
        Measure(
            "diamond_width",
            "the width of a diamond round the blank",
            Dimension.LENGTH,
            _lattice(lambda lattice: lattice.width),
        ),
        Measure(
            "cord_length",
            "the length of each cord along its run",
            Dimension.LENGTH,
            _lattice(lambda lattice: lattice.length),
        ),
        Measure(
            "wrap_length",
            "the length of the relief along the blank",
            Dimension.LENGTH,
            lambda measured: measured.design.placement.length,
        ),
        Measure(
            "weight",
            "what the whole wrap adds to the bare blank",
            Dimension.MASS,
            lambda measured: measured.mass,
            slow=True,
        ),
        Measure(
            "cover_thread",
            "thread of the cover on the blank, without tails or waste",
            Dimension.THREAD,
            lambda measured: measured.cover_thread,
            slow=True,
        ),
    )
}
"""By name."""


def measure_named(text: str) -> Measure | None:
    """Find a measure by its name; spaces and hyphens do for underscores."""
    return MEASURES.get("_".join(text.casefold().replace("-", " ").replace("_", " ").split()))


def measures_of(measured: Measured) -> dict[Measure, float]:
    """Read off all measures that a design has and that need nothing built."""
    read = {one: one.of(measured) for one in MEASURES.values() if not one.slow}
    return {one: value for one, value in read.items() if value is not None}
