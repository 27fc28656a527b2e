"""Cords wound both ways under the cover, as a design describes them."""

import math
from typing import Annotated, Literal

from scenes.kinds.taper import radii
from scenes.parts.layer import DesignContext, ReliefModel
from scenes.problems import refusal
from scenes.quantities import Angle, Count, Length, Ratio, about, plain_number

__all__ = ["CordLattice"]


class CordLattice(ReliefModel):
    """Round or flattened cords wound both ways, crossing in diamonds."""

    kind: Literal["cord lattice"]
    cord_diameter: Annotated[float, Length(0.1, 6, "the width of a cord as laid")]
    flatten: Annotated[
        float, Ratio(0.2, 1, "the laid cord's height to its width, 1 for a round cord")
    ] = 1.0
    count: Annotated[int, Count(1, 60, "the number of cords each way")]
    angle: Annotated[float, Angle(5, 85, "the angle between the cords' run and the blank's axis")]

    def flat(self, design: DesignContext) -> tuple[float, float]:
        """Length of the lattice along the blank, and of the cover beyond it, mm."""
        return design.placement.length, design.cover_over(self).margin

    def check(self, design: DesignContext, path: str) -> None:
        """Check that the cords fit round this blank."""
        _check_lattice(design, self, path)


def _check_lattice(design: DesignContext, lattice: CordLattice, path: str) -> None:
    """Cords of one hand must not touch side by side.

    A cord of width w at the angle alpha takes w / cos(alpha) of the blank's round.
    """
    units = design.units
    thinnest = float(radii(design).min())
    around = 2 * math.pi * thinnest
    most = int(around * math.cos(lattice.angle) / lattice.cord_diameter)
    if lattice.count > most:
        raise refusal(
            f"{lattice.count} cords each way do not fit round a "
            f"{about(2 * thinnest, units)} blank at "
            f"{plain_number(math.degrees(lattice.angle))} degrees; give {most} or fewer"
            if most
            else f"{lattice.count} cords each way do not fit round the blank; give cords of "
            f"{about(around * math.cos(lattice.angle) / lattice.count, units)} or less",
            field=f"{path}.count",
        )
