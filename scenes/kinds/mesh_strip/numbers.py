"""Numbers of mesh strips: for `check`, for the card, for wishes."""

import math
from collections.abc import Iterator, Sequence

from geometry import winding
from geometry.strip import StripFigure
from geometry.winding import Hand
from scenes.figures.figures import Amount, Kind, Sentence, said
from scenes.kinds.mesh_strip.figures import StripNumbers, strip_numbers
from scenes.kinds.mesh_strip.laying import StripBuilder
from scenes.kinds.mesh_strip.model import MeshStripModel, Steering
from scenes.kinds.mesh_strip.turning import StripTurning, cells_astray, round_of
from scenes.kinds.numbers import (
    Line,
    Measure,
    Numbers,
    Purpose,
    Smooth,
    Stepped,
    Take,
    Under,
)
from scenes.kinds.run import angle_measure, pitch_measure, turns_measure

__all__ = ["NUMBERS"]

_ALIKE = 0.005
"""Two lengths nearer than this, mm, read the same."""

_ALIKE_ANGLES = math.radians(0.05)

_HELD = 0.5
"""How closely a constant gap should be kept, mm: what an eye sees along a ruler (from memory)."""

_WHOLE = 1e-3
"""Part of a cell that counts as none."""


def _length(mm: float, *, bare: bool = False) -> Amount:
    return Amount(mm, Kind.CALIPER, bare)


def _varies(ends: tuple[float, float]) -> bool:
    return ends[1] - ends[0] > _ALIKE


# ---- What `check` says


def _lines(laying: StripBuilder) -> Iterator[Line]:
    strip, starts = strip_numbers(laying), laying.layer.starts
    least, most = strip.angles
    along = "{most}" if most - least < _ALIKE_ANGLES else "{least} to {most}"
    yield (
        "angle",
        said(
            f"{{angle}} in the middle, {along} along the wrap",
            angle=Amount(strip.angle, Kind.ANGLE),
            least=Amount(least, Kind.ANGLE, bare=True),
            most=Amount(most, Kind.ANGLE),
        ),
    )
    yield "pitch", said("{pitch} a turn", pitch=_length(strip.pitch))
    cells = Amount(strip.cells, Kind.NUMBER)
    yield "strip width", said("{width}, {cells} cells", width=_length(strip.width), cells=cells)
    yield (
        "gap",
        said(
            "{gap} along the blank"
            + (", {least} to {most} along the wrap" if _varies(strip.gaps) else ""),
            gap=_length(strip.gap),
            least=_length(strip.gaps[0], bare=True),
            most=_length(strip.gaps[1]),
        ),
    )
    if laying.layer.laid is not Steering.UNSTEERED:
        yield (
            "unsteered",
            _unsteered(strip, "left to itself the strip would", "keep this gap"),
        )
    share = Amount(strip.covered_share, Kind.SHARE)
    yield "covered share", said("{share} of the blank", share=share)
    each = "" if starts == 1 else " each strip"
    yield "turns", said(f"{{turns}}{each}", turns=Amount(strip.turns, Kind.NUMBER))
    yield "strip length", said(f"{{length}}{each}", length=_length(strip.length))
    for number, whole in enumerate(strip.whole_cells):
        cells_are = "1 cell is" if whole.cells == 1 else f"{whole.cells} cells are"
        yield (
            "whole cells" if number == 0 else "",
            said(
                f"{cells_are} {{width}} wide and leave a gap of {{gap}}",
                width=_length(whole.width),
                gap=_length(whole.gap),
            ),
        )


def _unsteered(strip: StripNumbers, subject: str, same: str) -> Sentence:
    """Say what becomes of the gap if nobody steers the strip."""
    if strip.unsteered is None:
        return said(f"{subject} turn back on this taper")
    first, last = strip.unsteered
    if abs(first - last) < _ALIKE:
        return said(f"{subject} {same}")
    called = ("a gap of" if one >= 0 else "an overlap of" for one in (first, last))
    return said(
        "{} go from {} {{first}} to {} {{last}}".format(subject, *called),
        first=_length(abs(first)),
        last=_length(abs(last)),
    )


def _warnings(laying: StripBuilder) -> Iterator[Sentence]:
    if laying.layer.laid is not Steering.CONSTANT_GAP:
        return
    strip = strip_numbers(laying)
    least, most = strip.gaps
    if max(strip.gap - least, most - strip.gap) > _HELD:
        yield said(
            "the constant gap of {gap} cannot be held within {held} on this blank; it goes from "
            "{least} to {most}.",
            gap=_length(strip.gap),
            held=_length(_HELD),
            least=_length(least, bare=True),
            most=_length(most),
        )


# ---- What stands under the fields of the card


