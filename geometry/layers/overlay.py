"""A layer wound over others with threads in turn, some of which are pulled out again.

All threads of the sequence are wound together, side by side, so that in one turn the whole sequence
climbs once. Threads that are pulled out leave a stripe in which the layer beneath is seen.

Rows rest on the crests of those beneath, read back from thread coordinates (`Rows.of`), and sink
into clefts as their pitch brings them. A grid that gives each station the colour of one thread
would beat with the stripes and show a moiré that nobody wound: a design with such stripes has a
grid twice as fine along the blank, and texels are shared between two colours where the side of a
thread runs through them. `tests/render/live/test_beat.py` takes the spectrum of the picture.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.array_blocks import over_blocks
from geometry.layers.drape import hull_radius, section_perimeter
from geometry.layers.rows import Rows
from geometry.layers.unevenness import uneven_rows
from geometry.surface import Surface

__all__ = ["Overlay", "Strand", "nested"]

Array = NDArray[np.float64]

_EDGE = 1e-4
"""Nearest to its side that a thread's own number is read, as a share of its width: float32 would
take the side of one thread for its neighbour."""

_SHARED = 1e-6
"""Part of its half width within which a place on the very side of a thread is its own, so that none
falls between two that touch."""

_TOUCH = 1e-3
"""Height in mm below which a thread touches what it is wound over."""


@dataclass(frozen=True, slots=True)
class Strand:
    """One thread of the sequence.

    Parameters
    ----------
    diameter : float
        Diameter of the thread, mm.
    material : int
        Palette index.
    removed : bool
        Whether it is pulled out when all is wound.
    """

    diameter: float
    material: int
    removed: bool = False


@dataclass(frozen=True, slots=True)
class Overlay:
    """Threads wound in turn over what lies there.

    Each is taut round its section (`geometry.layers.drape`) and keeps its own place along the
    blank: on rows beneath it lies on a crest here and in a cleft there, as its pitch brings it. On
    a slope it stands square to what is beneath, so that its middle leans out from where it touches.

    Parameters
    ----------
    start, end : float
        Ends of the layer, mm from the butt.
    strands : tuple of Strand
        From the butt to the tip.
    pitch : float
        From one repeat of the sequence to the next along the blank, mm. Threads wider than that
        side by side are pressed together, narrower ones lie apart.
    unevenness : float
        Root mean square height by which rows stand out or lie back, mm.
    seed : int
        Seed of the random numbers that choose which rows do.
    """

    start: float
    end: float
    strands: tuple[Strand, ...]
    pitch: float
    unevenness: float = 0.0
    seed: int = 0

    @property
    def slots(self) -> Array:
        """Sides of the threads' places within one repeat, (n + 1,) mm from 0 to `pitch`."""
        wide = np.cumsum([0.0, *(strand.diameter for strand in self.strands)])
        return np.asarray(wide * (self.pitch / wide[-1]))

    @property
    def turns(self) -> float:
        """Turns of each thread."""
        return (self.end - self.start) / self.pitch

    def apply(self, surface: Surface) -> Surface:
        """Wind the threads over a surface, and pull out those that are to be removed.

        Parameters
        ----------
        surface : Surface
            What the layer is laid on.

        Returns
        -------
        Surface
            With the remaining threads on it.
        """
        # SciPy takes a fifth of a second to load, and not every command lays threads.
        from scipy.ndimage import gaussian_filter1d

        stations = surface.between(self.start, self.end)
        radius, material = surface.radius.copy(), surface.material.copy()
        lay, row, along = surface.lay.copy(), surface.row.copy(), surface.along.copy()
        tube = surface.tube.copy()
        z, theta, count = surface.z[stations], surface.theta, len(self.strands)
        rows, half = Rows.of(surface), self._half
        ground = _resting(rows.crest[stations], surface.step, float(half.max()))
        uneven = uneven_rows(z, theta, self.pitch / count, self.unevenness, self.seed)
        kept = np.array([not thread.removed for thread in self.strands])
        materials = np.array([thread.material for thread in self.strands], np.int16)
        taut = np.empty_like(ground)
        over_blocks(
            lambda part: taut.__setitem__(part, hull_radius(ground[part])),
            slice(0, len(z)),
            theta.size,
        )

        # What a thread as wide as this leans against.
        smooth = gaussian_filter1d(taut, 2 * float(half.max()) / surface.step, axis=0)

        def work(part: slice) -> None:
            own = slice(part.start - stations.start, part.stop - stations.start)
            hull = taut[own]
            strand, number, off, share = self._places(z[own], theta, _slope(smooth, own, surface))
            thick = half[strand]
            across = share * thick
            rest = hull + thick + uneven[own]
            touching = hull - ground[own] < _TOUCH
            beneath = nested(rows.off[part] - off, rows.pitch[part], thick)
            rest += np.where(touching, beneath, 0)
            top = rest + np.sqrt(np.maximum(thick * thick - across * across, 0))
            lying = kept[strand] & (np.abs(share) <= 1 + _SHARED) & (top > surface.radius[part])
            radius[part] = np.where(lying, top, radius[part])
            material[part] = np.where(lying, materials[strand], material[part])
            within = np.clip(0.5 + share / 2, _EDGE, 1 - _EDGE)
            row[part] = np.where(lying, number * count + strand + within, row[part])
            turn = hull.mean(axis=1, keepdims=True) * theta
            along[part] = np.where(lying, turn, along[part])
            lay[part][lying] = 0
            tube[part] |= lying

        over_blocks(work, stations, theta.size)
        return surface.with_arrays(
            radius=radius, material=material, lay=lay, row=row, along=along, tube=tube
        )

    def lengths(self, surface: Surface) -> tuple[float, ...]:
        """Length of each strand as it is wound, removed or not, mm.

        Parameters
        ----------
        surface : Surface
            What the threads are wound over.
        """
        stations = surface.between(self.start, self.end)
        perimeter = section_perimeter(hull_radius(Rows.of(surface).crest[stations]))
        # As of `geometry.layers.cover.steiner_length`, but a turn climbs by the whole sequence.
        return tuple(
            self.turns * float(np.hypot(perimeter + np.pi * strand.diameter, self.pitch).mean())
            for strand in self.strands
        )

    @property
    def _half(self) -> Array:
        return np.array([strand.diameter for strand in self.strands]) / 2

    def _places(
        self, z: Array, theta: Array, slope: Array
    ) -> tuple[NDArray[np.intp], Array, Array, Array]:
        """Which thread lies where; all (m, nt).

        Returns
        -------
        strand : int
        number : float
            Which repeat.
        off : float
            From its middle along the blank, mm.
        share : float
            The same in its half widths: beyond 1 there is nothing.
        """
        slots, half = self.slots, self._half
        lean = half.max() * slope / np.sqrt(1 + slope * slope)
        repeats = (z[:, None] + lean - self.start) / self.pitch - theta / (2 * np.pi)
        number = np.floor(repeats)
        inside = (repeats - number) * self.pitch
        strand = np.clip(np.searchsorted(slots, inside, side="right") - 1, 0, half.size - 1)
        off = inside - ((slots[1:] + slots[:-1]) / 2)[strand]
        squeezed = np.minimum(half, np.diff(slots) / 2)
        return strand, number, off, off / squeezed[strand]


