"""Numbers of mesh strips: for `check`, for the card, for wishes."""

import math
from collections.abc import Iterator, Sequence

from geometry import winding
from geometry.strip import StripFigure
from geometry.winding import Hand
from scenes.figures.figures import Amount, Kind, Sentence, sentence
from scenes.figures.trust import HELD_MM
from scenes.kinds.mesh_strip.builder import StripBuilder
from scenes.kinds.mesh_strip.coupled import CoupledStrip, cell_offsets, circumference_per_strip
from scenes.kinds.mesh_strip.figures import WHOLE_CELL, StripNumbers, strip_gaps, strip_numbers
from scenes.kinds.mesh_strip.model import MeshStripModel, Steering
from scenes.kinds.numbers import (
    ContinuousField,
    DiscreteField,
    FieldNote,
    Line,
    Measure,
    Numbers,
    Purpose,
    SuggestedChange,
)
from scenes.kinds.run import angle_measure, pitch_measure, turns_measure
from scenes.quantities import counted

__all__ = ["NUMBERS"]

_ALIKE = 0.005
"""Two lengths nearer than this, mm, read the same."""

_ALIKE_ANGLES = math.radians(0.05)


def _length(mm: float, *, bare: bool = False) -> Amount:
    return Amount(mm, Kind.CALIPER, bare)


def _varies(ends: tuple[float, float]) -> bool:
    return ends[1] - ends[0] > _ALIKE


# ---- What `check` says


def _lines(builder: StripBuilder) -> Iterator[Line]:
    strip, starts = strip_numbers(builder), builder.layer.starts
    least, most = strip.angles
    along = "{most}" if most - least < _ALIKE_ANGLES else "{least} to {most}"
    yield (
        "angle",
        sentence(
            f"{{angle}} in the middle, {along} along the wrap",
            angle=Amount(strip.angle, Kind.ANGLE),
            least=Amount(least, Kind.ANGLE, bare=True),
            most=Amount(most, Kind.ANGLE),
        ),
    )
    yield "pitch", sentence("{pitch} a turn", pitch=_length(strip.pitch))
    cells = _cells_wide(strip)
    yield "strip width", sentence("{width}, {cells}", width=_length(strip.width), cells=cells)
    yield (
        "gap",
        sentence(
            "{gap} along the blank"
            + (", {least} to {most} along the wrap" if _varies(strip.gaps) else ""),
            gap=_length(strip.gap),
            least=_length(strip.gaps[0], bare=True),
            most=_length(strip.gaps[1]),
        ),
    )
    if builder.layer.laid is not Steering.UNSTEERED:
        yield (
            "unsteered",
            _unsteered(strip, "left to itself the strip would", "keep this gap"),
        )
    share = Amount(strip.covered_share, Kind.SHARE)
    yield "covered share", sentence("{share} of the blank", share=share)
    each = "" if starts == 1 else " each strip"
    yield "turns", sentence(f"{{turns}}{each}", turns=Amount(strip.turns, Kind.NUMBER))
    yield "strip length", sentence(f"{{length}}{each}", length=_length(strip.length))
    for number, whole in enumerate(strip.whole_cells):
        cells_are = counted(whole.cells, "cell is", "cells are")
        yield (
            "whole cells" if number == 0 else "",
            sentence(
                f"{cells_are} {{width}} wide and leave a gap of {{gap}}",
                width=_length(whole.width),
                gap=_length(whole.gap),
            ),
        )


def _cells_wide(strip: StripNumbers) -> str:
    return counted(round(strip.cells, 2), "cell")


def _unsteered(strip: StripNumbers, subject: str, same: str) -> Sentence:
    """Write how the gap changes without steering."""
    if strip.unsteered is None:
        return sentence(f"{subject} turn back on this taper")
    first, last = strip.unsteered
    if abs(first - last) < _ALIKE:
        return sentence(f"{subject} {same}")
    called = ("a gap of" if gap >= 0 else "an overlap of" for gap in (first, last))
    return sentence(
        "{} go from {} {{first}} to {} {{last}}".format(subject, *called),
        first=_length(abs(first)),
        last=_length(abs(last)),
    )


