"""Bare lengths of a lacquered blank: a surface with its pattern, and the lacquer as its outside.

They are drawn as wraps are, so depth, refraction and what fibres mirror are those of thread under
finish, in every host.
"""

from collections.abc import Iterator
from functools import lru_cache
from math import ceil

from geometry.grid import THINNEST, Grid
from geometry.surface import Surface
from materials.blank_looks import BlankFinish, blank_appearance, is_lacquered
from materials.finish import FINISH
from scenes.building.build import Plan
from scenes.kinds.builder import Palette
from scenes.parts.blank import Grip
from scenes.stage.blank_pattern import LACQUER_MM, dressed, measured_around
from scenes.stage.bodies import WrapBody
from scenes.stage.fittings import LEAST_BARE, bare_spans

__all__ = ["lacquered_bodies", "lacquered_grids"]

_STEP = {
    BlankFinish.LACQUERED: 2.0,
    BlankFinish.CARBON_TWILL: 0.25,
    BlankFinish.CARBON_TAPE: 0.25,
    BlankFinish.METALLIC: 0.3,
    BlankFinish.PEARL: 0.3,
}
"""Distance between stations, mm: an eighth of a tow, or about a flake."""

_ANGLES = 400
"""Angles round the blank: columns of 0.15 mm on a common one."""

_COLUMNS_OF_STRAND = 2
"""Columns of the grid to a strand of fibres along the blank.

A path tracer has a vertex in each column: so it gets one normal on either side of the strand."""

_UNDER_GRIP = 3.0
"""Length of blank that is drawn inside either end of a grip, mm."""


def lacquered_bodies(plan: Plan) -> tuple[WrapBody, ...]:
    """The bare lengths of a rod whose blank is lacquered; none of any other.

    Parameters
    ----------
    plan : Plan
    """
    blank = plan.design.blank
    if not is_lacquered(blank.finish):
        return ()
    return _bodies(_Key(plan))


def lacquered_grids(plan: Plan) -> tuple[Grid, ...]:
    """The grids of `lacquered_bodies`, without these.

    Parameters
    ----------
    plan : Plan
    """
    finish = plan.design.blank.finish
    if not is_lacquered(finish):
        return ()
    return tuple(_grid(finish, start, end) for start, end in _seen_spans(plan))


class _Key:
    """A plan, equal to another with the same bare lengths of the same blank."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        blank = plan.design.blank
        stations = tuple((station.at, station.diameter) for station in blank.stations)
        self.parts = blank.colour, blank.finish, stations, tuple(_seen_spans(plan))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Key) and self.parts == other.parts

    def __hash__(self) -> int:
        return hash(self.parts)


# Cached: an edit of a layer leaves them as they are, and renderers keep what they made of them.
@lru_cache(maxsize=4)
def _bodies(key: _Key) -> tuple[WrapBody, ...]:
    return tuple(_body(key.plan, start, end) for start, end in key.parts[-1])


def _seen_spans(plan: Plan) -> Iterator[tuple[float, float]]:
    """Bare lengths without what grips hide."""
    hidden = sorted(
        (grip.start + _UNDER_GRIP, grip.end - _UNDER_GRIP)
        for grip in plan.design.blank.fitted
        if isinstance(grip, Grip)
    )
    for start, end in bare_spans(plan):
        for first, last in hidden:
            if first < end and last > start and first < last:
                if first > start:
                    yield start, first
                start = max(start, last)
        if end - start >= LEAST_BARE:
            yield start, end


def _body(plan: Plan, start: float, end: float) -> WrapBody:
    blank = plan.design.blank
    palette = Palette()
    bare = palette.index(blank_appearance(blank.colour, blank.finish))
    plain = Surface.bare(plan.blank, _grid(blank.finish, start, end), bare)
    under = plain.with_arrays(radius=plain.radius - LACQUER_MM)
    strand = _COLUMNS_OF_STRAND * measured_around(plan) / _ANGLES
    surface = dressed(under, plan, palette, bare, strand, wet=True)
    return WrapBody(surface, under, plain, palette.looks(), FINISH.ior, strand)


def _grid(finish: BlankFinish, start: float, end: float) -> Grid:
    steps = THINNEST * max(1, ceil((end - start) / _STEP[finish] / THINNEST))
    return Grid.even(start, end, steps + 1, _ANGLES)
