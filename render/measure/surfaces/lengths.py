"""Layers, finish and maps (crossings among them) of a wrap of any length: their time and memory.

Each length is measured in a process of its own, because the peak of a process only rises.
"""

import json
import resource
import subprocess
import sys
import time
from dataclasses import asdict, dataclass
from functools import partial

from geometry.errors import GeometryError
from geometry.grid import Detail
from geometry.kept import KEPT
from materials.shelf import Shelf
from render.measure.surfaces.processor_time import cpu_seconds
from scenes.building.build import Plan, build
from scenes.design.document import Design, with_changes
from scenes.files import samples
from scenes.stage.maps import SurfaceMaps, surface_maps
from scenes.stage.other_wraps import body_of

__all__ = ["LengthCost", "length_cost", "lengthened"]

_START = 100.0
_DIAMETER = 17.0


@dataclass(frozen=True, slots=True)
class LengthCost:
    """What a wrap costs from its plan to its maps, at normal detail.

    Parameters
    ----------
    length : float
        mm.
    points : int
        Points of its grid.
    processor, elapsed : float
        Best of the runs, s.
    peak : int
        Most memory that the process had, less what it had before, bytes.
    """

    length: float
    points: int
    processor: float
    elapsed: float
    peak: int


def lengthened(length: float) -> Design:
    """The sample half-scale with a wrap of another length, on a blank of one diameter.

    Parameters
    ----------
    length : float
        mm.
    """
    ends = (0.0, _START / 2, _START + length / 2, _START + length, 2 * _START + length)
    return with_changes(
        samples.load("half-scale").without_variants(),
        {
            "placement.from": _START,
            "placement.to": _START + length,
            "blank.fitted": [],
            "blank.stations": [{"at": at, "diameter": _DIAMETER} for at in ends],
        },
    )


def length_cost(length: float, runs: int = 3) -> LengthCost | None:
    """Measure a length in a process of its own; None where it is refused as too large.

    Parameters
    ----------
    length : float
        mm.
    runs : int
    """
    command = [sys.executable, "-m", "render.measure.surfaces.lengths", str(length), str(runs)]
    answer = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    found = json.loads(answer)
    return LengthCost(**found) if found else None


def _measured(length: float, runs: int) -> LengthCost | None:
    plan = Plan(lengthened(length), Shelf.shipped())
    try:
        points = plan.grid(Detail.NORMAL).points
    except GeometryError:
        return None
    _mapped(Plan(lengthened(20.0), Shelf.shipped()))  # what is imported and kept does not count
    before = _peak()
    elapsed = float("inf")
    processor = float("inf")
    for _ in range(runs):
        start = time.perf_counter()
        processor = min(processor, cpu_seconds(partial(_mapped, plan), 1))
        elapsed = min(elapsed, time.perf_counter() - start)
    return LengthCost(length, points, processor, elapsed, _peak() - before)


def _mapped(plan: Plan) -> SurfaceMaps:
    KEPT.forget()
    body = body_of(build(plan))
    return surface_maps(body.surface, body.beneath, body.outside, body.palette, body.row_width)


def _peak() -> int:
    unit = 1 if sys.platform == "darwin" else 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit


if __name__ == "__main__":
    cost = _measured(float(sys.argv[1]), int(sys.argv[2]))
    sys.stdout.write(json.dumps(cost and asdict(cost)))
