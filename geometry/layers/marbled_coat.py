"""A thin coat of finish with pigments dropped into it and combed, levelled and set.

The coat lies as any coat of finish does (`geometry.layers.finish`). Which pigment is where comes
from `geometry.layers.marbling`: the outlines of the drops are painted over the grid as polygons,
each later drop over those before it, several samples to a grid point each way.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from geometry.layers.finish import Coat, Finish
from geometry.layers.marbling import Drop, Stroke, outlines
from geometry.surface import Surface

__all__ = ["SAMPLES", "MarbledCoat", "Unrolled", "painted"]

Array = NDArray[np.float64]
Counts = NDArray[np.uint8]

_SIDE = 4
"""Samples of a grid point each way."""

SAMPLES = _SIDE**2
"""Samples of a grid point."""

_BLEED_MM = 0.06
"""How far pigments run into one another before the coat sets, as the standard deviation of a place
from where the comb left it (from memory). Thinner lines than that are lost in it."""

_INWARDS = 0.55
"""Samples by which Pillow paints a polygon too wide on each side, measured on discs."""

_KEPT = 8
"""Sets of outlines that are kept: those of a design and of the last few moves of a slider."""


@dataclass(frozen=True, slots=True)
class Unrolled:
    """The coat laid flat, so that areas are kept.

    Parameters
    ----------
    circumference : float
        mm, where drops stay round.
    z : tuple of float
        Stations, mm from the butt, rising.
    along : tuple of float
        Coordinate along the flat coat at each, mm, rising (`marbling.equal_area_along`).
    """

    circumference: float
    z: tuple[float, ...]
    along: tuple[float, ...]

    def station(self, along: Array) -> Array:
        """Find the stations of places on the flat coat; beyond its ends they go on evenly.

        Parameters
        ----------
        along : (n,) float
            Coordinate along the flat coat, mm.

        Returns
        -------
        (n,) float
            Distance from the butt, mm.
        """
        z, at = np.array(self.z), np.array(self.along)
        inner = np.interp(along, at, z)
        first, last = (z[1] - z[0]) / (at[1] - at[0]), (z[-1] - z[-2]) / (at[-1] - at[-2])
        return np.asarray(
            inner + np.minimum(along - at[0], 0) * first + np.maximum(along - at[-1], 0) * last
        )


@dataclass(frozen=True, slots=True)
class MarbledCoat:
    """The coat.

    Parameters
    ----------
    start, end : float
        Where it is brushed, mm from the butt.
    coat : Coat
        Its thickness, and how it flows.
    unrolled : Unrolled
        The same laid flat.
    steps : tuple of Drop or Stroke
        In the order in which they are made.
    pigments : int
        How many there are, the coat between the drops included.
    """

    start: float
    end: float
    coat: Coat
    unrolled: Unrolled
    steps: tuple[Drop | Stroke, ...]
    pigments: int

    def apply(self, surface: Surface, shown: NDArray[np.int16]) -> Surface:
        """Brush it on, let it level and set.

        Parameters
        ----------
        surface : Surface
            What it is brushed on.
        shown : (m, nt) int16
            Materials at the places of `counts`.
        """
        part = surface.between(self.start, self.end)
        bare = Finish((self.coat,), self.start, self.end, 0).poured(surface, self.coat)
        material, lay = surface.material.copy(), surface.lay.copy()
        row, along, tube = surface.row.copy(), surface.along.copy(), surface.tube.copy()
        material[part] = shown
        # There is no thread on its outside.
        lay[part], row[part], along[part], tube[part] = 0, 0, 0, False
        return surface.with_arrays(
            radius=bare.radius, material=material, lay=lay, row=row, along=along, tube=tube
        )

    def counts(self, surface: Surface) -> Counts:
        """Count the samples of each pigment round the grid points of the coat.

        Parameters
        ----------
        surface : Surface
            What it is brushed on, for its grid.

        Returns
        -------
        (m, nt, pigments) uint8
            For the stations between `start` and `end`; they add up to the samples of a point.
        """
        part = surface.between(self.start, self.end)
        return painted(
            self.unrolled,
            self.steps,
            surface.z[part],
            surface.theta.size,
            self.pigments,
        )


def painted(
    unrolled: Unrolled, steps: tuple[Drop | Stroke, ...], z: Array, angles: int, pigments: int
) -> Counts:
    """Paint the coat over a grid.

    Parameters
    ----------
    unrolled : Unrolled
        The coat laid flat.
    steps : tuple of Drop or Stroke
        In the order in which they are made.
    z : (m,) float
        Evenly spaced stations, mm, at least two.
    angles : int
        How many there are round the blank, the first at 0.
    pigments : int
        How many there are, the coat that drops fall on included.

    Returns
    -------
    (m, angles, pigments) uint8
        Samples of each pigment round each point.
    """
    from PIL import Image, ImageDraw
    from scipy.ndimage import gaussian_filter

    high, wide = z.size * _SIDE, angles * _SIDE
    length, step = unrolled.circumference, float(z[1] - z[0])
    picture = Image.new("L", (wide, high), 0)
    draw = ImageDraw.Draw(picture)
    for pigment, outline in _outlines(unrolled, steps, 2 * min(step, length / angles)):
        # A grid point stands in the middle of its samples.
        column = (outline[:, 0] * angles / length + 0.5) * _SIDE
        row = ((unrolled.station(outline[:, 1]) - z[0]) / step + 0.5) * _SIDE
        points = _narrowed(np.column_stack((column, row)))
        first, last = points[:, 0].min() // wide, points[:, 0].max() // wide
        # The coat closes: a drop that runs past the guide line is seen on its other side.
        for turn in range(int(first), int(last) + 1):
            draw.polygon((points - (turn * wide, 0)).ravel().tolist(), fill=pigment)
    samples = np.asarray(picture).reshape(z.size, _SIDE, angles, _SIDE)
    spread = _BLEED_MM / np.array((step, length / angles))
    counts = np.empty((z.size, angles, pigments), np.uint8)
    total = np.zeros((z.size, angles), np.float32)
    before = np.zeros((z.size, angles), np.uint8)
    for pigment in range(pigments):
        sharp = (samples == pigment).sum(axis=(1, 3), dtype=np.uint8).astype(np.float32)
        total += gaussian_filter(sharp, spread, mode=("nearest", "wrap"))
        # Rounded as running totals, so that each place's counts add up to its samples.
        rounded = np.rint(total).astype(np.uint8)
        counts[..., pigment] = rounded - before
        before = rounded
    return counts


def _narrowed(points: Array) -> Array:
    """Move the points of an anticlockwise outline inwards by what is painted too wide."""
    run = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
    size = np.maximum(np.hypot(run[:, 0], run[:, 1]), 1e-12)
    return np.asarray(points + _INWARDS / size[:, None] * np.column_stack((-run[:, 1], run[:, 0])))


@lru_cache(maxsize=_KEPT)
def _outlines(
    unrolled: Unrolled, steps: tuple[Drop | Stroke, ...], spacing: float
) -> tuple[tuple[int, Array], ...]:
    """Pigment and outline of each drop."""
    found = outlines(unrolled.circumference, steps, spacing)
    return tuple((drop.pigment, points) for drop, points in found)
