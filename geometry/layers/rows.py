"""The single threads of a surface, read from its thread coordinates."""

from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

from geometry.surface import Surface

__all__ = ["Rows", "thread_numbers"]

Array = NDArray[np.float64]
Numbers = NDArray[np.int32]

_ALONGSIDE = 0.05
"""Angle within which threads run alongside others and lie between them, rad."""

_LENGTHWISE = 0.1
"""Cosine of the lay below which rows hardly climb along the blank; they are read round it."""


@dataclass(frozen=True, slots=True)
class Rows:
    """The threads of a surface, seen from outside; all (nz, nt).

    Parameters
    ----------
    crest : float
        Radius over their crests, mm.
    pitch : float
        Distance from thread to thread along the blank, mm; infinite where no thread runs alongside.
    off : float
        Distance along the blank from the crest of the thread to the place, mm.
    """

    crest: Array
    pitch: Array
    off: Array

    @classmethod
    def of(cls, surface: Surface) -> Self:
        """Read the threads of a surface from its thread coordinates.

        Parameters
        ----------
        surface : Surface
            Surface with thread on it.
        """
        numbers = thread_numbers(surface)
        climb = _climb(surface, numbers, 0)
        row = surface.row - np.floor(surface.row) - 0.5
        with np.errstate(divide="ignore", invalid="ignore"):
            pitch = surface.step / np.abs(climb)
            off = row / climb * surface.step
        crest = surface.radius.copy()
        tube = surface.tube
        if tube.any():
            width = _widths(surface, numbers, pitch)
            half = width[tube] / 2
            across = np.minimum(np.abs(2 * row[tube]), 1) * half
            crest[tube] += half - np.sqrt(half * half - across * across)
            pitch[tube] = width[tube] / np.cos(surface.lay[tube])
            off[tube] = row[tube] * pitch[tube]
        none = ~np.isfinite(off) | (np.abs(surface.lay) > _ALONGSIDE)
        pitch[none], off[none] = np.inf, 0.0
        return cls(crest, pitch, off)


def thread_numbers(surface: Surface) -> Numbers:
    """Number the single threads of a surface.

    Parameters
    ----------
    surface : Surface
        Surface with thread on it.

    Returns
    -------
    (nz, nt) int32
        A number for each thread; 0 where no single thread lies.
    """
    turned = (surface.lay > 0).astype(np.int32)
    number = (np.floor(surface.row).astype(np.int32) * 1024 + surface.material) * 2 + turned
    return np.where(surface.tube, 2 * number + 1, 0)


def _climb(surface: Surface, numbers: Numbers, axis: int) -> Array:
    """Change of row to the next place of the same number, along the blank (0) or round it (1).

    The lesser of both sides, since the number jumps where a cover ends beside another. NaN where
    neither side belongs to the same thread.
    """
    row = surface.row
    ahead = (np.roll(row, -1, axis) - row).astype(np.float64)
    ahead[np.roll(numbers, -1, axis) != numbers] = np.nan
    if axis == 0:
        ahead[-1] = np.nan
    behind = np.roll(ahead, 1, axis)
    return np.where(~(np.abs(ahead) <= np.abs(behind)) & ~np.isnan(behind), behind, ahead)


def _widths(surface: Surface, numbers: Numbers, pitch: Array) -> Array:
    """Width of single threads, (nz, nt) mm; 0 elsewhere, and where it cannot be found.

    Over its width a row climbs by cos(lay) along the blank and by sin(lay) round it. Where only a
    sliver of a thread is seen between others, it is as wide as others of its material.
    """
    climb = np.cos(surface.lay)
    width = pitch * climb
    lengthwise = surface.tube & (climb < _LENGTHWISE)
    if lengthwise.any():
        apart = 2 * np.pi / surface.theta.size * surface.radius[lengthwise]
        climb = np.sin(surface.lay[lengthwise])
        with np.errstate(divide="ignore"):
            width[lengthwise] = apart * np.abs(climb / _climb(surface, numbers, 1)[lengthwise])
    width[~surface.tube] = 0
    unknown = surface.tube & ~np.isfinite(width)
    for material in np.unique(surface.material[unknown]):
        alike = surface.tube & (surface.material == material)
        known = width[alike & ~unknown]
        width[alike & unknown] = np.median(known) if known.size else 0
    return width
