"""How finely a design is sampled, from the sizes in it and the detail asked for."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Self

import numpy as np
from numpy.typing import NDArray

from geometry.errors import GeometryError
from geometry.tolerances import MEMORY_LIMIT_BYTES

__all__ = ["THINNEST", "Detail", "Grid", "fast_length"]

THINNEST = 16
"""Grids come in multiples of this, so that any power of two up to it thins them evenly."""

_BYTES_PER_POINT = 280
"""Peak memory for each grid point through build, maps and renderer: 204 by measurement of stills of
120 and 400 mm of wrap, 24 for libraries and light spread over the largest grid that is let pass,
and a fifth more for kinds of layer that need more than the one measured."""

_LEAST_ANGLES = 192
"""Round enough that a bare blank's outline shows no corner in a picture 2,000 pixels high."""


class Detail(StrEnum):
    """How much a grid is asked to show."""

    DRAFT = "draft"
    NORMAL = "normal"
    FINE = "fine"

    @property
    def samples_per_thread(self) -> float:
        """Grid points across the thinnest thread."""
        return {Detail.DRAFT: 1.1, Detail.NORMAL: 2.5, Detail.FINE: 5.0}[self]

    @property
    def samples_per_cell(self) -> float:
        """Grid points across the smallest relief cell."""
        return {Detail.DRAFT: 14.0, Detail.NORMAL: 32.0, Detail.FINE: 64.0}[self]


@dataclass(frozen=True, slots=True)
class Grid:
    """Stations along the blank and angles round it.

    Parameters
    ----------
    z : (nz,) float
        mm from the butt, evenly spaced.
    theta : (nt,) float
        rad, evenly spaced over [0, 2 pi).
    """

    z: NDArray[np.float64]
    theta: NDArray[np.float64]

    @classmethod
    def even(cls, start: float, end: float, stations: int, angles: int) -> Self:
        """Make a grid of even steps.

        Parameters
        ----------
        start, end : float
            First and last station, mm from the butt.
        stations : int
            Stations, both ends included.
        angles : int
            Angles round the blank.
        """
        theta = np.arange(angles, dtype=np.float64) * (2 * np.pi / angles)
        return cls(np.linspace(start, end, stations), theta)

    @classmethod
    def choose(
        cls,
        start: float,
        end: float,
        radius: float,
        *,
        thread: float,
        cell: float | None = None,
        striped: bool = False,
        detail: Detail = Detail.NORMAL,
    ) -> Self:
        """A grid that resolves the thinnest thread and the smallest cell.

        Parameters
        ----------
        start, end : float
            Ends of the wrap, mm.
        radius : float
            Largest radius of the blank there, mm.
        thread : float
            Diameter of the thinnest thread, mm.
        cell : float, optional
            Smallest period of the relief, mm.
        striped : bool
            Whether stripes as narrow as a thread lie over other stripes. The grid is then twice as
            fine along the blank: a coarser one would beat with the stripes.
        detail : Detail
            Grid points across a thread and across a cell.

        Raises
        ------
        GeometryError
            If the design would need more than `MEMORY_LIMIT_BYTES` at this detail.
        """
        step = thread / detail.samples_per_thread
        if cell is not None:
            step = min(step, cell / detail.samples_per_cell)
        along = step / 2 if striped else step
        stations = THINNEST * max(1, int(np.ceil((end - start) / along / THINNEST))) + 1
        wanted = max(_LEAST_ANGLES, int(np.ceil(2 * np.pi * radius / step)))
        size = stations * wanted * _BYTES_PER_POINT
        if size > MEMORY_LIMIT_BYTES:
            raise GeometryError(
                "detail",
                f"{detail} needs about {size / 1024**3:.1f} GB for {end - start:.0f} mm of wrap in "
                f"steps of {step:.3f} mm; the limit is {MEMORY_LIMIT_BYTES / 1024**3:.0f} GB, so "
                "ask for less detail or a shorter wrap",
            )
        return cls.even(start, end, stations, THINNEST * fast_length(-(-wanted // THINNEST)))

    def thinned(self, stride: int) -> Self:
        """Keep every `stride`-th station and angle.

        Parameters
        ----------
        stride : int
            1 or more; grids made by `choose` divide by powers of two up to `THINNEST`.
        """
        return type(self)(self.z[::stride], self.theta[::stride])

    @property
    def points(self) -> int:
        """Number of grid points."""
        return self.z.size * self.theta.size


def fast_length(least: int) -> int:
    """Least length of at least `least` whose Fourier transform is quick: 2, 3 and 5 divide it.

    As `scipy.fft.next_fast_len(least, real=True)`, which takes a fifth of a second to load.

    Parameters
    ----------
    least : int
        1 or more.
    """
    best = 1 << (least - 1).bit_length()
    five = 1
    while five < best:
        odd = five
        while odd < best:
            best = min(best, odd << max(0, -(-least // odd) - 1).bit_length())
            odd *= 3
        five *= 5
    return best
