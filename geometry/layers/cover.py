"""The cover: thread wound tightly, row against row, over relief and flat alike."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.array_blocks import over_blocks
from geometry.layers.drape import Drape, section_perimeter
from geometry.layers.unevenness import uneven_rows
from geometry.surface import Surface

__all__ = ["Cover", "air_under", "steiner_length", "wound_length"]

Array = NDArray[np.float64]
Spans = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Cover:
    """A close-wound layer of one thread.

    The thread spans each cross-section as its convex hull and adds its own diameter, measured
    square to the hull: on a facet whose normal leans off the radius by the angle t, the radius
    grows by d / cos(t), with tan(t) = r'/r.

    Parameters
    ----------
    start, end : float
        First and last row, mm; 5 to 10 mm beyond the relief (common practice, no source).
    diameter : float
        Thickness of the laid thread, mm.
    laid_width : float
        Distance from row to row along the blank, mm.
    material : int
        Palette index.
    unevenness : float
        Root mean square height by which rows stand out or lie back, mm; 0 for level rows.
    seed : int
        Seed of the random numbers that choose which rows do.
    """

    start: float
    end: float
    diameter: float
    laid_width: float
    material: int
    unevenness: float = 0.0
    seed: int = 0

    def apply(self, surface: Surface) -> Surface:
        """Wind the thread over a surface.

        Parameters
        ----------
        surface : Surface
            What the layer is laid on.

        Returns
        -------
        Surface
            With the cover on it.
        """
        draped = Drape(self.start, self.end).apply(surface)
        radius, material = draped.radius.copy(), surface.material.copy()
        lay, row, along = surface.lay.copy(), surface.row.copy(), surface.along.copy()
        tube = surface.tube.copy()
        step = 2 * np.pi / surface.theta.size
        stations = surface.between(self.start, self.end)
        uneven = uneven_rows(
            surface.z[stations], surface.theta, self.laid_width, self.unevenness, self.seed
        )

        def work(part: slice) -> None:
            hull = draped.radius[part]
            lean = np.roll(hull, -1, axis=1)
            lean -= np.roll(hull, 1, axis=1)
            lean /= 2 * step * hull
            lean *= lean
            lean += 1
            radius[part] += self.diameter * np.sqrt(lean, out=lean)
            radius[part] += uneven[part.start - stations.start : part.stop - stations.start]
            turns = (surface.z[part, None] - self.start) / self.laid_width
            row[part] = turns - surface.theta / (2 * np.pi) + 0.5
            along[part] = hull.mean(axis=1, keepdims=True) * surface.theta
            material[part] = self.material
            lay[part] = 0
            tube[part] = False

        over_blocks(work, stations, surface.theta.size)
        return surface.with_arrays(
            radius=radius, material=material, lay=lay, row=row, along=along, tube=tube
        )

    def rows(self) -> int:
        """Number of turns of thread on the blank."""
        return round((self.end - self.start) / self.laid_width)

    def kept(self, given_up: Spans = ()) -> Array:
        """Middles of the cover's rows, without those that give way to other threads.

        Parameters
        ----------
        given_up : tuple of (float, float)
            Stretches of the blank that are left to other threads, mm from the butt.

        Returns
        -------
        (n,) float
            Distance from the butt, mm.
        """
        middles = np.asarray(self.start + (np.arange(self.rows()) + 0.5) * self.laid_width)
        for first, last in given_up:
            middles = middles[(middles < first) | (middles > last)]
        return np.asarray(middles, dtype=np.float64)


def steiner_length(perimeter: Array, diameter: float) -> Array:
    """Length of one turn of thread round a convex section, mm.

    The centre line runs d/2 outside the section, which by Steiner's formula lengthens a convex
    perimeter P to P + pi d; climbing one row a turn adds the row's own rise,
    sqrt((P + pi d)² + d²).

    Parameters
    ----------
    perimeter : (...) float
        Perimeter of the section the thread lies on, mm.
    diameter : float
        Thread diameter, mm.

    Returns
    -------
    (...) float
        mm.
    """
    return np.hypot(np.asarray(perimeter) + np.pi * diameter, diameter)


def wound_length(beneath: Surface, cover: Cover, given_up: Spans = ()) -> float:
    """Length of thread on the blank for a cover, mm, without tails or waste.

    Parameters
    ----------
    beneath : Surface
        What it is wound over.
    cover : Cover
        Cover that is wound.
    given_up : tuple of (float, float)
        As for `Cover.kept`, mm.
    """
    draped = Drape(cover.start, cover.end).apply(beneath)
    stations = draped.between(cover.start, cover.end)
    perimeter = section_perimeter(draped.radius[stations])
    rows = cover.kept(given_up)
    turns = np.interp(rows, draped.z[stations], steiner_length(perimeter, cover.diameter))
    return float(turns.sum())


def air_under(beneath: Surface, cover: Cover) -> float:
    """Air between the threads of a cover and what they span, mm³.

    Parameters
    ----------
    beneath : Surface
        What it is wound over.
    cover : Cover
        Cover that is wound.
    """
    draped = Drape(cover.start, cover.end).apply(beneath)
    stations = draped.between(cover.start, cover.end)
    outer, inner = draped.radius[stations], beneath.radius[stations]
    cell = beneath.step * 2 * np.pi / beneath.theta.size
    return float(((outer - inner) * (outer + inner)).sum() / 2 * cell)
