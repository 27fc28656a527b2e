"""What may be wished of a design: measures that follow from it, by the words of `check`."""

import math
from collections.abc import Callable
from dataclasses import dataclass
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
from scenes.figures.figures import Kind
from scenes.figures.written import FOOT, OUNCE, Written
from scenes.files.companion_files import SHIPPED, Beside
from scenes.kinds.cord_lattice.model import CordLattice
from scenes.kinds.mesh_strip.model import MeshStrip
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
        """Thread of the cover, mm."""
        return sum(one.length for one in numbers_of(self.wrap).threads if one.use == "cover")


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
    """

    name: str
    what: str
    kind: Kind
    of: Callable[[Measured], float | None]
    low: float = 0.0
    high: float = math.inf
    slow: bool = False

    def told(self, held: float, units: Units) -> str:
        """Write a value for people, with its unit."""
        return Written(units).precise(held, self.kind)


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
            Kind.ANGLE,
            _angle,
            _FLATTEST,
            _STEEPEST,
        ),
        Measure(
            StripFigure.PITCH.value,
            "how far one strip or cord climbs in a turn",
            Kind.LENGTH,
            _pitch,
        ),
        Measure(
            "turns",
            "turns of each strip or cord from end to end of the relief",
            Kind.NUMBER,
            _turns,
        ),
        Measure(
            StripFigure.GAP.value,
            "the gap along the blank from strip to strip",
            Kind.LENGTH,
            _mesh(lambda mesh, radius, around: mesh.gap_on(radius)),
        ),
        Measure(
            StripFigure.WIDTH.value,
            "the width of the strip across its run",
            Kind.LENGTH,
            _mesh(lambda mesh, radius, around: mesh.width_on(radius)),
        ),
        Measure(
            StripFigure.SHARE.value,
            "the share of the blank under the strip, 0.5 or 50% for half",
            Kind.SHARE,
            _mesh(
                lambda mesh, radius, around: mesh.width_on(radius) / (around * math.cos(mesh.angle))
            ),
            0.01,
            1.0,
        ),
        Measure(
            "cells",
            "cells across the strip; a mesh is cut along its yarns, so whole ones",
            Kind.NUMBER,
            _mesh(lambda mesh, radius, around: mesh.width_on(radius) / mesh.cell),
        ),
        Measure(
            "cells_along",
            "cells along the strip from one crossing of the guide line to the next",
            Kind.NUMBER,
            _mesh(lambda mesh, radius, around: around / math.sin(mesh.angle) / mesh.cell),
        ),
        Measure(
            "cells_ahead",
            "cells by which a turn is ahead of the next one at the seam between them",
            Kind.NUMBER,
            _mesh(lambda mesh, radius, around: around * math.sin(mesh.angle) / mesh.cell),
        ),
        Measure(
            "strip_length",
            "the length of each strip along its run",
            Kind.LENGTH,
            _strip(lambda strip: strip.length),
        ),
        Measure(
            "diamonds",
            "diamonds of a cord lattice from end to end along the guide line",
            Kind.NUMBER,
            _lattice(lambda lattice: lattice.turns * lattice.around),
        ),
        Measure(
            "diamonds_round",
            "diamonds round the blank: as many as cords each way",
            Kind.NUMBER,
            _lattice(lambda lattice: lattice.around),
        ),
        Measure(
            "diamond_length",
            "the length of a diamond along the blank",
            Kind.LENGTH,
            _lattice(lambda lattice: lattice.diamond),
        ),
        Measure(
            "diamond_width",
            "the width of a diamond round the blank",
            Kind.LENGTH,
            _lattice(lambda lattice: lattice.width),
        ),
        Measure(
            "cord_length",
            "the length of each cord along its run",
            Kind.LENGTH,
            _lattice(lambda lattice: lattice.length),
        ),
        Measure(
            "wrap_length",
            "the length of the relief along the blank",
            Kind.LENGTH,
            lambda measured: measured.design.placement.length,
        ),
        Measure(
            "weight",
            "what the whole wrap adds to the bare blank",
            Kind.MASS,
            lambda measured: measured.mass,
            slow=True,
        ),
        Measure(
            "cover_thread",
            "thread of the cover on the blank, without tails or waste",
            Kind.THREAD_LENGTH,
            lambda measured: measured.cover_thread,
            slow=True,
        ),
    )
}
"""By name."""


def measure_named(text: str) -> Measure | None:
    """Find a measure by its name; spaces and hyphens do for underscores."""
    return MEASURES.get("_".join(text.casefold().replace("-", " ").replace("_", " ").split()))
