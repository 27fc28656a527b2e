"""The lines of the true-size template as JSON that names its bulk data, for the wrap unrolled."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from geometry.unroll import split_at_seam
from render.browser.stage_json import Blobs, Json, numbers
from scenes.bench.pattern import Pattern, pattern_of
from scenes.building.build import Plan
from scenes.problems import DESIGN_REFUSALS

__all__ = ["ANGLE_STEP", "LENGTH_STEP", "pattern_json"]

ANGLE_STEP = 1e-4
"""Step of the angles of lines, rad: 0.001 mm on the thickest blank."""

LENGTH_STEP = 1e-3
"""Step of their distances from the butt, mm."""

_PLACES = 33
"""Places along the blank whose radius is given; between two it is nearly straight."""

_FIGURES = 6


def pattern_json(plan: Plan, blobs: Blobs) -> Json:
    """Lines, marks and radii by which a wrap is drawn unrolled.

    Lines are split at the seam, opposite the guide line, as on the template.

    Parameters
    ----------
    plan : Plan
        As it is drawn: with its strips as designed, not as they are cut.
    blobs : Blobs

    Returns
    -------
    dict
        ``problem``: why there are no lines, one sentence; empty if there are.
    """
    low, high = plan.grid_span
    places = np.linspace(low, high, _PLACES)
    radii = np.column_stack((places, plan.blank.radius(places)))
    shape: Json = {
        "span": plan.wound_span,
        "radii": numbers(radii, _FIGURES),
        "angleStep": ANGLE_STEP,
        "lengthStep": LENGTH_STEP,
    }
    try:
        pattern = pattern_of(plan)
    except DESIGN_REFUSALS as problem:
        return {**shape, "problem": str(problem), "pens": [], "lines": [], "marks": []}
    pens = list(pattern.pens)
    parts = list(_sheet_lines(pattern))
    points = np.concatenate([points for _, points in parts]) if parts else np.zeros((0, 2))
    return {
        **shape,
        "problem": "",
        "pens": [{"shows": pen.shows, "dash": pen.full.dash} for pen in pens],
        "lines": [(place, len(points)) for place, points in parts],
        "points": blobs.columns(np.rint(points / (ANGLE_STEP, LENGTH_STEP)).astype(np.int32)),
        "marks": [(mark.theta, mark.at, mark.name) for mark in pattern.marks],
    }


def _sheet_lines(pattern: Pattern) -> Iterator[tuple[int, NDArray[np.float64]]]:
    """Place of the pen and points of each line on the sheet."""
    pens = list(pattern.pens)
    for line in pattern.lines:
        for part in split_at_seam(line.points):
            yield pens.index(line.pen), part
