"""Numbers of a cord lattice as wound."""

from dataclasses import dataclass

import numpy as np

from geometry import winding as wind
from scenes.kinds.cord_lattice.builder import LatticeBuilder

__all__ = ["LatticeNumbers", "lattice_numbers"]


@dataclass(frozen=True, slots=True)
class LatticeNumbers:
    """Numbers of a cord lattice as wound.

    Parameters
    ----------
    around : int
        Diamonds round the blank.
    diamond : float
        Length of a diamond along the blank at the middle of the wrap, mm.
    width : float
        Width of a diamond round the blank at the middle of the wrap, mm.
    pitch : float
        Advance of one cord in a turn at the middle of the wrap, mm.
    turns : float
        Turns of each cord.
    length : float
        Length of each cord along its run, mm.
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
    """Compute the numbers of a lattice.

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
