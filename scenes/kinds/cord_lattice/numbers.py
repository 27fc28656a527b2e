"""Numbers of cord lattices: for `check`, for the card, for wishes."""

from collections.abc import Iterator, Sequence

from scenes.figures.figures import Amount, Kind, sentence
from scenes.kinds.cord_lattice.builder import LatticeBuilder
from scenes.kinds.cord_lattice.figures import lattice_numbers
from scenes.kinds.numbers import (
    ContinuousField,
    DiscreteField,
    FieldNote,
    Line,
    Measure,
    Numbers,
    Purpose,
)
from scenes.kinds.run import angle_measure, pitch_measure, turns_measure
from scenes.quantities import counted

__all__ = ["NUMBERS"]


def _length(mm: float) -> Amount:
    return Amount(mm, Kind.CALIPER)


def _lines(builder: LatticeBuilder) -> Iterator[Line]:
    lattice = lattice_numbers(builder)
    yield "pitch", sentence("{pitch} a turn", pitch=_length(lattice.pitch))
    yield (
        "diamonds",
        sentence(
            f"{lattice.around} round the blank, each {{long}} long and {{wide}} wide",
            long=_length(lattice.diamond),
            wide=_length(lattice.width),
        ),
    )
    yield "crossings", sentence("{high} high", high=_length(lattice.crossing))
    yield "turns", sentence("{turns} each cord", turns=Amount(lattice.turns, Kind.NUMBER))
    yield "cord length", sentence("{length} each cord", length=_length(lattice.length))


def _field_notes(builder: LatticeBuilder) -> Iterator[FieldNote]:
    lattice = lattice_numbers(builder)
    yield FieldNote(
        "count",
        sentence(
            "{diamonds} round the blank, each {long} long and {wide} wide.",
            diamonds=counted(lattice.around, "diamond"),
            long=_length(lattice.diamond),
            wide=_length(lattice.width),
        ),
    )
    crossing = _length(lattice.crossing)
    yield FieldNote("flatten", sentence("{high} high where two cords cross.", high=crossing))
    yield FieldNote(
        "angle",
        sentence(
            "One turn every {pitch}; {turns} turns and {length} of each cord.",
            pitch=_length(lattice.pitch),
            turns=Amount(lattice.turns, Kind.NUMBER),
            length=_length(lattice.length),
        ),
    )


_RUN_AND_LENGTH = (Purpose.RUN, Purpose.LENGTH)

_MEASURES: tuple[Measure[LatticeBuilder], ...] = (
    angle_measure(lambda builder: builder.layer.angle),
    pitch_measure(lambda builder: lattice_numbers(builder).pitch),
    turns_measure(lambda builder: lattice_numbers(builder).turns),
    Measure(
        "diamonds",
        "diamonds from end to end along the guide line",
        Kind.NUMBER,
        lambda builder: lattice_numbers(builder).turns * builder.layer.count,
        purposes=_RUN_AND_LENGTH,
        tangent_power=1,
    ),
    Measure(
        "diamonds_round",
        "diamonds round the blank: as many as cords or bundles of threads each way",
        Kind.NUMBER,
        lambda builder: builder.layer.count,
    ),
    Measure(
        "diamond_length",
        "the length of a diamond along the blank",
        Kind.LENGTH,
        lambda builder: lattice_numbers(builder).diamond,
        tangent_power=-1,
    ),
    Measure(
        "diamond_width",
        "the width of a diamond round the blank",
        Kind.LENGTH,
        lambda builder: lattice_numbers(builder).width,
    ),
    Measure(
        "cord_length",
        "the length of each cord along its run",
        Kind.LENGTH,
        lambda builder: lattice_numbers(builder).length,
        purposes=_RUN_AND_LENGTH,
    ),
)


def _meeting(builder: LatticeBuilder) -> Iterator[tuple[str, float | None]]:
    yield "diamonds", None


def _fit_notes(builder: LatticeBuilder, wished: Sequence[str]) -> Iterator[str]:
    if "diamonds" in wished and builder.plan.design.placement.guide_line:
        yield (
            "The whole wrap is turned against the guide line (placement.guide_line), and so are "
            "its diamonds."
        )


NUMBERS = Numbers(
    lines=_lines,
    field_notes=_field_notes,
    measures=_MEASURES,
    # The usual values are common practice, no source.
    continuous=(
        ContinuousField("angle", 5.0, 0.0, (Purpose.RUN,), usual=(10, 80)),
        ContinuousField("cord_diameter", 0.1, 1.0, (Purpose.WEIGHT,), usual=(0.3, 3)),
        ContinuousField("flatten", 0.1, 1.5, (Purpose.ASKED,), usual=(0.25, 1)),
    ),
    discrete=(
        DiscreteField(
            "count", 0.5, (Purpose.RUN, Purpose.WEIGHT), usual=(1, 16), measure="diamonds_round"
        ),
    ),
    meeting=_meeting,
    fixed_angle=lambda layer: layer.angle,
    fit_notes=_fit_notes,
)
