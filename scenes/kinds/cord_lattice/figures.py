"""How a cord lattice is wound, in numbers."""

from dataclasses import dataclass

import numpy as np

from geometry import winding as wind
from scenes.kinds.cord_lattice.builder import LatticeBuilder

__all__ = ["LatticeNumbers", "lattice_numbers"]


@dataclass(frozen=True, slots=True)
class LatticeNumbers:
    """A cord lattice as wound.

    Parameters
    ----------
    around : int
        Diamonds round the blank.
    diamond : float
        Length of one along the blank at the middle of the wrap, mm.
    width : float
        Of one round the blank there, mm.
    pitch : float
        Advance of one cord in a turn there, mm.
    turns : float
        Of each cord.
    length : float
        Of each cord along its run, mm.
    crossing : float
        Height where two cords cross, mm.
    """

    around: int
    diamond: float
    width: float
    pitch: float
    turns: float
    length: float
    crossing: float


def lattice_numbers(builder: LatticeBuilder) -> LatticeNumbers:
    """Work out how the cords are wound.

    Parameters
    ----------
    builder : LatticeBuilder

    Raises
    ------
    DesignProblem
        If they cannot be wound as described.
    """
    plan, relief, wound = builder.plan, builder.layer, builder.windings[0]
    radius = plan.middle_radius
    pitch = float(wind.pitch(radius, relief.angle))
    first, last = wound.length_at(np.array([plan.start, plan.end])).tolist()
    return LatticeNumbers(
        relief.count,
        pitch / relief.count,
        2 * np.pi * radius / relief.count,
        pitch,
        wound.turns(plan.start, plan.end),
        last - first,
        2 * relief.cord_diameter * relief.flatten,
    )
