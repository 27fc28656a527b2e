"""Cut plan of a mesh strip: whole cells, the yarn to cut beside, length, strips from a roll."""

import math
from collections.abc import Iterator

from geometry import winding as wind
from scenes.figures.figures import (
    Amount,
    Column,
    Figure,
    Kind,
    Mark,
    Section,
    SectionKey,
    Sentence,
    Table,
    sentence,
)
from scenes.kinds.mesh_strip.cutting import cell_widths, is_whole, keeps_gap
from scenes.kinds.mesh_strip.strip import Strip
from scenes.quantities import counted

__all__ = ["cut_plan"]

_TURNED = math.radians(0.05)
"""Change of angle too small for the printed digits, rad."""


def cut_plan(strip: Strip) -> Section:
    """Write the cut plan.

    Parameters
    ----------
    strip : Strip
    """
    spec, bench = strip.spec, strip.bench
    roll = (Mark.PRACTICE,) if bench.invented("roll_width") else ()
    tail = (Mark.DEFAULT,) if bench.invented("strip_tail") else ()
    cells_asked = strip.asked.width / spec.cell
    figures = [
        Figure(
            "strip_width",
            "strip width",
            strip.width,
            Kind.LENGTH,
            sentence(
                "{n} of {cell}; give or take half a yarn",
                n=counted(strip.cells, "cell"),
                cell=Amount(spec.cell, Kind.CALIPER),
            ),
            strip.width_off,
            main=True,
        ),
        Figure(
            "strip_cells",
            "cells in the strip",
            strip.cells,
            Kind.COUNT,
            sentence(
                "nearest to the {asked} that the design asks for, which are {cells} cells",
                asked=Amount(strip.asked.width, Kind.LENGTH),
                cells=Amount(cells_asked, Kind.NUMBER),
            ),
        ),
        Figure(
            "cut_yarn",
            "yarn to cut beside",
            strip.cells + 1,
            Kind.COUNT,
            sentence(
                "count the long yarns from the raw edge and cut hard against the near side of "
                "this one; it stays on the roll as the first yarn of the next strip"
            ),
            main=True,
        ),
        Figure(
            "strip_count", "strips to cut", spec.starts, Kind.COUNT, sentence("one for each start")
        ),
        Figure(
            "strip_length",
            "length of each strip",
            strip.length,
            Kind.LENGTH,
            sentence(
                "run of {run} up the taper, {slant} for the slanted ends, and a tail of "
                "{tail} to tape down at each end",
                run=Amount(strip.run, Kind.LENGTH),
                slant=Amount(strip.width * math.tan(strip.angle), Kind.LENGTH),
                tail=Amount(bench.strip_tail, Kind.LENGTH),
            ),
            strip.length_off,
            tail,
            main=True,
        ),
        Figure(
            "strips_from_roll",
            "strips side by side from the roll",
            strip.from_roll,
            Kind.COUNT,
            sentence("from a roll {width} wide", width=Amount(bench.roll_width, Kind.LENGTH)),
            marks=roll,
        ),
    ]
    if strip.from_roll:
        left = bench.roll_width - strip.from_roll * strip.width
        lengths = math.ceil(spec.starts / strip.from_roll)
        figures += [
            Figure(
                "mesh_length",
                "length of mesh off the roll",
                lengths * strip.length,
                Kind.LENGTH,
                sentence(
                    "{count} off the roll, one strip's length each",
                    count="one length" if lengths == 1 else f"{lengths} lengths",
                ),
                lengths * strip.length_off,
                roll + tail,
            ),
            Figure(
                "roll_left",
                "width left on the roll",
                left,
                Kind.LENGTH,
                sentence("whole cells in it: {cells}", cells=str(int(left / spec.cell + 1e-6))),
                strip.from_roll * strip.width_off,
                roll,
            ),
        ]
    return Section(SectionKey.CUT, tuple(figures), (_widths(strip),), tuple(_as_cut(strip)))


def _widths(strip: Strip) -> Table:
    asked = strip.asked
    keep = "gap" if keeps_gap(asked) else "angle"
    rows = tuple(
        (
            option.cells,
            option.width,
            option.gap if option.fits else None,
            option.share if option.fits else None,
            option.angle,
            f"cut this one, keep the {keep}"
            if option.cells == strip.cells and strip.whole
            else ("" if option.fits else "overlaps at the asked angle"),
        )
        for option in cell_widths(asked, strip.cells)
    )
    pitch = float(wind.pitch(strip.radius, asked.layer.angle))
    angle = Amount(asked.layer.angle, Kind.ANGLE)
    gap = Amount(asked.layer.gap_on(strip.radius), Kind.LENGTH)
    columns = (
        Column("cells", "cells", Kind.COUNT),
        Column(
            "width",
            "width",
            Kind.LENGTH,
            sentence("whole cells; give or take half a yarn"),
            strip.width_off,
        ),
        Column(
            "gap",
            "gap at the asked angle",
            Kind.LENGTH,
            sentence("pitch less the strip along the blank, at {angle}, mid wrap", angle=angle),
            strip.gap_off,
        ),
        Column(
            "share",
            "covered then",
            Kind.SHARE,
            sentence("the strips' part of the pitch, at {angle}", angle=angle),
            strip.gap_off / pitch * strip.spec.starts,
        ),
        Column(
            "angle_for_gap",
            "or angle for the asked gap",
            Kind.ANGLE,
            sentence("at which this width leaves the {gap} asked for", gap=gap),
            strip.angle_off,
        ),
        Column("note", "note"),
    )
    return Table("widths", "whole cells", columns, rows)


def _as_cut(strip: Strip) -> Iterator[Sentence]:
    """Note the width that replaces the design's own where that cannot be cut."""
    spec = strip.spec
    if not is_whole(strip.asked) and strip.whole:
        turned = abs(strip.angle - strip.asked.layer.angle) > _TURNED
        yield sentence(
            "The design's strip, {asked}, is {cells} cells, which no cut along a yarn gives; the "
            "bench works to {n}, {width}, a gap of {gap} at {angle}. Set "
            "{path}.strip_width{and_angle} to that, and the picture agrees.",
            asked=Amount(strip.asked.width, Kind.LENGTH),
            cells=Amount(strip.asked.width / spec.cell, Kind.NUMBER),
            n=counted(strip.cells, "cell"),
            width=Amount(strip.width, Kind.LENGTH),
            gap=Amount(strip.gap, Kind.LENGTH),
            angle=Amount(strip.angle, Kind.ANGLE),
            path=strip.asked.path,
            and_angle=f" and {strip.asked.path}.angle" if turned else "",
        )
