"""Direction in which a flat thing, a decal or a woven panel, lies on the blank."""

import math
from enum import StrEnum

from scenes.kinds.taper import OVERLAP
from scenes.parts.layer import BandModel, DesignContext, LayerModel
from scenes.problems import refusal
from scenes.quantities import length

__all__ = ["VISIBLE_ANGLE", "RunDirection", "band_under", "check_support", "has_band"]

VISIBLE_ANGLE = math.radians(120)
"""Angle round the blank that is visible from one side, rad: at its ends everything looks half as
wide (cos 60 degrees)."""


class RunDirection(StrEnum):
    """Direction of a flat thing."""

    BLANK = "along the blank"
    BAND = "along the flat band"


def band_under(layer: LayerModel, runs: RunDirection, design: DesignContext) -> BandModel | None:
    """Find the strip beside which a layer lies; None unless it lies along the flat band.

    Parameters
    ----------
    layer : LayerModel
    runs : RunDirection
        Which way the layer runs.
    design : DesignContext
    """
    relief = design.relief_under(layer)
    return relief if runs is RunDirection.BAND and isinstance(relief, BandModel) else None


def has_band(design: DesignContext) -> bool:
    """Whether there is a flat band under the layer that is laid last.

    Parameters
    ----------
    design : DesignContext
    """
    last = design.layers[-1]
    return isinstance(last, BandModel) or isinstance(design.relief_under(last), BandModel)


def check_support(
    layer: LayerModel, runs: RunDirection, at: float | None, design: DesignContext, path: str
) -> None:
    """Check that there is thread under a layer, and a band if the layer lies along one.

    Raises
    ------
    PydanticCustomError
        If there is none, or the middle of the layer is outside the wrap.

    Parameters
    ----------
    layer : LayerModel
    runs : RunDirection
        Which way the layer runs.
    at : float or None
        Where its middle is, mm from the butt; None for the middle of the wrap.
    design : DesignContext
    path : str
        Path of the layer in the design.
    """
    before = design.layers[: next(i for i, other in enumerate(design.layers) if other is layer)]
    if not any(earlier.carries for earlier in before):
        raise refusal("there is no thread under it; list a cover before it", field=path)
    if runs is RunDirection.BAND:
        strip = band_under(layer, runs, design)
        if strip is None:
            raise refusal(
                f'"{runs.value}" there is no strip to lie beside; list a mesh strip and its cover '
                f'first, or give "{RunDirection.BLANK.value}"',
                field=f"{path}.runs",
            )
        if strip.flat(design)[1] <= OVERLAP:
            raise refusal(
                f'"{runs.value}" there is none: the strip covers all of the blank; give the strip '
                f'a gap, or give "{RunDirection.BLANK.value}"',
                field=f"{path}.runs",
            )
    placement, units = design.placement, design.units
    if at is not None and not placement.start <= at <= placement.end:
        raise refusal(
            f"{length(at, units)} is not in the wrap, which runs from "
            f"{length(placement.start, units)} to {length(placement.end, units)}; give a place in "
            "it",
            field=f"{path}.at",
        )
