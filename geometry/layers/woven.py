"""Woven panels: warp along a run, picks across it, each over the other by a chart."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from geometry.layers.crossed import PRESSED
from geometry.layers.flat import Flat
from geometry.surface import Surface

__all__ = ["Chart", "LaidPanel", "WovenPanel", "floats", "taken_up"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]

_INSIDE = 1 - 1e-4
"""Furthest from its crest that a thread's own number is read, as a share of its half width."""


class Chart(NamedTuple):
    """What lies on top at each crossing.

    Parameters
    ----------
    top : (rows, columns) int
        0 where the warp is on top, else the number of the pick's thread, from 1. Row 0 is the
        upper one, furthest along the run.
    """

    top: Index

    def repeated(self, up: int, beside: int) -> "Chart":
        """Repeat the chart.

        Parameters
        ----------
        up, beside : int
            Copies along the run and across it, 1 or more.
        """
        return Chart(np.tile(self.top, (up, beside)))


class LaidPanel(NamedTuple):
    """A panel on the blank.

    Parameters
    ----------
    surface : Surface
        With the panel on it.
    beneath : Surface
        What lies directly under the outermost thread.
    """

    surface: Surface
    beneath: Surface


@dataclass(frozen=True, slots=True)
class WovenPanel:
    """A woven panel.

    Each thread runs level where it is on top, and dives half-way to the cloth's other face at the
    crossing where it goes under, along a cosine. A thread over another is pressed into it as two
    crossing threads are (`geometry.layers.crossed.PRESSED`).

    Parameters
    ----------
    flat : Flat
        Where it lies: its middle on the origin, upright along the run.
    chart : Chart
        All of it, repeats written out.
    warp, pick : float
        Diameters of the threads, mm.
    across, along : float
        Distance from warp thread to warp thread, and from pick to pick, mm.
    materials : tuple of int
        Palette index of the warp, then of each pick's thread.
    closed : bool
        Whether it goes all the way round: then its warp threads are spread or pushed together so
        that the last meets the first, whatever `across` is.
    """

    flat: Flat
    chart: Chart
    warp: float
    pick: float
    across: float
    along: float
    materials: tuple[int, ...]
    closed: bool = False

    @property
    def width(self) -> float:
        """Across the run, mm."""
        return self.chart.top.shape[1] * self.across

    @property
    def length(self) -> float:
        """Along the run, mm."""
        return self.chart.top.shape[0] * self.along

    def apply(self, surface: Surface) -> Surface:
        """Lay the panel on a surface.

        Parameters
        ----------
        surface : Surface
            What the layer is laid on.

        Returns
        -------
        Surface
            With the panel on it.
        """
        return self.lay(surface).surface

    def lay(self, surface: Surface) -> LaidPanel:
        """Lay the panel, and keep what lies under its outermost threads.

        Parameters
        ----------
        surface : Surface
            What the panel is laid on.
        """
        part = surface.between(*self.flat.reach(self.length, self.width))
        s, t = self.flat.coordinates(surface, part)
        rows, columns = self.chart.top.shape
        # Columns are counted to the right as one looks up the run, rows from the upper one down.
        right = -t / self._across(surface, part) + columns / 2
        down = rows / 2 - s / self.along
        on = (down >= 0) & (down < rows)
        if not self.closed:
            on &= (right >= 0) & (right < columns)
        right, down = right[on], down[on]
        column = np.minimum(np.floor(right).astype(np.intp), columns - 1) % columns
        row = np.floor(down).astype(np.intp)
        x, y = 2 * (right - np.floor(right)) - 1, 2 * (down - np.floor(down)) - 1
        made = self._threads(row, column, x, y)
        base = surface.radius[part][on]
        run = np.broadcast_to(self.flat.lay(surface, part), s.shape)[on]
        is_pick = made.thread > 0
        # A pick lies a quarter turn from the warp, and is read as a line either way round.
        lay = np.where(is_pick, run - np.pi / 2 * np.where(run > 0, 1, -1), run)
        number = np.where(is_pick, columns + row, column) + 0.5
        # Charts run down and to the right; thread coordinates climb to the left of a thread.
        climbs = np.where(is_pick | (run > 0), -0.5, 0.5)
        off = climbs * np.clip(made.off, -_INSIDE, _INSIDE)
        along = np.where(is_pick, -t[on], s[on])

        arrays = {
            name: getattr(surface, name).copy()
            for name in ("radius", "material", "lay", "row", "along", "tube")
        }
        index = np.asarray(self.materials, np.int16)
        for name, value in {
            "radius": base + made.high,
            "material": index[made.thread],
            "lay": lay,
            "row": number + off,
            "along": along,
            "tube": True,
        }.items():
            arrays[name][part][on] = value
        under_radius, under_material = surface.radius.copy(), surface.material.copy()
        under_radius[part][on] = base + made.under_high
        under_material[part][on] = index[made.under]
        return LaidPanel(
            surface.with_arrays(**arrays),
            surface.with_arrays(radius=under_radius, material=under_material),
        )

    def _across(self, surface: Surface, part: slice) -> Array | float:
        """From warp thread to warp thread along each station, mm."""
        if not self.closed:
            return self.across
        # As the flat has it: the whole way round at each station, shared out.
        _, t = self.flat.coordinates(surface, part)
        step = np.median(np.abs(np.diff(t, axis=1)), axis=1)
        return (step * surface.theta.size / self.chart.top.shape[1])[:, None]

    def _threads(self, row: Index, column: Index, x: Array, y: Array) -> "_Made":
        """What is outermost at places given by their crossing and by x, y in it, -1 to 1."""
        top = self.chart.top[row, column]
        half_warp, half_pick = self.warp / 2, self.pick / 2
        # Across each thread, in its own half widths: threads may lie apart.
        of_warp = x * self.across / self.warp
        of_pick = y * self.along / self.pick
        over = top > 0
        off = np.where(over, of_pick, of_warp)
        half = np.where(over, half_pick, half_warp)
        lower = np.where(over, self.warp, self.pick) * (1 - PRESSED)
        dive = np.where(
            over, self._ends(row, column, x, 0, 1), self._ends(row, column, y, 1, 0)
        ) * (lower / 2)
        inside = np.abs(off) <= 1
        crest = lower - dive + half
        high = crest + half * np.sqrt(np.clip(1 - off * off, 0, 1))
        # Beside it, where threads lie apart, the one below is seen.
        under = np.where(over, 0, self._first_picks[row])
        under_off = np.where(over, of_warp, of_pick)
        under_half = np.where(over, half_warp, half_pick)
        under_high = under_half + under_half * np.sqrt(np.clip(1 - under_off * under_off, 0, 1))
        under_high *= 1 - PRESSED
        return _Made(
            np.where(inside, top, under),
            np.where(inside, off, under_off),
            np.where(inside, high, under_high),
            under,
            np.minimum(under_high, high),
        )

    @property
    def _first_picks(self) -> Index:
        """A thread of each row that lies below where the warp is on top."""
        top = self.chart.top
        first = (top > 0).argmax(axis=1)
        return top[np.arange(top.shape[0]), first]

    def _ends(self, row: Index, column: Index, at: Array, down: int, right: int) -> Array:
        """How far the thread on top has dived at `at`, -1 to 1 along it: 0 level to 1 half-way."""
        top = self.chart.top
        rows, columns = top.shape
        step = np.where(at < 0, -1, 1)
        next_row, next_column = row + down * step, column + right * step
        if self.closed:
            next_column %= columns
        beyond = (next_row < 0) | (next_row >= rows) | (next_column < 0) | (next_column >= columns)
        same = top[next_row.clip(0, rows - 1), next_column.clip(0, columns - 1)] == top[row, column]
        goes_under = beyond | ~same
        return np.asarray(np.where(goes_under, (1 - np.cos(np.pi * at)) / 2, 0.0))


