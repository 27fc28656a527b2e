"""The mesh of a wrap: points of the outside, with the normals that textures are relative to.

Many viewers stretch the highlight of an anisotropic material in the directions of the mesh,
whatever the normal texture says. So the normals of the mesh follow the thread as far as its points
are near enough to one another, not the outside, on which the points lie.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter

from geometry.bodies.mesh import tube_faces
from geometry.grid import THINNEST
from scenes.stage.bodies import WrapBody
from scenes.stage.maps import crests

__all__ = ["Strides", "WrapMesh", "strides_for", "wrap_mesh"]

Floats = NDArray[np.float32]

_MOST_POINTS = (1 << 16) - 1
"""Most points of a mesh whose indices have two bytes."""


@dataclass(frozen=True, slots=True)
class Strides:
    """Distance between points of a mesh, texels.

    Parameters
    ----------
    along, around : int
        Along the blank and round it.
    """

    along: int
    around: int

    def points(self, shape: tuple[int, int]) -> tuple[int, int]:
        """Rings and columns of the mesh; the first column is repeated at the end.

        Parameters
        ----------
        shape : (int, int)
            Stations and angles of the grid.
        """
        stations, angles = shape
        return (stations - 1) // self.along + 1, angles // self.around + 1


@dataclass(frozen=True, slots=True)
class WrapMesh:
    """A tube, open at both ends, in the geometry's frame.

    Parameters
    ----------
    points : (rings, columns, 3) float64
        mm; the first column is repeated at the end.
    normals : (rings, columns, 3) float64
        Unit vectors.
    tangents : (rings, columns, 3) float64
        Unit vectors at right angles to the normals and to the blank, towards larger theta.
    uv : (rings, columns, 2) float64
        v is 0 at the tip.
    faces : (m, 3) int32
        Counter-clockwise seen from outside.
    slopes : (rings, columns, 2) float32
        Hoop and axial slope of the normals.
    strides : Strides
    """

    points: NDArray[np.float64]
    normals: NDArray[np.float64]
    tangents: NDArray[np.float64]
    uv: NDArray[np.float64]
    faces: NDArray[np.int32]
    slopes: Floats
    strides: Strides

    def between(self, part: slice) -> Floats:
        """Slopes of the interpolated normals at each texel of some stations.

        Parameters
        ----------
        part : slice
            Stations of the grid.

        Returns
        -------
        (n, nt, 2) float32
            Hoop and axial slope.
        """
        rings, columns, _ = self.slopes.shape
        normals = np.concatenate((np.ones_like(self.slopes[..., :1]), -self.slopes), axis=-1)
        normals /= np.linalg.norm(normals, axis=-1, keepdims=True)
        row, up = _place(np.arange(part.start, part.stop), self.strides.along, rings)
        angles = (columns - 1) * self.strides.around
        column, right = _place(np.arange(angles), self.strides.around, columns)
        low, high = normals[row], normals[row + 1]
        a, b = low[:, column], low[:, column + 1]
        c, d = high[:, column], high[:, column + 1]
        up, right = up[:, None, None], right[:, None]
        # The two triangles of a cell meet on the line from a to d.
        lower, upper = a + (b - a) * right + (d - b) * up, a + (c - a) * up + (d - c) * right
        found = np.where(right >= up, lower, upper)
        return np.asarray(-found[..., 1:] / found[..., :1])


def strides_for(shape: tuple[int, int]) -> Strides:
    """Strides of a mesh whose indices have two bytes.

    Parameters
    ----------
    shape : (int, int)
        Stations and angles of the grid.

    Returns
    -------
    Strides
        Powers of two that divide the grid; there are more points if it cannot be thinned further.
    """
    stations, angles = shape
    along = around = 1
    while np.prod(Strides(along, around).points(shape)) > _MOST_POINTS:
        # The longer step is kept, so that cells stay nearly square.
        if along <= around and 2 * along <= THINNEST and (stations - 1) % (2 * along) == 0:
            along *= 2
        elif 2 * around <= THINNEST and angles % (2 * around) == 0:
            around *= 2
        else:
            break
    return Strides(along, around)


def wrap_mesh(body: WrapBody, seen: Floats) -> WrapMesh:
    """Make the mesh of a wrap.

    Parameters
    ----------
    body : WrapBody
    seen : (nz, nt, 2) float32
        Hoop and axial slope of the thread; the normals are their mean about each point.
    """
    surface = body.surface
    strides = strides_for(surface.shape)
    pick = (slice(None, None, strides.along), slice(None, None, strides.around))
    # One point stands for many threads, so the round of a dry one would make a jagged outline.
    radius = body.outside.radius if body.outside is not None else crests(surface)
    window = (strides.along, strides.around, 1)
    slopes = uniform_filter(seen, window, mode=("nearest", "wrap", "nearest"))
    rings, columns = strides.points(surface.shape)
    radius, slopes = _closed(radius[pick].astype(np.float64)), _closed(slopes[pick])
    theta = np.append(surface.theta[pick[1]], surface.theta[0])
    cosine, sine = np.cos(theta), np.sin(theta)
    hoop, axial = slopes[..., 0].astype(np.float64), slopes[..., 1].astype(np.float64)
    along = np.broadcast_to(surface.z[pick[0], None], radius.shape)
    points = np.stack((radius * cosine, radius * sine, along), axis=-1)
    # N ~ e_r - hoop e_theta - axial e_z, T ~ hoop e_r + e_theta.
    normals = np.stack((cosine + hoop * sine, sine - hoop * cosine, -axial), axis=-1)
    tangents = np.stack((hoop * cosine - sine, hoop * sine + cosine, np.zeros_like(hoop)), axis=-1)
    for vectors in (normals, tangents):
        vectors /= np.linalg.norm(vectors, axis=-1, keepdims=True)
    # Texel centres: station i lies at (i + 1/2) / nz, angle j at (j + 1/2) / nt.
    nz, nt = surface.shape
    uv = np.empty((rings, columns, 2))
    uv[..., 0] = (np.arange(columns) * strides.around + 0.5) / nt
    uv[..., 1] = 1 - (np.arange(rings)[:, None] * strides.along + 0.5) / nz
    faces = tube_faces(rings, columns)
    return WrapMesh(points, normals, tangents, uv, faces, slopes, strides)


def _place(fine: NDArray[np.intp], stride: int, count: int) -> tuple[NDArray[np.intp], Floats]:
    """The point before each texel, and how far on the texel lies, 0 to 1."""
    low = np.minimum(fine // stride, count - 2)
    return low, ((fine - low * stride) / np.float32(stride)).astype(np.float32)


def _closed(array: NDArray[np.floating]) -> NDArray[Any]:
    """The array with its first column repeated at the end."""
    return np.concatenate((array, array[:, :1]), axis=1)
