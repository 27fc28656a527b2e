"""Seam trim: round threads laid side by side along the edge where relief meets flat."""

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Protocol, Self, TypeVar

import numpy as np
from numpy.typing import NDArray

from geometry.layers.taut import taut
from geometry.surface import Surface
from geometry.winding import Hand, Winding

__all__ = ["Edge", "Line", "Ring", "Run", "SeamTrim", "StripEdge", "TrimThread"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]
T = TypeVar("T", bound=np.generic)

_CONTACTS = np.linspace(-0.9, 0.9, 7)
"""Places across a thread, in radii, where it is tried against what lies beneath."""


class Edge(StrEnum):
    """Which edge of the relief, as seen from the butt."""

    LOWER = "lower"
    UPPER = "upper"

    @property
    def outward(self) -> int:
        """Direction along z from the relief out onto the flat."""
        return -1 if self is Edge.LOWER else 1


@dataclass(frozen=True, slots=True)
class Run:
    """Lines that threads follow, for a grid of angles: arrays of (turns, nt).

    Parameters
    ----------
    z : (k, nt) float
        Where each line crosses each generator, mm.
    sine : (k, nt) float
        Sine of the line's angle to the axis.
    lay : (k, nt) float
        Direction from the hoop, rad.
    along : (k, nt) float
        Distance along the line, mm.
    starts : int
        A turn goes on in the one so many rows further on; 0 if each turn closes in itself.
    hand : Hand
        Which way lines climb that do not close.
    """

    z: Array
    sine: Array
    lay: Array
    along: Array
    starts: int = 0
    hand: Hand = Hand.RIGHT

    @property
    def closed(self) -> bool:
        """Whether each line closes in one turn."""
        return self.starts == 0

    def joined(self, values: NDArray[T]) -> NDArray[T]:
        """Join the turns of each line, in the order in which a thread follows it.

        Parameters
        ----------
        values : (k, nt) array
            One for each turn and angle; k is a multiple of `starts`.

        Returns
        -------
        (starts, k / starts * nt) array
            `values` itself where lines close.
        """
        if self.closed:
            return values
        upwards = values[:, :: self.hand.sign].reshape(-1, self.starts, values.shape[1])
        return np.asarray(upwards.swapaxes(0, 1).reshape(self.starts, -1))

    def parted(self, values: NDArray[T]) -> NDArray[T]:
        """Part lines into their turns: the inverse of `joined`.

        Parameters
        ----------
        values : (starts, k / starts * nt) array
            One for each place along each line.

        Returns
        -------
        (k, nt) array
        """
        if self.closed:
            return values
        nt = self.z.shape[1]
        turns = values.reshape(self.starts, -1, nt).swapaxes(0, 1).reshape(-1, nt)
        return np.asarray(turns[:, :: self.hand.sign])


class Line(Protocol):
    """Something on the blank that threads can be laid along."""

    def run(self, surface: Surface, beside: float) -> Run:
        """Give a line beside this one.

        Parameters
        ----------
        surface : Surface
            Grid, and what the threads lie on.
        beside : float
            Distance of the line from this one towards its outer side, mm.
        """
        ...