class _Made(NamedTuple):
    """The outermost thread at each place: its number, place across, height; and what is under."""

    thread: Index
    off: Array
    high: Array
    under: Index
    under_high: Array


def floats(chart: Chart) -> tuple[int, int]:
    """Crossings of the longest float of the warp and of a pick on the outside.

    Parameters
    ----------
    chart : Chart
        Chart of the panel.

    Returns
    -------
    warp, pick : int
    """
    return _longest(chart.top.T, warp=True), _longest(chart.top, warp=False)


def _longest(lines: Index, warp: bool) -> int:
    """Longest run of one thread along any of the lines."""
    most = 0
    for line in lines:
        bounds = np.flatnonzero(np.diff(line)) + 1
        for run in np.split(line, bounds):
            if bool(run[0] == 0) == warp:
                most = max(most, run.size)
    return most


def taken_up(changes: int, diameter: float, pitch: float) -> float:
    """Length that weaving adds to a thread, mm.

    A thread that goes from one face to the other does so along a cosine of half a wave over one
    pitch, as high as the thread that it passes is thick when pressed: the arc of a shallow cosine
    of amplitude A over half a wave p is longer than p by pi² A² / (4 p).

    Parameters
    ----------
    changes : int
        How often the thread goes from one face to the other.
    diameter : float
        Diameter of the threads that it crosses, mm.
    pitch : float
        Distance from crossing to crossing along it, mm.
    """
    amplitude = diameter * (1 - PRESSED) / 2
    return float(changes * np.pi**2 * amplitude**2 / (4 * pitch))
