"""Measures of a run round the blank, strip or cord, that several kinds of layer share."""

import math
from collections.abc import Callable
from typing import Any, TypeVar

from geometry.strip import StripFigure
from scenes.figures.figures import Kind
from scenes.kinds.builder import LayerBuilder
from scenes.kinds.numbers import Measure, Purpose

__all__ = ["angle_measure", "pitch_measure", "turns_measure"]

L = TypeVar("L", bound=LayerBuilder[Any])

_FLATTEST, _STEEPEST = math.radians(5), math.radians(85)


def angle_measure(
    value_of: Callable[[L], float], purposes: tuple[Purpose, ...] = (Purpose.RUN,)
) -> Measure[L]:
    """Make the measure of the angle of a run, rad.

    Parameters
    ----------
    value_of : callable
        Reads the value off a builder.
    purposes : tuple of Purpose, optional
        Fields with one of them are changed for it.
    """
    return Measure(
        StripFigure.ANGLE.value,
        "the angle between the run and the blank's axis, at the middle of the wrap",
        Kind.ANGLE,
        value_of,
        _FLATTEST,
        _STEEPEST,
        purposes,
    )


def pitch_measure(value_of: Callable[[L], float]) -> Measure[L]:
    """Make the measure of the advance of a run in a turn, mm.

    Parameters
    ----------
    value_of : callable
        Reads the value off a builder.
    """
    return Measure(
        StripFigure.PITCH.value,
        "how far one strip or cord climbs in a turn",
        Kind.LENGTH,
        value_of,
        tangent_power=-1,
    )


def turns_measure(value_of: Callable[[L], float]) -> Measure[L]:
    """Make the measure of the turns of a run from end to end of the wrap.

    Parameters
    ----------
    value_of : callable
        Reads the value off a builder.
    """
    return Measure(
        "turns",
        "turns of each strip or cord from end to end of the relief",
        Kind.NUMBER,
        value_of,
        purposes=(Purpose.RUN, Purpose.LENGTH),
        tangent_power=1,
    )