@dataclass(frozen=True, slots=True)
class StripEdge:
    """The edge of a wound strip.

    Parameters
    ----------
    winding : Winding
        Centre line of the strip.
    width : float
        Width of the strip across its run, mm.
    edge : Edge
        Which of its two edges.
    """

    winding: Winding
    width: float
    edge: Edge

    def run(self, surface: Surface, beside: float) -> Run:
        """Give a line outside the edge.

        Parameters
        ----------
        surface : Surface
            Grid, and what the threads lie on.
        beside : float
            Distance of the line from the edge, across the run, mm.
        """
        winding = self.winding
        centre = winding.crossings(surface.theta, winding.starts - 1).T
        # Whole rounds of all starts, so that turns can be joined.
        centre = centre[: len(centre) // winding.starts * winding.starts]
        angle = winding.angle_at(centre)
        sine = np.sin(angle)
        z = centre + self.edge.outward * (self.width / 2 + beside) / sine
        lay = winding.hand.sign * (np.pi / 2 - angle)
        return Run(z, sine, lay, winding.length_at(centre), winding.starts, winding.hand)

    def moved(self, distance: float) -> Self:
        """Give the edge of a strip that is wider.

        Parameters
        ----------
        distance : float
            How far out this edge moves, mm.
        """
        return replace(self, width=self.width + 2 * distance)


@dataclass(frozen=True, slots=True)
class Ring:
    """A ring round the blank, where a relief without side edges begins or ends.

    Parameters
    ----------
    at : float
        Distance from the butt, mm.
    edge : Edge
        Which end of the relief it is.
    """

    at: float
    edge: Edge

    def run(self, surface: Surface, beside: float) -> Run:
        """Give a ring outside the end.

        Parameters
        ----------
        surface : Surface
            Grid, and what the threads lie on.
        beside : float
            Distance of the line from the end, mm.
        """
        at = self.at + self.edge.outward * beside
        radius = surface.radius[np.argmin(np.abs(surface.z - at))].mean()
        z = np.full((1, surface.theta.size), at)
        along = radius * surface.theta[None, :]
        return Run(z, np.ones_like(z), np.zeros_like(z), along)

    def moved(self, distance: float) -> Self:
        """Give a ring further out.

        Parameters
        ----------
        distance : float
            How far out, mm.
        """
        return replace(self, at=self.at + self.edge.outward * distance)


@dataclass(frozen=True, slots=True)
class TrimThread:
    """One thread of a trim.

    Parameters
    ----------
    diameter : float
        Diameter of the thread, mm.
    material : int
        Palette index.
    """

    diameter: float
    material: int


@dataclass(frozen=True, slots=True)
class SeamTrim:
    """Threads along one edge, the first nearest the relief, each touching the next.

    Each thread is a round tube. Its centre line rides where a circle of its radius, let down on
    what lies beneath, first touches: on the flat it lies against the blank, and where the relief's
    flank is in the way it climbs. Hollows along its run it spans (`geometry.layers.taut`); where it
    is cut it is held down on what lies there.

    Parameters
    ----------
    line : Line
        An edge of the relief, or any other line on the blank.
    threads : tuple of TrimThread
        From the relief outwards.
    offset : float
        From the edge to the side of the first thread, mm; negative lies on the relief.
    start, end : float
        Where the threads are cut, mm.
    """

    line: Line
    threads: tuple[TrimThread, ...]
    offset: float
    start: float
    end: float

    def apply(self, surface: Surface) -> Surface:
        """Lay the threads, all on what was there before the first.

        Parameters
        ----------
        surface : Surface
            What the layer is laid on.

        Returns
        -------
        Surface
            With the threads on it.
        """
        radius, material = surface.radius.copy(), surface.material.copy()
        lay, row, along = surface.lay.copy(), surface.row.copy(), surface.along.copy()
        tube = surface.tube.copy()
        beside = self.offset
        for number, thread in enumerate(self.threads):
            half = thread.diameter / 2
            run = self.line.run(surface, beside + half)
            beside += thread.diameter
            centre, stand = _stretched(run, _rest(surface, run, half), half, self._cut(run))
            station, column, turn, across, top = _tube(
                surface, run, centre, stand, half, self.start, self.end
            )
            above = top > radius[station, column]
            station, column, turn = station[above], column[above], turn[above]
            radius[station, column] = top[above]
            material[station, column] = thread.material
            lay[station, column] = run.lay[turn, column]
            row[station, column] = number + 0.5 + across[above] / thread.diameter
            along[station, column] = run.along[turn, column]
            tube[station, column] = True
        return surface.with_arrays(
            radius=radius, material=material, lay=lay, row=row, along=along, tube=tube
        )

    def width(self) -> float:
        """Width of all threads side by side, mm."""
        return sum(thread.diameter for thread in self.threads)

    def height(self, surface: Surface, further: float) -> float:
        """Mean distance of the first thread's middle from the axis.

        Parameters
        ----------
        surface : Surface
            What the layer is laid on.
        further : float
            How much further out the thread is laid, mm.

        Returns
        -------
        float
            mm; not a number if no part of the thread lies between its ends.
        """
        half = self.threads[0].diameter / 2
        run = self.line.run(surface, self.offset + half + further)
        cut = self._cut(run)
        if cut.all():
            return np.nan
        centre, _ = _stretched(run, _rest(surface, run, half), half, cut)
        return float(centre[~cut].mean())

    def _cut(self, run: Run) -> NDArray[np.bool_]:
        """Where a run lies beyond the ends of its thread, (k, nt)."""
        return (run.z < self.start) | (run.z > self.end)


def _rest(surface: Surface, run: Run, half: float) -> Array:
    """Radius of the thread's centre line where it comes to rest on `surface`, (k, nt) mm."""
    x = _CONTACTS[:, None, None]
    stations = (run.z + x * half / run.sine - surface.z[0]) / surface.step
    # Places fall on columns: between two stations of a column is all there is to interpolate.
    np.clip(stations, 0, surface.z.size - 1, out=stations)
    below = np.minimum(stations.astype(np.intp), surface.z.size - 2)
    stations -= below
    columns = np.arange(surface.theta.size)
    lower, upper = surface.radius[below, columns], surface.radius[below + 1, columns]
    ground = lower + stations * (upper - lower)
    return np.asarray((ground + half * np.sqrt(1 - x * x)).max(axis=0))


def _stretched(
    run: Run, centre: Array, half: float, held: NDArray[np.bool_]
) -> tuple[Array, Array]:
    """Stretch threads that rest with their middle at `centre`, (k, nt) mm.

    Returns
    -------
    centre : (k, nt) float
        Radius of the centre line of the taut thread, mm.
    stand : (k, nt) float
        How much a width square to what it lies on adds to the radius, 1 / cos(t) where that leans
        by the angle t (as in `geometry.layers.cover`).
    """
    turn = 2 * np.pi / centre.shape[1]
    holds = run.joined(held)
    path = taut(run.joined(centre - half), turn, holds, closed=run.closed)
    climb = np.gradient(path, axis=1)
    if run.closed:
        climb[:, [0, -1]] = (path[:, [1, 0]] - path[:, [-1, -2]]) / 2
    # Beyond an end there is no thread.
    climb[:, 1:][holds[:, :-1]] = 0
    climb[:, :-1][holds[:, 1:]] = 0
    underside = run.parted(path)
    lean = run.parted(climb) * run.sine / (turn * underside)
    stand = np.sqrt(1 + lean * lean)
    return underside + half * stand, stand


def _tube(
    surface: Surface, run: Run, centre: Array, stand: Array, half: float, start: float, end: float
) -> tuple[Index, Index, Index, Array, Array]:
    """Grid points under a tube of radius `half` along `run`.

    Returns
    -------
    station, column, turn : (m,) int
    across : (m,) float
        Distance across the thread from its crest, mm.
    top : (m,) float
        Radius of the tube's outside there, mm.
    """
    reach = int(np.ceil(half / float(run.sine.min()) / surface.step)) + 1
    nearest = np.rint((run.z - surface.z[0]) / surface.step).astype(np.intp)
    station = nearest[..., None] + np.arange(-reach, reach + 1)
    inside = (station >= 0) & (station < surface.z.size)
    z = surface.z[np.clip(station, 0, surface.z.size - 1)]
    across = (z - run.z[..., None]) * run.sine[..., None]
    inside &= (np.abs(across) < half) & (z >= start) & (z <= end)
    turn, column, _ = np.nonzero(inside)
    across = across[inside]
    rise = np.sqrt(half * half - across * across)
    top = centre[turn, column] + stand[turn, column] * rise
    return station[inside], column, turn, across, top
