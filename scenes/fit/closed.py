"""Wishes that are solved in closed form: a run from its turns, or from any two of its figures."""

import math
from collections.abc import Mapping
from typing import Any

from scenes.design.layers import kind_of
from scenes.fit.trials import Trials
from scenes.fit.wishes import Wish
from scenes.kinds.numbers import CoupledRun
from scenes.quantities import Units

__all__ = ["angle_for", "turning_of"]


def angle_for(trials: Trials, stepped: Mapping[str, Any], wish: Wish) -> float | None:
    """Find the angle of a run that keeps it: turns go with tan(alpha), pitch with its inverse.

    Returns
    -------
    float or None
        Degrees; None if the run does not keep its angle, or this wish does not follow from it so.
    """
    here = trials.evaluate(stepped)
    relief = here.design.relief if here.design else None
    power = wish.measure.tangent_power
    angle = None if relief is None else kind_of(relief).numbers.fixed_angle(relief)
    if not power or angle is None:
        return None
    value = here.value(wish.measure)
    if not value:
        return None
    return math.degrees(math.atan(math.tan(angle) * (wish.value / value) ** power))


def turning_of(trials: Trials, stepped: Mapping[str, Any]) -> CoupledRun | None:
    """Prepare to turn the run of a design with some changes, as any two of its figures ask.

    Parameters
    ----------
    trials : Trials
    stepped : dict
        What is changed already, by path; the design need not be right with it.

    Returns
    -------
    Turning or None
        None where the relief has no such run.
    """
    design = trials.design
    relief = design.relief
    turning = None if relief is None else kind_of(relief).numbers.coupled
    if relief is None or turning is None:
        return None
    document = trials.changed_document(stepped)
    index = next(i for i, layer in enumerate(design.layers) if layer is relief)
    placement, in_mm = document["placement"], Units(document["units"]).in_mm
    middle = (placement["from"] + placement["to"]) / 2 * in_mm
    radius = float(design.blank.measured().radius(middle))
    return turning(design.path_of(relief), document["layers"][index], radius, in_mm)
