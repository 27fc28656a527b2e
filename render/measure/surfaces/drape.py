"""The drape on reliefs of different kinds, against one Qhull call a section.

Both are measured in processor seconds of this process, so that other work on the machine changes
the figures little.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull

from geometry.blank import Blank
from geometry.grid import Grid
from geometry.layers.drape import Drape
from geometry.layers.relief import CordLattice, MeshStrip
from geometry.layers.taut import compiled_walk
from geometry.layers.taut_sweeps import sweep
from geometry.surface import Surface
from geometry.winding import Hand, constant_gap, fixed_angle
from render.measure.surfaces.processor_time import cpu_seconds

__all__ = ["DrapeCost", "drape_costs", "reliefs"]

Array = NDArray[np.float64]

_LENGTH = 120.0
_SEED = 20


@dataclass(frozen=True, slots=True)
class DrapeCost:
    """Processor seconds for all sections of one relief.

    Parameters
    ----------
    relief : str
        What it is.
    walk : float or None
        By the compiled walk; None where it is not built.
    sweeps : float
        By NumPy's sweeps.
    qhull : float
        By Qhull, called once a section.
    """

    relief: str
    walk: float | None
    sweeps: float
    qhull: float


def reliefs(stations: int, angles: int) -> dict[str, Surface]:
    """Reliefs of different kinds on a blank of 19.6 to 18.6 mm, 120 mm long.

    Parameters
    ----------
    stations, angles : int
        Size of the grid.
    """
    blank = Blank(np.array([0, _LENGTH]), np.array([19.6, 18.6]))
    bare = Surface.bare(blank, Grid.even(0, _LENGTH, stations, angles))
    width = 7 * 2.82 + 0.6
    line = constant_gap(blank, (-20, _LENGTH + 20), width, 18)
    right, left = (
        fixed_angle(blank, (-20, _LENGTH + 20), np.deg2rad(40), starts=8, hand=hand)
        for hand in Hand
    )
    turn, z = bare.theta, bare.z[:, None]
    waves = np.maximum(np.cos(22 * turn + 2.2 * z), np.cos(22 * turn - 2.2 * z))
    rng = np.random.default_rng(_SEED)
    spikes = np.zeros(bare.shape)
    for row in spikes:
        row[rng.choice(angles, 5, replace=False)] = rng.uniform(0.5, 3, 5)
    heights = {
        "rounded ridges": 0.28 * np.maximum(0, waves) ** 8,
        "few tall spikes": spikes,
        "white noise": 0.3 * rng.random(bare.shape),
        "long waves": 0.6 * np.cos(3 * turn + 0.1 * z) + 0.2 * np.cos(7 * turn - 0.3 * z),
    }
    return {
        "strip of mesh": MeshStrip(line, width, 2.82, 0.6, 0.28, 0.5, 0, _LENGTH, 1).apply(bare),
        "crossed cords": CordLattice(right, left, 0.8, 1.0, 0, _LENGTH, 1).apply(bare),
        **{name: bare.with_arrays(radius=bare.radius + up) for name, up in heights.items()},
    }


def drape_costs(stations: int = 1600, angles: int = 1024, runs: int = 5) -> list[DrapeCost]:
    """Measure the drape of every relief.

    Parameters
    ----------
    stations, angles : int
        Size of the grid.
    runs : int
        Runs of which the best counts; Qhull is run twice.
    """
    layer = Drape(0, _LENGTH)
    costs = []
    for name, surface in reliefs(stations, angles).items():
        circle = np.stack((np.cos(surface.theta), np.sin(surface.theta)), axis=1)

        def ours(surface: Surface = surface) -> None:
            layer.apply(surface)

        def qhull(radius: Array = surface.radius, circle: Array = circle) -> None:
            for section in radius:
                ConvexHull(section[:, None] * circle)

        def swept(radius: Array = surface.radius, turn: float = 2 * np.pi / angles) -> None:
            sweep(radius.copy(), turn, None, closed=True)

        walk = None if compiled_walk is None else cpu_seconds(ours, runs)
        costs.append(DrapeCost(name, walk, cpu_seconds(swept, runs), cpu_seconds(qhull, 2)))
    return costs
