"""What a taper does to cells that meet in the middle of the wrap."""

import math

import numpy as np

from scenes.bench.numbers import strip_of
from scenes.fit.measures import Measured

__all__ = ["cells_astray"]


def cells_astray(measured: Measured, name: str) -> tuple[float, float] | None:
    """Tell how far cells that meet in the middle of the wrap are off at its ends.

    Along the guide line what each turn is off adds up; at the seam between two turns it is what
    these two are off.

    Parameters
    ----------
    measured : Measured
    name : str
        ``cells_along`` or ``cells_ahead``.

    Returns
    -------
    start, end : float
        In cells; None without a strip, or where there is no further turn.
    """
    plan = measured.plan
    strip = strip_of(plan)
    if strip is None or measured.mesh is None:
        return None
    winding, mesh = strip.winding, measured.mesh
    ends = np.array([plan.start, plan.end])
    if name == "cells_ahead":
        around = 2 * np.pi * plan.blank.radius(ends) / mesh.starts
        ahead = around * np.sin(winding.angle_at(ends)) / mesh.cell
        first, last = np.abs(ahead - _ahead(measured)).tolist()
        return first, last
    # Crossings of one line along the blank, counted from the one in the middle.
    step = 2 * math.pi / mesh.starts
    middle = float(winding.phase_at(plan.middle))
    span = (winding.phase_at(ends) - middle) / step
    turns = np.array([math.ceil(span[0]), math.floor(span[1])])
    if turns[0] == turns[1]:
        return None
    run = winding.length_at(winding.z_at(middle + step * turns))
    run -= winding.length_at(np.array([plan.middle]))
    whole = round(measured.around / math.sin(mesh.angle) / mesh.cell)
    first, last = np.abs(run / mesh.cell - whole * turns).tolist()
    return first, last


def _ahead(measured: Measured) -> float:
    mesh = measured.mesh
    assert mesh is not None
    return round(measured.around * math.sin(mesh.angle) / mesh.cell)
