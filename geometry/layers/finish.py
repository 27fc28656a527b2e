"""Clear finish: coats that flow, level by surface tension, and set.

Each coat is poured on as a film that follows what lies under it and then levels: a ripple of
wavenumber k, k² = (m/r)² + kz², decays as exp(-rate t). The rate is that of a liquid layer of
finite depth [Orchard1962], not of its thin-film limit, which is too fast at the scale of threads:

    rate = (sigma k² + rho g) / (2 mu k) · (sinh x cosh x - x) / (cosh² x + x²),  x = k h.

It assumes a flat bed, no sag and no cure; gravity is left out because the rod is turned until the
finish sets, which averages it away.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geometry.array_blocks import over_blocks
from geometry.surface import Surface

__all__ = ["Coat", "Finish", "levelling_rate"]

Array = NDArray[np.float64]

_LEAST_FILM_MM = 0.02
"""What stays on a ridge when the rest has run off it (from memory; brushed epoxy)."""

_HELD_SHARE = 1e-3
"""Relative error of a coat's volume that is let be."""

_MOST_SINKINGS = 12
"""Most steps in which a level is found; three or four are usual."""

_LEAST_FALL = 0.05
"""Bound of a step's divisor, as a share of the greatest: where the film runs out it tends to 0."""

_TINY = 1e-12
"""Least divisor, mm."""

_BLOCK = 1 << 14
"""Points of a block that is worked on at once: its arrays fit a core's own cache."""

_RUN_OUT_MM = 2.5
"""Length of the meniscus in which the film runs out on the bare blank (from memory)."""


@dataclass(frozen=True, slots=True)
class Coat:
    """One coat of finish.

    Parameters
    ----------
    thickness : float
        Mean film, mm.
    viscosity : float
        While it levels, Pa s.
    surface_tension : float
        N/m.
    open_time : float
        How long it flows before it sets, s.
    """

    thickness: float
    viscosity: float
    surface_tension: float
    open_time: float


def levelling_rate(
    wavenumber: ArrayLike,
    depth: float,
    *,
    viscosity: float,
    surface_tension: float,
    weight: float = 0.0,
) -> Array:
    """Rate at which a ripple on a liquid layer dies away, 1/s [Orchard1962].

    Parameters
    ----------
    wavenumber : (...) float
        k, 1/mm.
    depth : float
        h, mm.
    viscosity : float
        mu, Pa s.
    surface_tension : float
        sigma, N/m.
    weight : float
        rho g, N/m³; 0 for a rod that turns.

    Returns
    -------
    (...) float
        1/s.
    """
    k = np.asarray(wavenumber, dtype=np.float64) * 1e3
    # Deep layers: the fraction tends to 1 and cosh would overflow.
    x = np.minimum(k * depth * 1e-3, 20.0)
    small = x < 1e-3
    safe = np.where(small, 1.0, x)
    depth_factor = (np.sinh(safe) * np.cosh(safe) - safe) / (np.cosh(safe) ** 2 + safe**2)
    depth_factor = np.where(small, 2 / 3 * x**3, depth_factor)
    drive = (surface_tension * k**2 + weight) / (2 * viscosity * np.where(k == 0, 1.0, k))
    return np.asarray(np.where(k == 0, 0.0, drive * depth_factor))


@dataclass(frozen=True, slots=True)
class Finish:
    """All coats over a wrap, as the layer that yields the clear outside.

    Parameters
    ----------
    coats : tuple of Coat
        In the order they are brushed on.
    start, end : float
        Where the finish begins and ends on the bare blank, mm.
    material : int
        Palette index.
    """

    coats: tuple[Coat, ...]
    start: float
    end: float
    material: int

    def apply(self, surface: Surface) -> Surface:
        """Pour all coats over a surface.

        Parameters
        ----------
        surface : Surface
            What the layer is laid on.

        Returns
        -------
        Surface
            Outside of the finish, nowhere inside the surface.
        """
        outside = surface
        for coat in self.coats:
            outside = self.poured(outside, coat)
        return outside

    def poured(self, surface: Surface, coat: Coat) -> Surface:
        """Pour one coat over a surface, which may have coats already.

        Parameters
        ----------
        surface : Surface
            What the coat is poured on.
        coat : Coat
            Coat that is poured.

        Returns
        -------
        Surface
            Outside of the coat, nowhere inside the surface.
        """
        stations = surface.between(self.start, self.end)
        inner = surface.radius[stations]
        shape = _edges(surface.z[stations], self.start, self.end)
        radius, material = surface.radius.copy(), surface.material.copy()
        radius[stations] = _pour(inner, surface.step, coat, shape)
        material[stations] = self.material
        return surface.with_arrays(radius=radius, material=material)


def _edges(z: Array, start: float, end: float) -> Array:
    """Share of the full film at each station: a meniscus at both ends, (m, 1).

    Under one pressure its outside has one curvature [DeGennes2004]: an arc, a parabola where it is
    as low as here. It meets the blank at an angle, of 15 degrees for a film of a third of a
    millimetre; an upright ellipse would end in a wall there, whose shade is a dark line.
    """
    x = np.clip(np.minimum(z - start, end - z) / _RUN_OUT_MM, 0, 1)
    return np.asarray(x * (2 - x))[:, None]


