"""Marks of a mesh strip on the guide line, the gap to hold, strain from steering."""

import math

import numpy as np

from geometry import winding as wind
from geometry.errors import GeometryError
from geometry.winding import Winding
from scenes.figures.figures import (
    Amount,
    Column,
    Figure,
    Kind,
    Mark,
    Section,
    SectionKey,
    Table,
    sentence,
)
from scenes.figures.trust import CALIPER_MM, HELD_MM, MARK_MM
from scenes.kinds.mesh_strip.model import Steering
from scenes.kinds.mesh_strip.strip import Strip

__all__ = ["laying_marks"]


def laying_marks(strip: Strip) -> Section:
    """List the marks, the gap to hold, and how the strip would lie without steering.

    Parameters
    ----------
    strip : Strip
    """
    spec, table = strip.spec, strip.table
    constant = spec.laid is Steering.CONSTANT_GAP
    drift = CALIPER_MM / (2 * strip.radius) * (strip.end - strip.start) + MARK_MM
    limit = (Mark.DEFAULT,) if strip.bench.invented("steering_limit") else ()
    figures = (
        Figure(
            "gap_to_hold",
            "gap to hold by ruler, every turn" if constant else "gap at the middle",
            strip.gap,
            Kind.LENGTH,
            sentence(
                "along the blank, from the strip's upper edge to the lower edge above"
                + ("" if constant else "; laid this way it is not the same every turn")
            ),
            HELD_MM,
            (Mark.MEMORY,),
            main=True,
        ),
        Figure(
            "angle",
            "angle to the blank, mid wrap",
            strip.angle,
            Kind.ANGLE,
            sentence("angle that leaves this gap, at the middle of the wrap"),
            strip.angle_off,
            main=True,
        ),
        Figure(
            "pitch",
            "pitch, mid wrap",
            float(wind.pitch(strip.radius, strip.angle)),
            Kind.LENGTH,
            sentence("advance of one strip in a turn: 2 pi r / tan(angle)"),
            2 * math.pi / math.tan(strip.angle) * CALIPER_MM / 2,
            main=True,
        ),
        Figure(
            "turns",
            "turns of each strip",
            strip.winding.turns(strip.start, strip.end),
            Kind.NUMBER,
            sentence("winding integrated up the measured taper"),
            strip.winding.turns(strip.start, strip.end) * CALIPER_MM / (2 * strip.radius),
        ),
        Figure(
            "steering_strain",
            "stretch at the edge from steering",
            strip.strain,
            Kind.SHARE,
            sentence(
                "most along the wrap of sideways curvature times half the width; "
                "{limit} is taken for the most that lies flat",
                limit=Amount(strip.bench.steering_limit, Kind.SHARE),
            ),
            0.2 * strip.strain,
            limit,
        ),
    )
    rows = tuple(
        (
            int(number) + 1,
            int(turn) + 1,
            _inside(strip, lower),
            _inside(strip, upper),
            _inside(strip, lower, strip.start),
            _inside(strip, upper, strip.start),
            float(gap) if upper < strip.end and upper + gap < strip.end else None,
        )
        for number, turn, lower, upper, gap in zip(
            table.strip, table.turn, table.lower, table.upper, table.gap, strict=True
        )
    )
    how = sentence(
        "where the edges cross the guide line; the ruler on the gap decides, the marks "
        "are there to check it"
    )
    columns = (
        Column("strip", "strip", Kind.COUNT),
        Column("turn", "turn", Kind.COUNT),
        Column("lower", "lower edge, from butt", Kind.LENGTH, how, drift),
        Column("upper", "upper edge, from butt", Kind.LENGTH, how, drift),
        Column("lower_from_start", "lower edge, from start", Kind.LENGTH, how, drift),
        Column("upper_from_start", "upper edge, from start", Kind.LENGTH, how, drift),
        Column(
            "gap",
            "gap above",
            Kind.LENGTH,
            sentence("to the lower edge of the next strip above"),
            HELD_MM,
        ),
    )
    tables = [Table("marks", "edges on the guide line", columns, rows)]
    unsteered_table = _unsteered_table(strip)
    if unsteered_table is not None:
        tables.append(unsteered_table)
    first, last = strip.plan.wound_span
    note = sentence(
        "Transfer this table to the blank, and {first} and {last} too, the wrap's own ends; "
        "measure each from one end.",
        first=Amount(first, Kind.LENGTH, bare=True),
        last=Amount(last, Kind.LENGTH),
    )
    return Section(SectionKey.MARKS, figures, tuple(tables), (note,))


def _inside(strip: Strip, at: float, zero: float = 0.0) -> float | None:
    """Distance of a place from `zero`, mm; None outside the relief."""
    return float(at) - zero if strip.start <= at <= strip.end else None


def _unsteered_table(strip: Strip) -> Table | None:
    """Table of the gaps of the same strip without steering, from the middle of the wrap."""
    winding = _unsteered(strip)
    if winding is None:
        return None
    at, gaps = wind.gaps_along(winding, strip.width)
    here = (at >= strip.start) & (at <= strip.end)
    if not here.any():
        return None
    first, last = float(at[here].min()), float(at[here].max())
    turns = np.arange(np.ceil((first - strip.plan.middle) / strip.spacing), 1e3)
    places = strip.plan.middle + turns * strip.spacing
    # The first and the last gap of all, unless a whole turn comes out there.
    apart = 0.25 * strip.spacing
    places = places[(places > first + apart) & (places < last - apart)]
    places = np.unique(np.concatenate(([first], places, [last])))
    read = np.interp(places, at[here], gaps[here])
    rows = tuple(
        (float(z), float(gap), float(gap - strip.gap)) for z, gap in zip(places, read, strict=True)
    )
    how = sentence(
        "r sin(angle) stays the same, starting right at the middle; the first "
        "gap, every turn, and the last"
    )
    columns = (
        Column("at", "from butt", Kind.LENGTH),
        Column("gap", "gap left alone", Kind.LENGTH, how, strip.gap_off),
        Column("change", "off by", Kind.LENGTH, how, strip.gap_off),
    )
    return Table("drift", "the strip left to itself, turn by turn", columns, rows)


def _unsteered(strip: Strip) -> Winding | None:
    beside = 0.6 * strip.spacing
    try:
        return wind.unsteered(
            strip.plan.blank,
            (strip.start - beside, strip.end + beside),
            strip.angle,
            strip.plan.middle,
            starts=strip.spec.starts,
            hand=strip.spec.hand,
        )
    except GeometryError:
        return None
