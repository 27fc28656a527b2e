"""Rings inlaid in a cover: rows of other threads wound in place of some of its own."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.layers.cover import Cover, steiner_length
from geometry.layers.drape import section_perimeter
from geometry.layers.trim import TrimThread
from geometry.surface import Surface

__all__ = ["Inlay"]

Array = NDArray[np.float64]

_EASED = 14.0
"""Rows of the cover beside a ring over which a hand makes good for a part of a row: each is then
packed or spread by a thirtieth at most (from memory)."""


@dataclass(frozen=True, slots=True)
class Inlay:
    """Rows of other threads in a cover that is wound already, as if wound along with it.

    Rows climb by one each turn, as the cover's do, so that where one thread gives way to the next
    there is a step of a row. It lies opposite the guide line, out of sight of guides (common
    practice, no source).

    Parameters
    ----------
    cover : Cover
        Cover that the rings are inlaid in.
    start : float
        Lower side of the first thread, in the mean round the blank, mm.
    threads : tuple of TrimThread
        From the butt to the tip.
    """

    cover: Cover
    start: float
    threads: tuple[TrimThread, ...]

    @property
    def end(self) -> float:
        """Upper side of the last thread, in the mean round the blank, mm."""
        return self.start + sum(thread.diameter for thread in self.threads)

    def apply(self, surface: Surface) -> Surface:
        """Lay the rows in place of the cover's own.

        Parameters
        ----------
        surface : Surface
            With the cover on it.

        Returns
        -------
        Surface
            With the rings in the cover.
        """
        radius, material, row = surface.radius.copy(), surface.material.copy(), surface.row.copy()
        lines = self._lines(surface.theta)
        bounds = lines.copy()
        cover, near = self.cover, self.cover.laid_width
        # A ring at the cover's end is its end: no sliver of cover is left beyond.
        if self.start < cover.start + near:
            bounds[0] = cover.start
        if self.end > cover.end - near:
            bounds[-1] = cover.end
        self._ease(surface, row, lines)
        step = 4 * np.pi / surface.theta.size
        first = round(float(_turns(surface, cover, row, lines[0]).mean() - 0.5))
        inside = surface.between(cover.start, cover.end)
        for number, thread in enumerate(self.threads):
            low, high = bounds[number], bounds[number + 1]
            part = surface.between(float(low.min()), float(high.max()))
            part = slice(max(part.start, inside.start), min(part.stop, inside.stop))
            z = surface.z[part, None]
            here = (z >= low) & ((z < high) | (z >= cover.end))
            old = surface.radius[part]
            lean = (np.roll(old, -1, axis=1) - np.roll(old, 1, axis=1)) / (step * old)
            # Both lie on the same hull: what differs is how much they add to it.
            new = old + (thread.diameter - cover.diameter) * np.sqrt(1 + lean * lean)
            radius[part] = np.where(here, new, radius[part])
            material[part][here] = thread.material
            across = (z - lines[number]) / (lines[number + 1] - lines[number])
            row[part] = np.where(here, first + number + across, row[part])
        return surface.with_arrays(radius=radius, material=material, row=row)

    def lengths(self, surface: Surface) -> tuple[float, ...]:
        """Length of each thread along its centre line, mm.

        Parameters
        ----------
        surface : Surface
            With the cover on it.
        """
        sides = self.start + np.cumsum([0.0, *(thread.diameter for thread in self.threads)])
        stations = np.rint(((sides[1:] + sides[:-1]) / 2 - surface.z[0]) / surface.step)
        outside = section_perimeter(surface.radius[stations.astype(np.intp)])
        # What lies outside a section by the cover's thickness is longer by 2 pi of that (Steiner).
        inner = outside - 2 * np.pi * self.cover.diameter
        return tuple(
            float(steiner_length(around, thread.diameter))
            for around, thread in zip(inner, self.threads, strict=True)
        )

    def _lines(self, theta: Array) -> Array:
        """Where each side of each thread crosses every generator, (n + 1, nt) mm."""
        wide = np.array([thread.diameter for thread in self.threads])
        sides = self.start + np.concatenate(([0.0], np.cumsum(wide)))
        # In a turn the side between two rows climbs by a row.
        all_wide = np.concatenate(([self.cover.laid_width], wide, [self.cover.laid_width]))
        climb = (all_wide[1:] + all_wide[:-1]) / 2
        return np.asarray(sides[:, None] + climb[:, None] * (_phase(theta) - 0.5))

    def _ease(self, surface: Surface, row: NDArray[np.float32], lines: Array) -> None:
        """Shift the cover's rows on both sides so that a whole row ends where the rings begin."""
        cover = self.cover
        wide = cover.laid_width
        phase = _phase(surface.theta)
        for line, outward in ((lines[0], -1), (lines[-1], 1)):
            # Whole numbers of rows apart from one turn to the next, so that nothing jumps.
            at = _turns(surface, cover, row, line) - phase
            shift = np.rint(at.mean()) - at
            ends = (float(line.min()) - _EASED * wide, float(line.max()) + _EASED * wide)
            part = surface.between(max(ends[0], cover.start), min(ends[1], cover.end))
            away = outward * (surface.z[part, None] - line) / (_EASED * wide)
            share = np.where(away >= 0, np.clip(1 - away, 0, 1), 0)
            row[part] += share * shift


def _turns(surface: Surface, cover: Cover, row: NDArray[np.float32], line: Array) -> Array:
    """Turns of a cover up to a line round the blank, (nt,)."""
    stations = surface.between(cover.start, cover.end)
    place = (line - surface.z[stations.start]) / surface.step
    count = stations.stop - stations.start
    below = np.clip(np.floor(place).astype(np.intp), 0, count - 2)
    columns = np.arange(surface.theta.size)
    rows = row[stations].astype(np.float64)
    lower, upper = rows[below, columns], rows[below + 1, columns]
    return np.asarray(lower + (place - below) * (upper - lower) + surface.theta / (2 * np.pi) - 0.5)


def _phase(theta: Array) -> Array:
    """Part of a turn from the side opposite the guide line, 0 to 1."""
    return np.asarray((theta / (2 * np.pi) + 0.5) % 1)
