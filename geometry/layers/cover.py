"""The cover: thread wound tightly, row against row, over relief and flat alike."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.array_blocks import over_blocks
from geometry.layers.drape import Drape, section_perimeter
from geometry.layers.settle import FRICTION, STEEPEST_SLOPE
from geometry.layers.unevenness import uneven_rows
from geometry.surface import Surface

__all__ = ["Cover", "air_under", "steiner_length", "wound_length"]

Array = NDArray[np.float64]
Spans = tuple[tuple[float, float], ...]

_HARMONICS = 8
"""Finest bends of a row, in waves round the blank: at more, friction holds hundredths of a
millimetre."""


@dataclass(frozen=True, slots=True)
class Cover:
    """A close-wound layer of one thread.

    The thread spans each cross-section as its convex hull and adds its own diameter, measured
    square to the hull: on a facet whose normal leans off the radius by the angle t, the radius
    grows by d / cos(t), with tan(t) = r'/r. Where rows would lie too steep along the blank they
    slide (`geometry.layers.settle`).

    Parameters
    ----------
    start, end : float
        First and last row, mm; 5 to 10 mm beyond the relief (common practice, no source).
    diameter : float
        Thickness of the laid thread, mm.
    laid_width : float
        Distance from row to row, mm.
    material : int
        Palette index.
    unevenness : float
        Root mean square height by which rows stand out or lie back, mm; 0 for level rows.
    seed : int
        Seed of the random numbers that choose which rows do.
    steepest_slope : float
        Steepest slope along the blank that rows hold, wound one against the other, mm/mm.
    packed : bool
        Whether rows lie against one another on slopes too, `laid_width` apart along the slope;
        otherwise they are that far apart along the blank, and a slope spreads them.
    """

    start: float
    end: float
    diameter: float
    laid_width: float
    material: int
    unevenness: float = 0.0
    seed: int = 0
    steepest_slope: float = STEEPEST_SLOPE
    packed: bool = False

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
        draped = self.draped(surface)
        turns = self.turns(draped)
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
            own = slice(part.start - stations.start, part.stop - stations.start)
            radius[part] += uneven[own]
            row[part] = turns[own] - surface.theta / (2 * np.pi) + 0.5
            along[part] = hull.mean(axis=1, keepdims=True) * surface.theta
            material[part] = self.material
            lay[part] = 0
            tube[part] = False

        over_blocks(work, stations, surface.theta.size)
        return surface.with_arrays(
            radius=radius, material=material, lay=lay, row=row, along=along, tube=tube
        )

    def level_rows(self, given_up: Spans = ()) -> int:
        """Number of turns of thread if all that it lies on were level.

        Parameters
        ----------
        given_up : tuple of (float, float)
            As for `kept`, mm.
        """
        count = round((self.end - self.start) / self.laid_width)
        middles = np.asarray(self.start + (np.arange(count) + 0.5) * self.laid_width)
        return int(_without(middles, given_up).size)

    def draped(self, surface: Surface) -> Surface:
        """What the thread lies on: `surface` spanned and settled, without the thread.

        Parameters
        ----------
        surface : Surface
            What the layer is laid on.
        """
        return Drape(self.start, self.end, self.steepest_slope).apply(surface)

    def turns(self, draped: Surface) -> Array:
        """Turns from the first row to each place.

        Rows that are packed follow the slopes in the mean round the blank, and bend sideways
        towards the steeper side as far as friction holds them (`_bent`). The last row is as level
        as the first.

        Parameters
        ----------
        draped : Surface
            As `draped` gives it.

        Returns
        -------
        (m, nt) float
            For the stations from `start` to `end`; nt is 1 if rows are not packed along slopes.
        """
        stations = draped.between(self.start, self.end)
        length = draped.z[stations, None] - self.start
        if self.packed and len(length) > 1:
            radius = draped.radius[stations]
            climb = np.diff(radius, axis=0)
            climb *= climb
            climb += draped.step**2
            longer = np.sqrt(climb, out=climb)
            longer -= draped.step
            extra = np.zeros_like(radius)
            np.cumsum(longer, axis=0, out=extra[1:])
            length = length + _bent(extra, draped.theta, FRICTION * float(radius.mean()))
        return np.asarray(length / self.laid_width)

    def kept(self, draped: Surface, given_up: Spans = ()) -> Array:
        """Middles of the cover's rows, without those that give way to other threads.

        Parameters
        ----------
        draped : Surface
            As `draped` gives it.
        given_up : tuple of (float, float)
            Stretches of the blank that are left to other threads, mm from the butt.

        Returns
        -------
        (n,) float
            Mean distance from the butt round the blank, mm, one for each turn of thread.
        """
        z = draped.z[draped.between(self.start, self.end)]
        turns = self.turns(draped).mean(axis=1)
        rest = (self.end - z[-1]) / self.laid_width
        turns, z = np.append(turns, turns[-1] + rest), np.append(z, self.end)
        return _without(np.interp(np.arange(round(turns[-1])) + 0.5, turns, z), given_up)


def _bent(extra: Array, theta: Array, most: float) -> Array:
    """Length that slopes add up to each station, as far as rows bend sideways to follow it.

    A thread that bends sideways by the curvature k is held by friction mu while k <= mu / r, with
    1/r the curvature by which it presses on what it lies on. A row displaced by w(theta) bends by
    w'' / r², so w'' may be mu r at most. Rows are stiff: the n-th harmonic round the blank is
    followed by the share 1 / (1 + (n/c)^4), as of a bar on an elastic bed, with the largest whole c
    that keeps w'' under its limit.

    Parameters
    ----------
    extra : (m, nt) float
        Length that slopes add along each generator, mm.
    theta : (nt,) float
        Angles, rad.
    most : float
        Largest w'', mm.

    Returns
    -------
    (m, nt) float
        mm; the same all round at the first and the last station.
    """
    mean = extra.mean(axis=1, keepdims=True)
    order = np.arange(1, _HARMONICS + 1)
    turn = order * theta[:, None]
    basis = np.concatenate((np.cos(turn), np.sin(turn)), axis=1)
    waves = extra @ basis * (2 / theta.size)
    waves -= waves[-1] * np.linspace(0, 1, len(waves))[:, None]
    both = np.concatenate((order, order))
    for corner in range(_HARMONICS, 0, -1):
        followed = waves / (1 + (both / corner) ** 4)
        if np.abs((followed * both**2) @ basis.T).max() <= most:
            return np.asarray(mean + followed @ basis.T)
    return np.asarray(np.broadcast_to(mean, extra.shape))


def _without(middles: Array, given_up: Spans) -> Array:
    """Middles of rows that lie in none of some stretches, mm."""
    for first, last in given_up:
        middles = middles[(middles < first) | (middles > last)]
    return middles


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
    draped = cover.draped(beneath)
    stations = draped.between(cover.start, cover.end)
    perimeter = section_perimeter(draped.radius[stations])
    rows = cover.kept(draped, given_up)
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
