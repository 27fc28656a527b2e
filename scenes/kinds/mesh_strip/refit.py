"""Mesh strips on another blank: the same share of it, in whole cells."""

import math
from collections.abc import Iterator

from geometry import winding
from scenes.kinds.mesh_strip.model import MeshStripModel
from scenes.kinds.refit import Changes, Refit

__all__ = ["refits"]

_FINER = (1.0, 0.75, 0.5, 0.35)
"""Cells of the mesh over those of the sample, the likeliest first."""

_FEWEST_CELLS = 2
"""Cells across a strip below which it no longer shows scales (from memory)."""

_TURNED = math.radians(12)
"""Most by which a strip that covers all of the blank is turned to be whole cells wide, rad."""


def refits(layer: MeshStripModel, refit: Refit) -> Iterator[Changes]:
    """Yield strips that cover the same share of the blank, cut along a yarn.

    Parameters
    ----------
    layer : MeshStripModel
    refit : Refit
    """
    before = float(winding.pitch(refit.radius_before, layer.angle)) / layer.starts
    share = 1 - layer.gap_on(refit.radius_before) / before
    around = 2 * math.pi * refit.radius / layer.starts
    # From one strip's edge to the same edge of the next, across the run.
    apart = around * math.cos(layer.angle)
    for finer in _FINER:
        mesh = {
            name: round(finer * value, 3)
            for name in ("cell", "yarn_width", "yarn_height", "crossing_height")
            if (value := getattr(layer, name)) is not None
        }
        cell = mesh["cell"]
        cells = round(share * apart / cell)
        if cells < _FEWEST_CELLS:
            continue
        if share > 1 - 1e-6:
            yield {**mesh, **_all_round(layer, cells * cell / around)}
            continue
        for count in dict.fromkeys((cells, cells - 1)):
            yield {
                **mesh,
                "strip_width": round(count * cell, 2),
                "gap": None,
                "covered_share": None,
            }


def _all_round(layer: MeshStripModel, cosine: float) -> Changes:
    """Turn a strip that covers all of the blank until it is whole cells wide."""
    if cosine < 1 and abs(math.acos(cosine) - layer.angle) < _TURNED:
        return {
            "angle": round(math.degrees(math.acos(cosine)), 2),
            "covered_share": 1,
            "gap": None,
            "strip_width": None,
        }
    return {"covered_share": 1, "gap": None, "strip_width": None}