def _warnings(builder: StripBuilder) -> Iterator[Sentence]:
    if builder.layer.laid is not Steering.CONSTANT_GAP:
        return
    # No more than the gaps: a fit asks this of each of its thousands of designs.
    gap, (least, most) = builder.layer.gap_on(builder.plan.middle_radius), strip_gaps(builder)
    if least < -HELD_MM:
        yield sentence(
            "the constant gap of {gap} cannot be held on this blank; turns overlap by up to "
            "{overlap}.",
            gap=_length(gap),
            overlap=_length(-least),
        )
    elif max(gap - least, most - gap) > HELD_MM:
        yield sentence(
            "the constant gap of {gap} cannot be held within {held} on this blank; it goes from "
            "{least} to {most}.",
            gap=_length(gap),
            held=_length(HELD_MM),
            least=_length(least, bare=True),
            most=_length(most),
        )


# ---- What stands under the fields of the card


def _field_notes(builder: StripBuilder) -> Iterator[FieldNote]:
    strip, layer = strip_numbers(builder), builder.layer
    given = next(name for name in layer.alternatives if getattr(layer, name) is not None)
    words = {
        "gap": "The strip is {width} wide, {cells}; it covers {share}.",
        "strip_width": "{cells}; the gap is {gap}, {share} covered.",
        "covered_share": "The strip is {width} wide, {cells}; the gap is {gap}.",
    }
    yield FieldNote(
        given,
        sentence(
            words[given],
            width=_length(strip.width),
            cells=_cells_wide(strip),
            share=Amount(strip.covered_share, Kind.SHARE),
            gap=_length(strip.gap),
        ),
    )
    if len(strip.whole_cells) > 1 or abs(strip.cells - round(strip.cells)) > WHOLE_CELL:
        for option in strip.whole_cells:
            cut = counted(option.cells, "cell")
            label = sentence(
                f"{cut}: {{width}} wide, gap {{gap}}",
                width=_length(option.width),
                gap=_length(option.gap),
            )
            why = "Mesh is cut along its yarns: make the strip whole cells wide."
            yield FieldNote(
                given, suggestion=SuggestedChange(label, "strip_width", option.width, why)
            )
    each = "" if layer.starts == 1 else " each"
    yield FieldNote(
        "angle",
        sentence(
            f"One turn every {{pitch}}; {{turns}} turns, {{length}} of strip{each}.",
            pitch=_length(strip.pitch),
            turns=Amount(strip.turns, Kind.NUMBER),
            length=_length(strip.length),
        ),
    )
    if _varies(strip.gaps):
        least, most = strip.gaps
        yield FieldNote(
            "laid",
            sentence(
                "Gaps of {least} to {most} up the wrap.",
                least=_length(least, bare=True),
                most=_length(most),
            ),
        )
    if layer.laid is Steering.UNSTEERED:
        return
    if strip.unsteered is None:
        yield FieldNote("laid", sentence("Left to itself the strip would turn back on this taper."))
    elif abs(strip.unsteered[0] - strip.unsteered[1]) >= _ALIKE:
        found = _unsteered(strip, "Left to itself it would", "")
        yield FieldNote("laid", Sentence(f"{found.words}.", found.amounts))


def _alternative_values(builder: StripBuilder) -> dict[str, float]:
    strip = strip_numbers(builder)
    return {"gap": strip.gap, "strip_width": strip.width, "covered_share": strip.covered_share}


# ---- What may be wished


def _gap(builder: StripBuilder) -> float:
    return builder.layer.gap_on(builder.plan.middle_radius)


def _share(builder: StripBuilder) -> float:
    return builder.width / (circumference_per_strip(builder) * math.cos(builder.layer.angle))


def _cells_along(builder: StripBuilder) -> float:
    return circumference_per_strip(builder) / math.sin(builder.layer.angle) / builder.layer.cell


def _cells_ahead(builder: StripBuilder) -> float:
    return circumference_per_strip(builder) * math.sin(builder.layer.angle) / builder.layer.cell


_RUN_AND_LENGTH = (Purpose.RUN, Purpose.LENGTH)

