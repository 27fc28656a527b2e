"""Bench entries of a mesh strip: how to cut it, where to lay it, strain from steering."""

import math
from collections.abc import Iterator

from scenes.figures.figures import Amount, Kind, Sentence, Step, sentence
from scenes.figures.trust import RELIEF_SHARE
from scenes.kinds.builder import PlanContext, ThreadUse, WrapContext
from scenes.kinds.entries import Entries, Mass, square_ends
from scenes.kinds.mesh_strip.builder import StripBuilder
from scenes.kinds.mesh_strip.cut_plan import cut_plan
from scenes.kinds.mesh_strip.marking import laying_marks
from scenes.kinds.mesh_strip.model import Steering
from scenes.kinds.mesh_strip.strip import Strip
from scenes.problems import DESIGN_REFUSALS
from scenes.quantities import counted

__all__ = ["MESH_DENSITY_G_CM3", "bench_warnings", "entries"]

MESH_DENSITY_G_CM3 = 1.39
"""Polyester ([MortonHearle], table 5.1), an assumption: the mesh may be another plastic, or glass
at 2.5."""


def entries(builder: StripBuilder, uses: tuple[ThreadUse, ...], wrap: WrapContext) -> Entries:
    """List what a strip brings to the bench: cut plan, marks, weight, steps and warnings.

    Parameters
    ----------
    builder : StripBuilder
        The strip as it is cut.
    uses : tuple of ThreadUse
        Thread that the layer took.
    wrap : WrapContext
        Built at any detail, of the plan that the strip is in.
    """
    strip = _strip(builder, wrap.plan)
    return Entries(
        sections=(cut_plan(strip), laying_marks(strip)),
        masses=(_mass(strip),),
        steps=tuple(_steps(strip)),
    )


def _strip(builder: StripBuilder, plan: PlanContext) -> Strip:
    """The strip as it is cut beside the one that the design asks for."""
    asked = next(other for other in plan.designed.builders if other.path == builder.path)
    assert isinstance(asked, StripBuilder)
    return Strip(asked, builder, plan)


def _mass(strip: Strip) -> Mass:
    """Mass of the yarns as elliptic cylinders: n along the strip, and one across it per cell."""
    spec = strip.spec
    section = math.pi / 4 * spec.yarn_width * spec.yarn_height
    along = strip.cells * strip.run
    across = strip.run / spec.cell * strip.width
    density = strip.bench.relief_density or MESH_DENSITY_G_CM3
    grams = spec.starts * (along + across) * section * density / 1000
    given = strip.bench.relief_density is not None
    return Mass(
        "mesh",
        grams,
        (0.1 if given else RELIEF_SHARE) * grams,
        strip.plan.middle,
        sentence(
            "{yarn} of yarn, elliptic in section, at {density} g/cm3{guess}",
            yarn=Amount(spec.starts * (along + across), Kind.THREAD_LENGTH),
            density=f"{density:g}",
            guess="" if given else ", taken for polyester: weigh a metre if it matters",
        ),
    )


def _steps(strip: Strip) -> Iterator[Step]:
    spec = strip.spec
    many = "one strip" if spec.starts == 1 else f"{spec.starts} strips"
    yield Step(
        "Cut the strip",
        sentence(
            "Count the long yarns from the raw edge. Cut {many}, {length} long, hard against "
            "the near side of yarn {yarn}: {cells}, {width}.",
            many=many,
            length=Amount(strip.length, Kind.LENGTH),
            yarn=str(strip.cells + 1),
            cells=counted(strip.cells, "cell"),
            width=Amount(strip.width, Kind.LENGTH),
        ),
        sentence("The same yarn count at both ends; no loose ends along the cut."),
        "The blade is bare: cut away from the hand, on a board, along a steel rule.",
    )
    hand = spec.hand.value
    if spec.laid is Steering.CONSTANT_GAP:
        rule = "hold a ruler to the gap every turn"
    elif spec.laid is Steering.FIXED_ANGLE:
        rule = "keep the angle; the gap closes as the blank thins"
    else:
        rule = "do not steer it"
    yield Step(
        "Lay the strip",
        sentence(
            "Tape the tail down below {start}. Wind it {hand}-handed at {angle} to {end}; {rule}.",
            start=Amount(strip.start, Kind.LENGTH),
            end=Amount(strip.end, Kind.LENGTH),
            hand=hand,
            angle=Amount(strip.angle, Kind.ANGLE),
            rule=rule,
        ),
        sentence(
            "The gap reads {gap} every turn, and the edges meet the marks."
            if spec.laid is Steering.CONSTANT_GAP
            else "The edges meet the marks; the gap mid wrap reads {gap}.",
            gap=Amount(strip.gap, Kind.LENGTH),
        ),
    )
    yield square_ends("the strip" if spec.starts == 1 else "the strips", strip.start, strip.end)


def _flat_advice(strip: Strip) -> str:
    """Advise what keeps the edge of a strip from being stretched."""
    path = strip.asked.path
    try:
        unsteered = strip.asked.plan.changed({f"{path}.laid": Steering.UNSTEERED.value})
        for builder in unsteered.builders:
            builder.prepare()
    except DESIGN_REFUSALS:
        return "a narrower strip or a smaller angle helps"
    return f'give {path}.laid "{Steering.UNSTEERED.value}", or a narrower strip'


def bench_warnings(builder: StripBuilder) -> Iterator[Sentence]:
    """Warn of what cannot lie, or cannot be cut, as the design asks.

    Parameters
    ----------
    builder : StripBuilder
        The strip as it is cut.
    """
    strip = _strip(builder, builder.plan)
    spec = strip.spec
    if not strip.whole:
        yield sentence(
            "no whole number of cells of {cell} can be laid as the design asks; the strip is "
            "told as drawn, {width} wide, and must be cut through its cells.",
            cell=Amount(spec.cell, Kind.CALIPER),
            width=Amount(strip.width, Kind.LENGTH),
        )
    if strip.strain > strip.bench.steering_limit:
        yield sentence(
            "steering stretches the strip's edge by {strain}, more than the {limit} that is "
            "taken for flat: expect it to pucker; {advice}.",
            strain=Amount(strip.strain, Kind.SHARE),
            limit=Amount(strip.bench.steering_limit, Kind.SHARE),
            advice=_flat_advice(strip),
        )
    if not strip.from_roll:
        yield sentence(
            "the strip is {width} wide, more than the roll at {roll}: give bench.roll_width, "
            "or more strips of fewer cells.",
            width=Amount(strip.width, Kind.LENGTH),
            roll=Amount(strip.bench.roll_width, Kind.LENGTH),
        )
