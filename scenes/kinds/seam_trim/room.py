"""Room for seam trims beside a relief: how wide they are, and how many threads lie flat there."""

import math
from collections.abc import Iterator
from typing import Any

import numpy as np

from geometry.layers.trim import Edge
from geometry.winding import gaps_along
from scenes.figures.figures import Amount, Kind, Sentence, sentence
from scenes.kinds.builder import BandBuilder, EdgeBuilder
from scenes.kinds.seam_trim.builder import TrimBuilder
from scenes.quantities import IN, Units, counted

__all__ = ["fits_at", "least_gap", "room_warnings"]

_SETTLED = 0.02
"""Relative excess width of threads that burnishing still settles (from memory)."""


def least_gap(strip: BandBuilder[Any]) -> float:
    """Measure the narrowest flat between neighbouring strips, across their run.

    Parameters
    ----------
    strip : BandBuilder

    Returns
    -------
    float
        mm; infinite where the strip makes less than a turn, so that it has no neighbour.
    """
    at, gaps = gaps_along(strip.winding, strip.width)
    here = (at >= strip.plan.start) & (at <= strip.plan.end)
    if not here.any():
        return np.inf
    return float((gaps[here] * np.sin(strip.winding.angle_at(at[here]))).min())


def room_warnings(builder: TrimBuilder) -> Iterator[Sentence]:
    """Warn of a trim that does not lie flat beside the relief, with the number that does.

    Parameters
    ----------
    builder : TrimBuilder

    Yields
    ------
    Sentence
        One for a trim wider than the flat, and one for each earlier trim that it lies on.
    """
    yield from _beyond_the_flat(builder)
    yield from _on_another(builder)


def fits_at(builder: TrimBuilder, offset: float) -> bool:
    """Whether all threads of a trim would lie flat beside the relief if laid at an offset.

    Parameters
    ----------
    builder : TrimBuilder
    offset : float
        From the relief's edge to the side of the first thread, mm.
    """
    return _fitting(builder, _room(builder), offset) == len(builder.ordered_threads)


def _room(builder: TrimBuilder) -> float:
    """Width of the flat, as far as burnishing settles threads on it, mm."""
    relief = builder.plan.relief_under(builder)
    if isinstance(relief, BandBuilder):
        return (1 + _SETTLED) * max(least_gap(relief), 0.0)
    return (1 + _SETTLED) * relief.layer.flat(builder.plan.design)[1]


def _beyond_the_flat(builder: TrimBuilder) -> Iterator[Sentence]:
    relief = builder.plan.relief_under(builder)
    room = _room(builder)
    where = (
        "the flat between neighbouring strips is {room} across at its narrowest"
        if isinstance(relief, BandBuilder)
        else "the cover reaches only {room} beyond the relief"
    )
    asked = len(builder.ordered_threads)
    fits = _fitting(builder, room, builder.layer.offset)
    if fits == asked:
        return
    most = (
        f"at most {counted(fits, 'thread')} {'fits' if fits == 1 else 'fit'} {_at(builder)}"
        if fits
        else "no thread fits here"
    )
    # Snug against the relief there may be room for more.
    snug = _fitting(builder, room, 0.0)
    offset = _largest_offset(builder, room, snug)
    closer = snug > fits
    if closer:
        many = f"all {asked}" if snug == asked > 1 else counted(snug, "thread")
        most += f"; with an offset of {{offset}} or less {many} would fit"
    elif not fits:
        most += ": leave the trim out or make more room"
    both = isinstance(relief, BandBuilder) and len(builder.lines) == 2
    slid = any(slide.distance > 0 for slide in builder.slides)
    counted_in = [
        *(("both edges together",) if both else ()),
        *(("with the offset",) if builder.layer.offset else ()),
        *(("where they come to rest",) if slid else ()),
        *(("with the trims before it",) if any(_earlier(builder)) else ()),
    ]
    yield sentence(
        f"{{trim}}: {counted(asked, 'thread')} {_at(builder)} take {{wide}}"
        f"{', ' if counted_in else ''}{', '.join(counted_in)}, "
        f"but {where}; threads would ride on one another; {most}.",
        trim=builder.path,
        wide=Amount(_taken(builder, asked, builder.layer.offset), Kind.LENGTH),
        room=Amount(room / (1 + _SETTLED), Kind.LENGTH),
        **({"offset": Amount(offset, Kind.CALIPER)} if closer else {}),
    )


def _fitting(builder: TrimBuilder, room: float, offset: float) -> int:
    """Number of threads of a trim that lie in a room, mm, at some offset, mm."""
    fits = len(builder.ordered_threads)
    while fits and _taken(builder, fits, offset) > room:
        fits -= 1
    return fits


def _largest_offset(builder: TrimBuilder, room: float, count: int) -> float:
    """Largest offset at which some threads of a trim lie in a room, down to a hundredth, mm."""
    low, high = 0.0, max(builder.layer.offset, 0.0)
    step = _caliper_step(builder)
    while high - low > step / 2:
        middle = (low + high) / 2
        if _taken(builder, count, middle) <= room:
            low = middle
        else:
            high = middle
    return math.floor(low / step) * step


def _taken(builder: TrimBuilder, count: int, offset: float) -> float:
    """Width that trims take of the flat if this one has some threads only, laid at an offset, mm.

    On a band both its sides count together; at rings the wider of both ends.
    """
    reach = dict.fromkeys(Edge, 0.0)
    for edge, (first, _) in builder.places_from(offset).items():
        reach[edge] = first + _width(builder, count)
    for other in _earlier(builder):
        for edge, (_, last) in other.places.items():
            reach[edge] = max(reach[edge], last)
    band = isinstance(builder.plan.relief_under(builder), BandBuilder)
    return sum(reach.values()) if band else max(reach.values())


def _on_another(builder: TrimBuilder) -> Iterator[Sentence]:
    for other in _earlier(builder):
        # Where both start at one place the document warns of it.
        if builder.layer.offset == other.layer.offset:
            continue
        riding = [
            (last, first, low)
            for edge, (low, high) in builder.places.items()
            for first, last in (other.places.get(edge, (0.0, 0.0)),)
            if min(high, last) - max(low, first) > _SETTLED * (high - low)
        ]
        if not riding:
            continue
        last, first, low = max(riding)
        step = _caliper_step(builder)
        yield sentence(
            "{trim} begins {low} from the relief's edge, but {other} lies there from "
            "{first} to {last}; give {trim} an offset of {last} or more.",
            trim=builder.path,
            other=other.path,
            low=Amount(low, Kind.CALIPER),
            first=Amount(first, Kind.CALIPER, bare=True),
            last=Amount(math.ceil(last / step) * step, Kind.CALIPER),
        )


def _caliper_step(builder: TrimBuilder) -> float:
    """Last digit in which offsets are written, mm."""
    return 0.01 if builder.plan.design.units is Units.MM else 0.001 * IN


def _width(trim: EdgeBuilder[Any], count: int | None = None) -> float:
    """Width of the first threads of a trim, or of all, mm."""
    return sum(thread.diameter_mm for thread in trim.ordered_threads[:count])


def _earlier(builder: TrimBuilder) -> Iterator[EdgeBuilder[Any]]:
    """Trims of the same relief that are laid before this one."""
    plan = builder.plan
    relief = plan.relief_under(builder)
    for other in plan.before(builder):
        if isinstance(other, EdgeBuilder) and plan.relief_under(other) is relief:
            yield other


def _at(builder: TrimBuilder) -> str:
    return "at each edge" if len(builder.lines) == 2 else "at its edge"