_MEASURES: tuple[Measure[StripBuilder], ...] = (
    angle_measure(lambda builder: builder.layer.angle),
    pitch_measure(
        lambda builder: float(winding.pitch(builder.plan.middle_radius, builder.layer.angle))
    ),
    turns_measure(lambda builder: strip_numbers(builder).turns),
    Measure(
        StripFigure.GAP.value, "the gap along the blank from strip to strip", Kind.LENGTH, _gap
    ),
    Measure(
        StripFigure.WIDTH.value,
        "the width of the strip across its run",
        Kind.LENGTH,
        lambda builder: builder.width,
    ),
    Measure(
        StripFigure.SHARE.value,
        "the share of the blank under the strip, 0.5 or 50% for half",
        Kind.SHARE,
        _share,
        0.01,
        1.0,
    ),
    Measure(
        "cells",
        "cells across the strip; a mesh is cut along its yarns, so whole ones",
        Kind.NUMBER,
        lambda builder: builder.width / builder.layer.cell,
    ),
    Measure(
        "cells_along",
        "cells along the strip from one crossing of the guide line to the next",
        Kind.NUMBER,
        _cells_along,
    ),
    Measure(
        "cells_ahead",
        "cells by which a turn is ahead of the next one at the seam between them",
        Kind.NUMBER,
        _cells_ahead,
    ),
    Measure(
        "strip_length",
        "the length of each strip along its run",
        Kind.LENGTH,
        lambda builder: strip_numbers(builder).length,
        purposes=_RUN_AND_LENGTH,
    ),
)

_RUN_AND_WEIGHT = (Purpose.RUN, Purpose.WEIGHT)

# The usual values are common practice, no source.
_CONTINUOUS = (
    ContinuousField("angle", 5.0, 0.0, (Purpose.RUN,), usual=(10, 80)),
    # With the angle, whichever is given. A gap may be nothing at all.
    ContinuousField("gap", 0.1, 0.0, _RUN_AND_WEIGHT, least=1.0, usual=(0, 200)),
    ContinuousField("strip_width", 0.1, 0.0, _RUN_AND_WEIGHT, usual=(2, 60)),
    ContinuousField("covered_share", 0.1, 0.0, _RUN_AND_WEIGHT, usual=(0.1, 1)),
    ContinuousField("cell", 0.05, 2.0, (Purpose.ASKED,), usual=(1, 8)),
    ContinuousField("yarn_height", 0.1, 1.5, (Purpose.WEIGHT,), usual=(0.1, 1)),
    ContinuousField("yarn_width", 0.1, 2.0, (Purpose.ASKED,), usual=(0.2, 2)),
)

_DISCRETE = (
    DiscreteField("starts", 1.5, (Purpose.RUN,), usual=(1, 6)),
    DiscreteField("hand", 0.5, (Purpose.ASKED,), tuple(Hand)),
    DiscreteField("laid", 1.0, (Purpose.ASKED,), tuple(Steering)),
)


def _meeting(builder: StripBuilder) -> Iterator[tuple[str, float | None]]:
    yield "cells", None
    yarn = builder.layer.yarn_width
    if _gap(builder) > yarn:
        yield "cells_along", None
        return
    # No gap, or hardly any: the yarns run on over the seam, which may open by one yarn at most.
    yield "cells_ahead", None
    yield StripFigure.GAP.value, yarn


def _fixed_angle(layer: MeshStripModel) -> float | None:
    return layer.angle if layer.laid is Steering.FIXED_ANGLE else None


def _fit_notes(builder: StripBuilder, wished: Sequence[str]) -> Iterator[str]:
    for name in wished:
        astray = cell_offsets(builder, name) if name in ("cells_along", "cells_ahead") else None
        if astray:
            first, last = (f"{off:.2f}" for off in astray)
            yield (
                "The cells meet in the middle of the wrap; on this taper they are "
                f"{first} and {last} of a cell off at its ends."
            )
    cells = builder.width / builder.layer.cell
    asked = {"cells", "strip_width"}.intersection(wished) or builder.layer.strip_width is not None
    if not asked and abs(cells - round(cells)) > WHOLE_CELL:
        yield (
            f"The strip is {cells:.2f} cells wide, and a mesh is cut along its yarns: "
            "wish for whole cells too, and it can be cut."
        )


NUMBERS = Numbers(
    lines=_lines,
    warnings=_warnings,
    field_notes=_field_notes,
    alternative_values=_alternative_values,
    whole_of={"strip_width": "cell"},  # mesh is cut along its yarns
    measures=_MEASURES,
    continuous=_CONTINUOUS,
    discrete=_DISCRETE,
    meeting=_meeting,
    fixed_angle=_fixed_angle,
    coupled=CoupledStrip,
    fit_notes=_fit_notes,
)
