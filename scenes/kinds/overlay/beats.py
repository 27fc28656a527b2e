"""Beats between the layers of a design."""

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from geometry.beat import Beat, beat_of
from scenes.kinds.builder import LayerBuilder, PlanContext, WoundBuilder
from scenes.kinds.overlay.builder import OverlayBuilder

__all__ = ["LayersBeat", "beats_of", "ruling"]


@dataclass(frozen=True, slots=True)
class LayersBeat:
    """Beat of an overlay with the layer under it.

    Parameters
    ----------
    under : WoundBuilder or OverlayBuilder
    over : OverlayBuilder
    beat : Beat
    plain : bool
        Whether the layer beneath has one colour; then the beat is faint.
    """

    under: WoundBuilder[Any] | OverlayBuilder
    over: OverlayBuilder
    beat: Beat
    plain: bool


def beats_of(plan: PlanContext) -> Iterator[LayersBeat]:
    """Find every overlay whose stripes show the rows beneath, in bench order.

    Parameters
    ----------
    plan : PlanContext
    """
    for below, above in itertools.combinations(plan.builders, 2):
        if (
            isinstance(above, OverlayBuilder)
            and above.striped
            and _next_below(plan, above) is below
        ):
            pitch = ruling(below)
            assert pitch is not None
            assert isinstance(below, WoundBuilder | OverlayBuilder)
            yield LayersBeat(below, above, beat_of(pitch, above.pitch), _plain(below))


def ruling(builder: LayerBuilder[Any]) -> float | None:
    """Distance from line to line that a layer draws along the blank, mm; None if it draws none.

    Parameters
    ----------
    builder : LayerBuilder
    """
    if isinstance(builder, OverlayBuilder):
        return builder.pitch
    return builder.cover().laid_width if isinstance(builder, WoundBuilder) else None


def _next_below(plan: PlanContext, builder: LayerBuilder[Any]) -> LayerBuilder[Any] | None:
    before = reversed(plan.before(builder))
    return next((earlier for earlier in before if ruling(earlier) is not None), None)


def _plain(builder: LayerBuilder[Any]) -> bool:
    return len({thread.name for thread in builder.threads()}) == 1
