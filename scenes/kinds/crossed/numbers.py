"""Numbers of crossed patterns: for the card and for wishes."""

import math
from collections.abc import Iterator, Sequence

from scenes.figures.figures import Kind
from scenes.kinds.crossed.builder import CrossedBuilder
from scenes.kinds.crossed.model import Marks
from scenes.kinds.numbers import ContinuousField, DiscreteField, Measure, Numbers, Purpose
from scenes.kinds.run import angle_measure
from scenes.problems import DesignProblem

__all__ = ["NUMBERS"]

_WHOLE_WITHIN = 1e-3
"""Part of a diamond that nobody sees."""


def _spacing(builder: CrossedBuilder) -> float:
    return builder.layer.spacing_on(builder.plan.design)


def _angle(builder: CrossedBuilder) -> float:
    pitch = builder.starts * _spacing(builder)
    return math.atan2(2 * math.pi * builder.plan.middle_radius, pitch)


def _diamonds(builder: CrossedBuilder) -> float:
    plan = builder.plan
    return builder.windings[0].turns(plan.start, plan.end) * builder.starts


def _alternative_values(builder: CrossedBuilder) -> dict[str, float]:
    if builder.layer.marks is Marks.BAND:
        return {}
    return {"spacing": _spacing(builder), "angle": _angle(builder)}


_CROSSES = (Purpose.CROSSES,)
_CROSSES_AND_LENGTH = (Purpose.CROSSES, Purpose.LENGTH)

_MEASURES: tuple[Measure[CrossedBuilder], ...] = (
    angle_measure(_angle, _CROSSES),
    Measure(
        "diamonds",
        "diamonds from end to end along the guide line",
        Kind.NUMBER,
        _diamonds,
        purposes=_CROSSES_AND_LENGTH,
    ),
    Measure(
        "diamonds_round",
        "diamonds round the blank: as many as cords or bundles of threads each way",
        Kind.NUMBER,
        lambda builder: builder.starts,
        purposes=_CROSSES,
    ),
    Measure(
        "diamond_length",
        "the length of a diamond along the blank",
        Kind.LENGTH,
        _spacing,
        purposes=_CROSSES_AND_LENGTH,
    ),
    Measure(
        "diamond_width",
        "the width of a diamond round the blank",
        Kind.LENGTH,
        lambda builder: 2 * math.pi * builder.plan.middle_radius / builder.starts,
        purposes=_CROSSES,
    ),
)


def _meeting(builder: CrossedBuilder) -> Iterator[tuple[str, float | None]]:
    plan, winding = builder.plan, builder.windings[0]
    halves = winding.turns(plan.start, plan.middle), winding.turns(plan.middle, plan.end)
    # Marks are counted from the middle: the ends come out whole together only if halves are equal.
    if abs(halves[0] - halves[1]) * builder.starts > _WHOLE_WITHIN:
        raise DesignProblem(
            f'wish: meet is not for marks "{builder.layer.marks.value}", which put fewer diamonds '
            "on the thick side of the middle than on the thin one; wish for whole diamonds "
            "instead.",
            field=f"{builder.path}.marks",
        )
    yield "diamonds", None


def _fit_notes(builder: CrossedBuilder, wished: Sequence[str]) -> Iterator[str]:
    number = _diamonds(builder)
    whole = abs(number - round(number)) < _WHOLE_WITHIN
    if "diamonds" in wished and whole and round(number) % 2 and builder.layer.marks is Marks.EVEN:
        yield (
            "Crosses are counted from the middle of the wrap: with an odd number of diamonds the "
            "ends come half-way between two crosses on the guide line."
        )


# The usual values are common practice, no source.
NUMBERS = Numbers(
    alternative_values=_alternative_values,
    measures=_MEASURES,
    continuous=(
        ContinuousField("spacing", 0.1, 0.0, _CROSSES, usual=(5, 150)),
        ContinuousField("angle", 5.0, 0.0, _CROSSES, usual=(15, 75)),
    ),
    discrete=(
        DiscreteField("repeats", 0.5, _CROSSES, measure="diamonds"),
        DiscreteField("around", 1.0, _CROSSES, measure="diamonds_round"),
    ),
    meeting=_meeting,
    fit_notes=_fit_notes,
)
