"""The surface that every layer takes and returns."""

from dataclasses import dataclass, replace
from typing import Protocol, Self

import numpy as np
from numpy.typing import NDArray

from geometry.blank import Blank
from geometry.grid import Grid

__all__ = ["Layer", "Surface"]


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Surface:
    """Radius, material and thread direction on a (station, angle) grid.

    Two surfaces are equal only if they are one object.

    The last angle is one step short of 2 pi: column 0 follows column nt - 1, so there is no seam
    to close. All arrays are read-only.

    Parameters
    ----------
    z : (nz,) float
        Distance of each station from the butt, mm, evenly spaced.
    theta : (nt,) float
        Angles from the guide line, rad, evenly spaced over [0, 2 pi).
    radius : (nz, nt) float
        Distance from the axis, mm.
    material : (nz, nt) int16
        Index into a palette that the geometry never looks at.
    lay : (nz, nt) float32
        Thread direction from the hoop, rad; 0 for hoop-wound thread.
    row, along : (nz, nt) float32
        Thread coordinates: the whole part of `row` numbers the thread and its fraction runs across
        it (0.5 on the crest), to the left of `lay`: up the blank by its cosine, backwards round it
        by its sine; `along` is the distance along the thread from the guide line, mm.
        Hoop-wound thread climbs one row each turn, so `row` falls by one where theta passes 2 pi.
    tube : (nz, nt) bool
        True where the round of the thread itself is in `radius`, as on a trim; False where
        `radius` runs over the crests, as on a cover.
    """

    z: NDArray[np.float64]
    theta: NDArray[np.float64]
    radius: NDArray[np.float64]
    material: NDArray[np.int16]
    lay: NDArray[np.float32]
    row: NDArray[np.float32]
    along: NDArray[np.float32]
    tube: NDArray[np.bool_]

    def __post_init__(self) -> None:
        shape = (self.z.size, self.theta.size)
        for name in ("radius", "material", "lay", "row", "along", "tube"):
            array = getattr(self, name)
            if array.shape != shape:
                raise ValueError(f"{name} has the shape {array.shape}; the grid has {shape}")
            array.setflags(write=False)
        self.z.setflags(write=False)
        self.theta.setflags(write=False)

    @classmethod
    def bare(cls, blank: Blank, grid: Grid, material: int = 0) -> Self:
        """Make the surface of a bare blank.

        Parameters
        ----------
        blank : Blank
            Its radius is the surface's.
        grid : Grid
            Stations and angles.
        material : int
            Palette index of the blank.
        """
        shape = (grid.z.size, grid.theta.size)
        radius = np.empty(shape)
        radius[:] = blank.radius(grid.z)[:, None]
        zero = np.zeros(shape, np.float32)
        return cls(
            grid.z,
            grid.theta,
            radius,
            np.full(shape, material, np.int16),
            zero,
            zero,
            zero,
            np.zeros(shape, np.bool_),
        )

    @property
    def step(self) -> float:
        """Distance between stations, mm."""
        return float(self.z[1] - self.z[0])

    @property
    def shape(self) -> tuple[int, int]:
        """Stations and angles, (nz, nt)."""
        return self.z.size, self.theta.size

    def between(self, start: float, end: float) -> slice:
        """Find the stations of a stretch, both ends included where a station falls on them.

        Parameters
        ----------
        start, end : float
            Ends of the stretch, mm from the butt.
        """
        slack = 1e-9 * self.step
        return slice(
            int(np.searchsorted(self.z, start - slack)),
            int(np.searchsorted(self.z, end + slack, side="right")),
        )

    def divides_by(self, stride: int, around: int | None = None) -> bool:
        """Whether a thinned grid keeps both ends and even steps round the blank.

        Parameters
        ----------
        stride : int
            As for `thinned`.
        around : int, optional
            As for `thinned`.
        """
        nz, nt = self.shape
        return (nz - 1) % stride == 0 and nt % (around or stride) == 0

    def thinned(self, stride: int, around: int | None = None) -> Self:
        """Keep every `stride`-th station and angle.

        Parameters
        ----------
        stride : int
            1 or more.
        around : int, optional
            Stride over the angles, where it is another.

        Raises
        ------
        ValueError
            If the grid does not divide evenly (`Grid.choose` makes grids that divide by 2, 4, 8
            and 16).
        """
        around = around or stride
        if not self.divides_by(stride, around):
            nz, nt = self.shape
            raise ValueError(f"a grid of {nz} by {nt} cannot be thinned by {stride} and {around}")
        pick = (slice(None, None, stride), slice(None, None, around))
        return type(self)(
            self.z[::stride],
            self.theta[::around],
            np.ascontiguousarray(self.radius[pick]),
            np.ascontiguousarray(self.material[pick]),
            np.ascontiguousarray(self.lay[pick]),
            np.ascontiguousarray(self.row[pick]),
            np.ascontiguousarray(self.along[pick]),
            np.ascontiguousarray(self.tube[pick]),
        )

    def with_arrays(
        self,
        *,
        radius: NDArray[np.float64] | None = None,
        material: NDArray[np.int16] | None = None,
        lay: NDArray[np.float32] | None = None,
        row: NDArray[np.float32] | None = None,
        along: NDArray[np.float32] | None = None,
        tube: NDArray[np.bool_] | None = None,
    ) -> Self:
        """Copy the surface with other arrays on the same grid.

        Parameters
        ----------
        radius : (nz, nt) float, optional
            Distance from the axis, mm.
        material : (nz, nt) int16, optional
            Palette index.
        lay : (nz, nt) float32, optional
            Thread direction from the hoop, rad.
        row, along : (nz, nt) float32, optional
            Thread coordinates; `along` in mm.
        tube : (nz, nt) bool, optional
            Whether the round of the thread itself is in `radius`.
        """
        return replace(
            self,
            radius=self.radius if radius is None else radius,
            material=self.material if material is None else material,
            lay=self.lay if lay is None else lay,
            row=self.row if row is None else row,
            along=self.along if along is None else along,
            tube=self.tube if tube is None else tube,
        )


class Layer(Protocol):
    """One layer of a wrap: relief, cover, seam trim and their like."""

    def apply(self, surface: Surface) -> Surface:
        """Lay this layer on a surface.

        Parameters
        ----------
        surface : Surface
            What the layer is laid on.

        Returns
        -------
        Surface
            With the layer on it.
        """
        ...
