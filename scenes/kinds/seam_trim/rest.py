"""Whether seam trims stay where they are laid, and what helps where they do not."""

import math
from collections.abc import Iterator

from geometry.layers.settle import FRICTION
from geometry.layers.trim import StripEdge
from scenes.figures.figures import Amount, Kind, Sentence, sentence
from scenes.kinds.seam_trim.builder import TrimBuilder
from scenes.kinds.seam_trim.model import FRICTION_BOUNDS
from scenes.kinds.seam_trim.room import fits_at
from scenes.quantities import IN, Units

__all__ = ["rest_warnings"]

_SHOWN = 0.05
"""Least slide that is warned of, mm: what a caliper reads."""


def rest_warnings(builder: TrimBuilder) -> Iterator[Sentence]:
    """Warn of a trim that slides off the ramp beside the relief, with what helps.

    Parameters
    ----------
    builder : TrimBuilder

    Yields
    ------
    Sentence
        One at most, for the edge on which it slides farther.
    """
    slide = max(builder.slides, key=lambda slide: slide.distance)
    if slide.distance <= _SHOWN:
        return
    layer = builder.layer
    step = 0.05 if builder.plan.design.units is Units.MM else 0.002 * IN
    offset = math.ceil((layer.offset + slide.distance) / step) * step
    steepest = max(slide.fall for slide in builder.slides)
    friction = math.ceil(20 * steepest) / 20
    helps = []
    if slide.held and fits_at(builder, offset):
        helps.append("give it an offset of {offset}")
    if friction <= FRICTION_BOUNDS[1]:
        helps.append(f"tack it down and give it a friction of {friction:g}")
    if not helps:
        helps.append("make the relief lower")
    edge = "the strip's edge" if isinstance(builder.lines[0], StripEdge) else "the relief's end"
    marked = ", from memory" if layer.friction == FRICTION else ""
    yield sentence(
        f"{{trim}} slides {{distance}} out on a slope of {{slope}} (friction holds {{holds}}"
        f"{marked}) and shows {edge}: {', or '.join(helps)}.",
        trim=builder.path,
        slope=Amount(math.atan(slide.fall), Kind.ANGLE),
        holds=Amount(math.atan(layer.friction), Kind.ANGLE),
        distance=Amount(slide.distance, Kind.CALIPER),
        **({"offset": Amount(offset, Kind.CALIPER)} if "{offset}" in helps[0] else {}),
    )
