"""Numbers of cord lattices: for `check`, for the card, for wishes."""

from collections.abc import Iterator, Sequence

from scenes.figures.figures import Amount, Kind, said
from scenes.kinds.cord_lattice.figures import lattice_numbers
from scenes.kinds.cord_lattice.laying import LatticeBuilder
from scenes.kinds.numbers import (
    Line,
    Measure,
    Numbers,
    Purpose,
    Smooth,
    Stepped,
    Under,
)
from scenes.kinds.run import angle_measure, pitch_measure, turns_measure

__all__ = ["NUMBERS"]


def _length(mm: float) -> Amount:
    return Amount(mm, Kind.CALIPER)


def _lines(laying: LatticeBuilder) -> Iterator[Line]:
    lattice = lattice_numbers(laying)
    yield "pitch", said("{pitch} a turn", pitch=_length(lattice.pitch))
    yield (
        "diamonds",
        said(
            f"{lattice.around} round the blank, each {{long}} long and {{wide}} wide",
            long=_length(lattice.diamond),
            wide=_length(lattice.width),
        ),
    )
    yield "crossings", said("{high} high", high=_length(lattice.crossing))
    yield "turns", said("{turns} each cord", turns=Amount(lattice.turns, Kind.NUMBER))
    yield "cord length", said("{length} each cord", length=_length(lattice.length))


def _under(laying: LatticeBuilder) -> Iterator[Under]:
    lattice = lattice_numbers(laying)
    yield Under(
        "count",
        said(
            f"{lattice.around} diamonds round the blank, each {{long}} long and {{wide}} wide.",
            long=_length(lattice.diamond),
            wide=_length(lattice.width),
        ),
    )
    crossing = _length(lattice.crossing)
    yield Under("flatten", said("{high} high where two cords cross.", high=crossing))
    yield Under(
        "angle",
        said(
            "One turn every {pitch}; {turns} turns and {length} of each cord.",
            pitch=_length(lattice.pitch),
            turns=Amount(lattice.turns, Kind.NUMBER),
            length=_length(lattice.length),
        ),
    )


_RUN_AND_LENGTH = (Purpose.RUN, Purpose.LENGTH)

_MEASURES: tuple[Measure[LatticeBuilder], ...] = (
    angle_measure(lambda laying: laying.layer.angle),
    pitch_measure(lambda laying: lattice_numbers(laying).pitch),
    turns_measure(lambda laying: lattice_numbers(laying).turns),
    Measure(
        "diamonds",
        "diamonds of a cord lattice from end to end along the guide line",
        Kind.NUMBER,
        lambda laying: lattice_numbers(laying).turns * laying.layer.count,
        purposes=_RUN_AND_LENGTH,
        tangent_power=1,
    ),
    Measure(
        "diamonds_round",
        "diamonds round the blank: as many as cords each way",
        Kind.NUMBER,
        lambda laying: laying.layer.count,
    ),
    Measure(
        "diamond_length",
        "the length of a diamond along the blank",
        Kind.LENGTH,
        lambda laying: lattice_numbers(laying).diamond,
        tangent_power=-1,
    ),
    Measure(
        "diamond_width",
        "the width of a diamond round the blank",
        Kind.LENGTH,
        lambda laying: lattice_numbers(laying).width,
    ),
    Measure(
        "cord_length",
        "the length of each cord along its run",
        Kind.LENGTH,
        lambda laying: lattice_numbers(laying).length,
        purposes=_RUN_AND_LENGTH,
    ),
)


def _meeting(laying: LatticeBuilder) -> Iterator[tuple[str, float | None]]:
    yield "diamonds", None


def _fit_notes(laying: LatticeBuilder, wished: Sequence[str]) -> Iterator[str]:
    if "diamonds" in wished and laying.plan.design.placement.guide_line:
        yield (
            "The whole wrap is turned against the guide line (placement.guide_line), and so are "
            "its diamonds."
        )


NUMBERS = Numbers(
    lines=_lines,
    under=_under,
    measures=_MEASURES,
    smooth=(
        Smooth("angle", 5.0, 0.0, (Purpose.RUN,)),
        Smooth("cord_diameter", 0.1, 1.0, (Purpose.WEIGHT,)),
        Smooth("flatten", 0.1, 1.5, (Purpose.ASKED,)),
    ),
    stepped=(Stepped("count", 0.5, (Purpose.RUN, Purpose.WEIGHT)),),
    meeting=_meeting,
    fixed_angle=lambda layer: layer.angle,
    fit_notes=_fit_notes,
)