def _under(laying: StripBuilder) -> Iterator[Under]:
    strip, layer = strip_numbers(laying), laying.layer
    given = next(name for name in layer.alternatives if getattr(layer, name) is not None)
    words = {
        "gap": "The strip is {width} wide, {cells} cells; it covers {share}.",
        "strip_width": "{cells} cells; the gap is {gap}, {share} covered.",
        "covered_share": "The strip is {width} wide, {cells} cells; the gap is {gap}.",
    }
    yield Under(
        given,
        said(
            words[given],
            width=_length(strip.width),
            cells=Amount(strip.cells, Kind.NUMBER),
            share=Amount(strip.covered_share, Kind.SHARE),
            gap=_length(strip.gap),
        ),
    )
    if len(strip.whole_cells) > 1 or abs(strip.cells - round(strip.cells)) > _WHOLE:
        for one in strip.whole_cells:
            cut = "1 cell" if one.cells == 1 else f"{one.cells} cells"
            label = said(
                f"{cut}: {{width}} wide, gap {{gap}}",
                width=_length(one.width),
                gap=_length(one.gap),
            )
            why = "Mesh is cut along its yarns: make the strip whole cells wide."
            yield Under(given, take=Take(label, "strip_width", one.width, why))
    each = "" if layer.starts == 1 else " each"
    yield Under(
        "angle",
        said(
            f"One turn every {{pitch}}; {{turns}} turns, {{length}} of strip{each}.",
            pitch=_length(strip.pitch),
            turns=Amount(strip.turns, Kind.NUMBER),
            length=_length(strip.length),
        ),
    )
    if _varies(strip.gaps):
        least, most = strip.gaps
        yield Under(
            "laid",
            said(
                "Gaps of {least} to {most} up the wrap.",
                least=_length(least, bare=True),
                most=_length(most),
            ),
        )
    if layer.laid is Steering.UNSTEERED:
        return
    if strip.unsteered is None:
        yield Under("laid", said("Left to itself the strip would turn back on this taper."))
    elif abs(strip.unsteered[0] - strip.unsteered[1]) >= _ALIKE:
        found = _unsteered(strip, "Left to itself it would", "")
        yield Under("laid", Sentence(f"{found.words}.", found.amounts))


def _instead(laying: StripBuilder) -> dict[str, float]:
    strip = strip_numbers(laying)
    return {"gap": strip.gap, "strip_width": strip.width, "covered_share": strip.covered_share}


# ---- What may be wished


def _gap(laying: StripBuilder) -> float:
    return laying.layer.gap_on(laying.plan.middle_radius)


def _share(laying: StripBuilder) -> float:
    return laying.width / (round_of(laying) * math.cos(laying.layer.angle))


def _cells_along(laying: StripBuilder) -> float:
    return round_of(laying) / math.sin(laying.layer.angle) / laying.layer.cell


def _cells_ahead(laying: StripBuilder) -> float:
    return round_of(laying) * math.sin(laying.layer.angle) / laying.layer.cell


_RUN_AND_LENGTH = (Purpose.RUN, Purpose.LENGTH)

_MEASURES: tuple[Measure[StripBuilder], ...] = (
    angle_measure(lambda laying: laying.layer.angle),
    pitch_measure(
        lambda laying: float(winding.pitch(laying.plan.middle_radius, laying.layer.angle))
    ),
    turns_measure(lambda laying: strip_numbers(laying).turns),
    Measure(
        StripFigure.GAP.value, "the gap along the blank from strip to strip", Kind.LENGTH, _gap
    ),
    Measure(
        StripFigure.WIDTH.value,
        "the width of the strip across its run",
        Kind.LENGTH,
        lambda laying: laying.width,
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
        lambda laying: laying.width / laying.layer.cell,
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
        lambda laying: strip_numbers(laying).length,
        purposes=_RUN_AND_LENGTH,
    ),
)

_RUN_AND_WEIGHT = (Purpose.RUN, Purpose.WEIGHT)

_SMOOTH = (
    Smooth("angle", 5.0, 0.0, (Purpose.RUN,)),
    # With the angle, whichever is given. A gap may be nothing at all.
    Smooth("gap", 0.1, 0.0, _RUN_AND_WEIGHT, least=1.0),
    Smooth("strip_width", 0.1, 0.0, _RUN_AND_WEIGHT),
    Smooth("covered_share", 0.1, 0.0, _RUN_AND_WEIGHT),
    Smooth("cell", 0.05, 2.0, (Purpose.ASKED,)),
    Smooth("yarn_height", 0.1, 1.5, (Purpose.WEIGHT,)),
    Smooth("yarn_width", 0.1, 2.0, (Purpose.ASKED,)),
)

_STEPPED = (
    Stepped("starts", 1.5, (Purpose.RUN,)),
    Stepped("hand", 0.5, (Purpose.ASKED,), tuple(Hand)),
    Stepped("laid", 1.0, (Purpose.ASKED,), tuple(Steering)),
)


def _meeting(laying: StripBuilder) -> Iterator[tuple[str, float | None]]:
    yield "cells", None
    yarn = laying.layer.yarn_width
    if _gap(laying) > yarn:
        yield "cells_along", None
        return
    # No gap, or hardly any: the yarns run on over the seam, which may open by one yarn at most.
    yield "cells_ahead", None
    yield StripFigure.GAP.value, yarn


def _fixed_angle(layer: MeshStripModel) -> float | None:
    return layer.angle if layer.laid is Steering.FIXED_ANGLE else None


def _fit_notes(laying: StripBuilder, wished: Sequence[str]) -> Iterator[str]:
    for name in wished:
        astray = cells_astray(laying, name) if name in ("cells_along", "cells_ahead") else None
        if astray:
            first, last = (f"{off:.2f}" for off in astray)
            yield (
                "The cells meet in the middle of the wrap; on this taper they are "
                f"{first} and {last} of a cell off at its ends."
            )
    cells = laying.width / laying.layer.cell
    asked = {"cells", "strip_width"}.intersection(wished) or laying.layer.strip_width is not None
    if not asked and abs(cells - round(cells)) > _WHOLE:
        yield (
            f"The strip is {cells:.2f} cells wide, and a mesh is cut along its yarns: add "
            "--wish cells=whole for one that can be cut."
        )


NUMBERS = Numbers(
    lines=_lines,
    warnings=_warnings,
    under=_under,
    instead=_instead,
    measures=_MEASURES,
    smooth=_SMOOTH,
    stepped=_STEPPED,
    meeting=_meeting,
    fixed_angle=_fixed_angle,
    turning=StripTurning,
    fit_notes=_fit_notes,
)
