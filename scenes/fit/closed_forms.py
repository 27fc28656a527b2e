"""Wishes solved in closed form: the angle of a run, or a strip from any two of its figures."""

import math
from collections.abc import Mapping
from typing import Any

from scenes.design.layers import kind_of
from scenes.fit.trials import Trials
from scenes.fit.wishes import Wish
from scenes.kinds.numbers import CoupledRun
from scenes.quantities import Units

__all__ = ["angle_for", "turning_of"]


def angle_for(
    trials: Trials, base_changes: Mapping[str, Any], path: str, wish: Wish
) -> float | None:
    """Find the angle of a relief's run at which a wish is met.

    Turns are proportional to tan(alpha), the pitch to its inverse.

    Parameters
    ----------
    trials : Trials
    base_changes : dict
        Changes already made, by path.
    path : str
        Path of the angle.
    wish : Wish
        A wish for a value.

    Returns
    -------
    float or None
        Degrees; None if it is not the angle of a relief, if the run does not keep its angle, or if
        the measure does not follow from it.
    """
    here = trials.evaluate(base_changes)
    design = here.design
    relief = design.relief if design else None
    if design is None or relief is None or path != f"{design.path_of(relief)}.angle":
        return None
    power = wish.measure.tangent_power
    angle = kind_of(relief).numbers.fixed_angle(relief)
    if not power or angle is None:
        return None
    value = here.value(wish.measure)
    if not value:
        return None
    return math.degrees(math.atan(math.tan(angle) * (wish.value / value) ** power))


def turning_of(trials: Trials, base_changes: Mapping[str, Any]) -> CoupledRun | None:
    """Describe the run of a changed design, so that any two of its figures give the others.

    Parameters
    ----------
    trials : Trials
    base_changes : dict
        Changes already made, by path; the changed design may be invalid.

    Returns
    -------
    Turning or None
        None if the relief has no such run.
    """
    design = trials.design
    relief = design.relief
    turning = None if relief is None else kind_of(relief).numbers.coupled
    if relief is None or turning is None:
        return None
    document = trials.changed_document(base_changes)
    index = next(i for i, layer in enumerate(design.layers) if layer is relief)
    placement, in_mm = document["placement"], Units(document["units"]).in_mm
    middle = (placement["from"] + placement["to"]) / 2 * in_mm
    radius = float(design.blank.measured().radius(middle))
    return turning(design.path_of(relief), document["layers"][index], radius, in_mm)
