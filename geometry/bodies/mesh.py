"""Triangles of a surface, with what a renderer wants at each corner."""

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from geometry.array_blocks import over_blocks
from geometry.bodies.slopes import slopes_of
from geometry.surface import Surface

__all__ = ["Mesh", "enclosed_volume", "skin", "tube_faces"]

T = TypeVar("T", bound=np.generic)


@dataclass(frozen=True, slots=True)
class Mesh:
    """A triangle mesh in the geometry's own frame.

    Parameters
    ----------
    points : (n, 3) float32
        Corners of the triangles, mm.
    normals : (n, 3) float32
        Unit length, outward.
    tangents : (n, 3) float32
        Unit length, along the thread: the hoop turned by the thread's lay.
    uv : (n, 2) float32
        Texture coordinates: theta / 2 pi from 0 to 1, and distance along the blank, 0 to 1.
    faces : (m, 3) int32
        Counter-clockwise seen from outside.
    material : (n,) int16
        Palette index.
    row, along : (n,) float32
        Thread coordinates as in `Surface`.
    """

    points: NDArray[np.float32]
    normals: NDArray[np.float32]
    tangents: NDArray[np.float32]
    uv: NDArray[np.float32]
    faces: NDArray[np.int32]
    material: NDArray[np.int16]
    row: NDArray[np.float32]
    along: NDArray[np.float32]


def skin(surface: Surface) -> Mesh:
    """Make the open tube of a surface, for pictures.

    The first column stands again at theta = 2 pi so that texture and thread coordinates run on;
    positions, normals and tangents there are the very same numbers, so no seam shows.

    With P = (r cos, r sin, z): N ~ e_r - (r_theta / r) e_theta - r_z e_z, and the hoop tangent
    T ~ (r_theta / r) e_r + e_theta.

    Parameters
    ----------
    surface : Surface
        What the tube runs along.
    """
    nz, nt = surface.shape
    points = np.empty((nz, nt + 1, 3), np.float32)
    normals = np.empty_like(points)
    tangents = np.empty_like(points)
    cosine, sine = np.cos(surface.theta), np.sin(surface.theta)

    def work(part: slice) -> None:
        radius = surface.radius[part]
        lean, rise = slopes_of(surface, part)
        size = 1 / np.sqrt(1 + lean * lean + rise * rise)
        inner = (part, slice(0, nt))
        points[(*inner, 0)] = radius * cosine
        points[(*inner, 1)] = radius * sine
        points[(*inner, 2)] = surface.z[part, None]
        normals[(*inner, 0)] = (cosine + lean * sine) * size
        normals[(*inner, 1)] = (sine - lean * cosine) * size
        normals[(*inner, 2)] = -rise * size
        hoop = 1 / np.sqrt(1 + lean * lean)
        hoop_x, hoop_y = (lean * cosine - sine) * hoop, (lean * sine + cosine) * hoop
        # B = N x T points along the blank; the lay turns T towards it.
        normal = normals[inner]
        lay = surface.lay[part]
        turned_c, turned_s = np.cos(lay), np.sin(lay)
        tangents[(*inner, 0)] = turned_c * hoop_x - turned_s * normal[..., 2] * hoop_y
        tangents[(*inner, 1)] = turned_c * hoop_y + turned_s * normal[..., 2] * hoop_x
        tangents[(*inner, 2)] = turned_s * (normal[..., 0] * hoop_y - normal[..., 1] * hoop_x)

    over_blocks(work, slice(0, nz), nt, points=1 << 15)
    for array in (points, normals, tangents):
        array[:, nt] = array[:, 0]

    uv = np.empty((nz, nt + 1, 2), np.float32)
    uv[..., 0] = np.arange(nt + 1) / nt
    uv[..., 1] = np.linspace(0, 1, nz)[:, None]
    row, along = _closed(surface.row), _closed(surface.along)
    # One turn on, hoop-laid thread has run a whole turn's length, and wound thread climbed a row.
    hoop_laid = (surface.lay[:, 0] == 0) & (surface.lay[:, -1] == 0)
    climb = np.rint(surface.row[:, -1] - surface.row[:, 0])
    row[:, nt] += np.where(hoop_laid, climb, 0)
    along[:, nt] += np.where(hoop_laid, surface.along[:, -1] * (nt / (nt - 1)), 0)
    return Mesh(
        points.reshape(-1, 3),
        normals.reshape(-1, 3),
        tangents.reshape(-1, 3),
        uv.reshape(-1, 2),
        tube_faces(nz, nt + 1),
        _closed(surface.material).ravel(),
        row.ravel(),
        along.ravel(),
    )


def enclosed_volume(surface: Surface) -> float:
    """Volume of `solid`, without making it, mm³.

    The sum of its triangles' tetrahedra to a point on the axis, det(a, b, c) / 6 each (divergence
    theorem). With r the radius, z from the first station and delta the step round, a cell with the
    corners a, b below and c, d above has sin(delta) / 6 times
    a b z_above + a d (z_above - z_below) - c d z_below.

    Parameters
    ----------
    surface : Surface
        Outside of the body.
    """
    radius, z = surface.radius, surface.z - surface.z[0]
    following = np.roll(radius, -1, axis=1)
    ring = np.einsum("ij,ij->i", radius, following)
    slanted = np.einsum("ij,ij->i", radius[:-1], following[1:])
    cells = ring[:-1] * z[1:] + slanted * np.diff(z) - ring[1:] * z[:-1]
    sine = np.sin(2 * np.pi / surface.theta.size)
    return float(sine / 6 * (cells.sum() + ring[-1] * z[-1]))


def _closed(array: NDArray[T]) -> NDArray[T]:
    """The array with its first column repeated at the end."""
    return np.concatenate((array, array[:, :1]), axis=1)


def tube_faces(rings: int, columns: int) -> NDArray[np.int32]:
    """Triangles between rings of points, two to each cell.

    They meet on the line from its first point to the next column's in the next ring.

    Parameters
    ----------
    rings, columns : int
        Points are counted ring after ring.

    Returns
    -------
    (m, 3) int32
        Counter-clockwise seen from outside.
    """
    a = (
        np.arange(rings - 1, dtype=np.int32)[:, None] * columns
        + np.arange(columns - 1, dtype=np.int32)
    ).ravel()
    faces = np.empty((a.size, 2, 3), np.int32)
    faces[:, 0, 0] = faces[:, 1, 0] = a
    faces[:, 0, 1] = a + 1
    faces[:, 0, 2] = faces[:, 1, 1] = a + columns + 1
    faces[:, 1, 2] = a + columns
    return faces.reshape(-1, 3)