def nested(off: Array, pitch: Array, half: Array) -> Array:
    """Height of a thread between round rows over its height on a crest, mm, 0 or less.

    With its middle the distance x from the crest of a row and both radii a and b, the middle lies
    sqrt((a + b)² - x²) above that row's; of two rows beneath, the one that it touches bears it.
    Rows are taken to be as thick as they are apart; between rows that lie apart it sinks in by half
    its own thickness at most.

    Parameters
    ----------
    off : (...) float
        Distance along the blank from the crest of any row to the thread's middle, mm.
    pitch : (...) float
        Distance from row to row, mm; infinite where there are no rows.
    half : (...) float
        Radius of the thread, mm.

    Returns
    -------
    (...) float
        mm.
    """
    rows = np.isfinite(pitch)
    wide = np.where(rows, pitch, 1.0)
    x = np.abs(off - wide * np.rint(off / wide))
    apart = wide / 2 + half
    low = np.sqrt(np.maximum(apart * apart - x * x, 0)) - apart
    return np.where(rows, np.maximum(low, -half), 0.0)


def _resting(crest: Array, step: float, half: float) -> Array:
    """Where the underside of a thread that lies round the blank comes to rest, (m, nt) mm."""
    rest = crest.copy()
    for k in range(1, int(half / step) + 1):
        drop = half - np.sqrt(half * half - (k * step) ** 2)
        np.maximum(rest[k:], crest[:-k] - drop, out=rest[k:])
        np.maximum(rest[:-k], crest[k:] - drop, out=rest[:-k])
    return rest


def _slope(radius: Array, part: slice, surface: Surface) -> Array:
    """dr/dz at some stations, one-sided at the ends."""
    last = len(radius) - 1
    at = np.arange(part.start, part.stop)
    before, after = np.clip(at - 1, 0, last), np.clip(at + 1, 0, last)
    rise = radius[after] - radius[before]
    return np.asarray(rise / ((after - before) * surface.step)[:, None])