def _pour(bed: Array, step: float, coat: Coat, shape: Array) -> Array:
    """Radius of the outside after one coat on `bed`, (m, nt) mm, nowhere inside it.

    Where a ridge comes close the film thins without ever breaking. The smooth maximum of the
    levelled film f and the ridge b, (f + b + sqrt((f - b)² + t²)) / 2, leaves half of t on a
    ridge that would just touch, and less and less the further it pokes out. What it adds over
    ridges is taken from the film around them: the level sinks until each ring of the coat holds
    what levelling brought there. Finish runs round the blank as the rod turns, and along it as
    far as it levels.
    """
    count, nt = bed.shape
    everywhere = slice(0, count)
    over = _level(bed, step, float(bed.mean()), coat)
    thin = np.minimum(2 * _LEAST_FILM_MM, coat.thickness * shape)
    brushed = coat.thickness * shape
    poured, levelled = np.empty(count), np.empty(count)

    def hold(part: slice) -> None:
        # Levelling would spread the film's ends into a cliff; the wetted edge holds them.
        over[part] *= shape[part]
        twice = 2 * bed[part]
        poured[part] = (brushed[part] * (twice + brushed[part])).sum(axis=1)
        twice += over[part]
        twice *= over[part]
        levelled[part] = twice.sum(axis=1)

    over_blocks(hold, everywhere, nt)
    # What the ends cut off stays in the coat.
    levelled += poured * (1 - levelled.sum() / poured.sum())
    wanted = _along(levelled, step, coat)
    sunk, held, falls = np.zeros(count), np.empty(count), np.empty(count)

    def fill(part: slice) -> None:
        level = over[part] - sunk[part, None] * shape[part]
        left = _smooth_film(level, thin[part])
        held[part] = (left * (2 * bed[part] + left)).sum(axis=1)
        # Newton's step: the film's volume falls as the level does.
        outside = (bed[part] + left) * left / np.maximum(2 * left - level, _TINY)
        falls[part] = (2 * outside * shape[part]).sum(axis=1)

    for _ in range(_MOST_SINKINGS):
        over_blocks(fill, everywhere, nt)
        excess = _along(held, step, coat) - wanted
        if np.abs(excess).max() <= _HELD_SHARE * wanted.max():
            break
        slope = _along(falls, step, coat)
        sunk += excess / np.maximum(slope, _LEAST_FALL * slope.max())

    def pour(part: slice) -> None:
        film = _smooth_film(over[part] - sunk[part, None] * shape[part], thin[part])
        np.maximum(bed[part] + film, bed[part], out=over[part])

    over_blocks(pour, everywhere, nt)
    return over


def _smooth_film(level: Array, thin: Array) -> Array:
    """Film under a level at some height over the bed, (m, nt) mm: never quite nothing."""
    film = level * level
    film += thin * thin
    np.sqrt(film, out=film)
    film += level
    film /= 2
    return film


def _along(amount: Array, step: float, coat: Coat) -> Array:
    """Even out an amount of each station along the blank, (m,), as the coat itself levels."""
    from scipy.fft import dct, idct

    k: Array = np.pi * np.arange(amount.size, dtype=np.float64) / (amount.size * step)
    return np.asarray(idct(dct(amount) * _left_of_ripples(k, coat)))


def _left_of_ripples(wavenumber: Array, coat: Coat) -> Array:
    """Share of a ripple that is left when the coat has set."""
    rate = levelling_rate(
        wavenumber,
        coat.thickness,
        viscosity=coat.viscosity,
        surface_tension=coat.surface_tension,
    )
    return np.asarray(np.exp(-rate * coat.open_time))


def _level(bed: Array, step: float, radius: float, coat: Coat) -> Array:
    """Height above its bed of a coat that has levelled for its open time, (m, nt) mm.

    Even reflection at both ends (a cosine transform along the blank) keeps the taper and the
    ends' heights from leaking into each other as a plain Fourier transform would.
    """
    from scipy.fft import dct, idct, irfft, next_fast_len, rfft

    count, nt = bed.shape
    length = next_fast_len(count + 16)
    spectrum = rfft(_brushed(bed, coat.thickness - radius, length), axis=1, workers=-1)
    spectrum = dct(spectrum, axis=0, workers=-1, overwrite_x=True)
    kz = np.pi * np.arange(length) / (length * step)
    around = np.arange(spectrum.shape[1]) / radius
    table = np.linspace(0, float(np.hypot(kz[-1], around[-1])), 4096)
    shares = _left_of_ripples(table, coat)

    def die_away(part: slice) -> None:
        k = np.hypot(kz[part, None], around)
        spectrum[part] *= np.interp(k, table, shares).astype(np.float32)

    over_blocks(die_away, slice(0, length), spectrum.shape[1])
    spectrum = idct(spectrum, axis=0, workers=-1, overwrite_x=True)
    level = irfft(spectrum, n=nt, axis=1, workers=-1, overwrite_x=True)
    over = np.empty(bed.shape)

    def lift(part: slice) -> None:
        np.subtract(level[part] + np.float32(radius), bed[part], out=over[part])

    over_blocks(lift, slice(0, count), nt)
    return over


def _brushed(bed: Array, add: float, length: int) -> NDArray[np.float32]:
    """A bed raised by `add` mm, its last station repeated up to `length` of them."""
    count, nt = bed.shape
    free = np.empty((length, nt), np.float32)

    def raise_(part: slice) -> None:
        free[part] = bed[part] + add

    over_blocks(raise_, slice(0, count), nt)
    free[count:] = free[count - 1]
    return free
