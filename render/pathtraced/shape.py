"""Thread and finish as triangles fine enough for path tracing.

The live picture averages over rows of thread; here each row is a ridge of its own. The vertices
follow the thread. Every row has the same few vertices across it. The last of one row and the first
of the next both lie in the cleft between them, so that no normal is interpolated over the cleft.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter

from geometry.array_blocks import over_blocks
from geometry.bodies.slopes import slopes
from geometry.surface import Surface
from materials.colour import from_bytes
from render.pathtraced.facing import facing
from scenes.stage.bodies import WrapBody
from scenes.stage.borders import shown_at
from scenes.stage.maps import ROW_STEPS, SurfaceMaps, crests

__all__ = ["Shape", "Stretch", "normals", "position_across", "spanning", "stretches"]

Array = NDArray[np.float64]
Floats = NDArray[np.float32]

_LEVELS = np.float32(255)

_LEAST_SHARE = np.float32(1 / 255)
"""Smallest share of a mirroring or scattering part whose colour is computed; of less it does not
matter."""

_ACROSS = (0.015, 0.2, 0.4, 0.6, 0.8, 0.985)
"""Positions of a row's vertices across it, 0 to 1. With straight edges between them the error of
the normal is smaller than the film's own roughness."""

_LEAST_FILM = 1e-3
"""Thickness of finish below which a station counts as dry, mm."""

_CLEARANCE = 2e-3
"""Least depth of thread below the outside of the finish, mm: the two meshes have different
vertices, and must not intersect."""

_LEAST_SINE_SQUARED = np.float32(1e-6)
"""Square of the least sine of a triangle's angle; float32 knows it to about 2e-7."""

_SUNK = 0.05
"""Depth to which the ends of the finish reach into the blank, mm: no light may leak in there."""


@dataclass(frozen=True, slots=True)
class Shape:
    """Triangles in the geometry's frame, with attributes of their vertices.

    Parameters
    ----------
    points, normals : (n, 3) float32
        Positions, mm; unit outward normals.
    faces : (m, 3) int32
        Vertex indices, counter-clockwise seen from outside.
    body, mirror : (n, 3) float32
        Colours of the scattering and of the mirroring part, linear sRGB.
    metal : (n,) float32
        Share of the mirroring part, 0 to 1.
    """

    points: Floats
    normals: Floats
    faces: NDArray[np.int32]
    body: Floats
    mirror: Floats
    metal: Floats


@dataclass(frozen=True, slots=True)
class Stretch:
    """A length of a wrapped blank that is wholly under finish or wholly dry.

    Parameters
    ----------
    base : Shape
        Thread, blank and whatever else the finish would cover.
    film : Shape or None
        The outside of the finish, its ends sunk into the blank; None where dry.
    roughness : float
        Perceptual roughness of the dielectric part.
    metal_roughness : float
        Perceptual roughness of the metallic part.
    """

    base: Shape
    film: Shape | None
    roughness: float
    metal_roughness: float


def stretches(wrap: WrapBody, maps: SurfaceMaps, *, every: int = 1) -> Iterator[Stretch]:
    """Cut a wrapped blank into finished and dry lengths.

    Parameters
    ----------
    wrap : WrapBody
    maps : SurfaceMaps
        Of that wrap.
    every : int
        Stride over the angles of the grid; must divide their number.
    """
    ridges = crests(wrap.surface)
    outside = wrap.outside
    stations = wrap.surface.z.size
    if outside is None:
        wet = np.zeros(stations, np.bool_)
    else:
        wet = (outside.radius - wrap.surface.radius).max(axis=1) > _LEAST_FILM
        # It starts where the film still is nothing, as it ends there, and so in no wall.
        wet[:-1] |= wet[1:]
    bounds = [0, *(np.flatnonzero(np.diff(wet)) + 1).tolist(), stations]
    for first, end in pairwise(bounds):
        # Neighbours share a station, so that nothing gapes between them.
        part = slice(first, min(end + 1, stations))
        if part.stop - part.start < 2:
            continue
        over = outside if wet[first] else None
        base = _base(wrap, maps, ridges, part, every, over)
        film = None if over is None else _film(over, wrap.surface, part, every)
        yield Stretch(base, film, *_roughness(wrap, part))


def _roughness(wrap: WrapBody, part: slice) -> tuple[float, float]:
    """Roughness of the commonest dielectric and of the commonest metal there."""
    count = np.bincount(wrap.surface.material[part].ravel(), minlength=len(wrap.palette))
    roughness = [0.5, 0.2]
    for metallic in (0, 1):
        share = [
            number if round(look.metallic) == metallic else 0
            for number, look in zip(count, wrap.palette, strict=True)
        ]
        if max(share):
            roughness[metallic] = wrap.palette[int(np.argmax(share))].roughness_along
    return roughness[0], roughness[1]


def _base(
    wrap: WrapBody,
    maps: SurfaceMaps,
    ridges: Floats,
    part: slice,
    every: int,
    outside: Surface | None,
) -> Shape:
    surface = wrap.surface
    theta = surface.theta[::every]
    columns = np.arange(0, surface.theta.size, every)
    vertex_z = _vertex_stations(surface, part, theta, wrap.row_width)
    nz, nt = vertex_z.shape
    points = np.empty((nz, nt, 3), np.float32)
    leaning = np.empty_like(points)
    body, mirror = np.empty_like(points), np.empty_like(points)
    metal = np.empty((nz, nt), np.float32)
    mirrored, scattered = from_bytes(maps.mirror[..., :3]), from_bytes(maps.body)
    cosine = np.cos(theta).astype(np.float32)
    sine = np.sin(theta).astype(np.float32)

    def work(rows: slice) -> None:
        z = vertex_z[rows]
        at = np.clip((z - surface.z[0]) / surface.step, 0, surface.z.size - 1 - 1e-6)
        low = at.astype(np.intp)
        share = (at - low).astype(np.float32)

        def interpolated(image: NDArray[np.generic]) -> Floats:
            below = image[low, columns].astype(np.float32)
            above = image[low + 1, columns].astype(np.float32)
            between = share[..., None] if below.ndim == 3 else share
            return np.asarray(below + (above - below) * between)

        slopes, nearest = interpolated(maps.slopes), np.rint(at).astype(np.intp)
        thread = interpolated(maps.thread) / _LEVELS
        place, rounding = position_across(maps.rows[nearest, columns], at - nearest), thread[..., 1]
        radius = interpolated(ridges) + _ridge(place, rounding, wrap.row_width)
        sides = _sides(maps, at, columns)
        if outside is not None:
            limit = interpolated(outside.radius) - np.float32(_CLEARANCE)
            np.minimum(radius, limit, out=radius)
        points[rows, :, 0] = radius * cosine
        points[rows, :, 1] = radius * sine
        points[rows, :, 2] = z
        leaning[rows] = normals(slopes, thread[..., 3], place * rounding, cosine, sine)
        share = sides.mixed(interpolated(maps.mirror[..., 3]), maps.mirror[..., 3]) / _LEVELS
        shone = sides.mixed(interpolated(mirrored), mirrored)
        sent = sides.mixed(interpolated(scattered), scattered)
        metal[rows] = share
        mirror[rows] = shone / np.maximum(share, _LEAST_SHARE)[..., None]
        body[rows] = sent / np.maximum(1 - share, _LEAST_SHARE)[..., None]

    over_blocks(work, slice(0, nz), nt, points=1 << 16)
    faces = _faces(points, len(_ACROSS))
    return Shape(
        points.reshape(-1, 3),
        facing(points.reshape(-1, 3), leaning.reshape(-1, 3), faces),
        faces,
        np.minimum(body, 1).reshape(-1, 3),
        np.minimum(mirror, 1).reshape(-1, 3),
        metal.ravel(),
    )


@dataclass(frozen=True, slots=True)
class _Sides:
    """Vertices on round threads and beside them, and how much of either thread they show.

    Parameters
    ----------
    vertices : (n,) int
        Among all vertices of a block.
    own, other : 2 (n,) int
        Stations and angles of a point of either thread.
    share : (n,) float32
        Of the other.
    """

    vertices: NDArray[np.intp]
    own: tuple[NDArray[np.intp], NDArray[np.intp]]
    other: tuple[NDArray[np.intp], NDArray[np.intp]]
    share: Floats

    def mixed(self, values: Floats, image: NDArray[np.generic]) -> Floats:
        """Replace, in values of all vertices, those at sides by values of the threads."""
        own, other = image[self.own].astype(np.float32), image[self.other].astype(np.float32)
        share = self.share[:, None] if image.ndim == 3 else self.share
        flat = values.reshape(-1, *image.shape[2:])
        flat[self.vertices] = own + (other - own) * share
        return flat.reshape(values.shape)


def _sides(maps: SurfaceMaps, at: Array, columns: NDArray[np.intp]) -> _Sides:
    """Sides of round threads among vertices at stations `at`, (n, nt), in grid steps.

    Over the distance between two vertices a colour passes into that of the next thread, so that
    the side is as straight as it is.
    """
    station = at.astype(np.float32).ravel()
    column = np.broadcast_to(columns, at.shape).ravel()
    near = np.rint(station).astype(np.intp)
    vertices = np.flatnonzero(maps.rows[near, column, 3])
    shown = shown_at(maps.rows, ROW_STEPS, station[vertices], column[vertices])
    return _Sides(
        vertices,
        (shown.station, shown.column),
        (shown.other_station, shown.other_column),
        np.clip(np.float32(0.5) - shown.off, 0, None),
    )


def _vertex_stations(surface: Surface, part: slice, theta: Array, row: float) -> Array:
    """Positions along the blank of the vertices at each angle, (n, nt) mm.

    Hoop-wound thread advances by one row each turn, and so do the vertices; at the ends of the
    stretch they are clipped to it.
    """
    start, end = float(surface.z[part.start]), float(surface.z[part.stop - 1])
    # z = first + row (number + theta / 2 pi) on the cover; without a cover any rows will do.
    wound = (surface.lay[part] == 0) & (surface.row[part] != 0) & ~surface.tube[part]
    first = start
    if not wound.any():
        row = max(row, 2 * surface.step)
    else:
        station, column = np.unravel_index(int(np.argmax(wound)), wound.shape)
        station += part.start
        turns = surface.row[station, column] + surface.theta[column] / (2 * np.pi)
        first = float(surface.z[station] - row * turns)
    number = np.arange(np.floor((start - first) / row) - 1, np.ceil((end - first) / row) + 1)
    across = (number[:, None] + np.array(_ACROSS)).ravel()
    return np.clip(first + row * (across[:, None] + theta / (2 * np.pi)), start, end)


def _ridge(place: Floats, rounding: Floats, width: float) -> Floats:
    """Height of a row's arc relative to its crest, mm; 0 or less."""
    bent = np.maximum(rounding, np.float32(1e-3))
    bow = np.float32(width / 2) / bent
    return np.asarray(bow * (np.sqrt(1 - (bent * place) ** 2) - 1))


def position_across(
    rows: NDArray[np.uint8], stations: Array, columns: Array | float = 0.0
) -> Floats:
    """Position across the row, -1 to 1.

    Parameters
    ----------
    rows : (..., 4) uint8
        `SurfaceMaps.rows` of the nearest grid points.
    stations, columns : (...) float
        Offset from those points along and around the blank, in grid steps.
    """
    texel = rows.astype(np.float32)
    place = (texel[..., 0] + np.float32(0.5)) / 256
    place += (texel[..., 1] - 128) / np.float32(ROW_STEPS) * stations.astype(np.float32)
    place += (texel[..., 2] - 128) / np.float32(ROW_STEPS) * np.float32(columns)
    return np.asarray(2 * (place - np.floor(place)) - 1)


def normals(slopes: Floats, lay: Floats, lean: Floats, cosine: Floats, sine: Floats) -> Floats:
    """Unit normals in the geometry's frame, (..., 3).

    Parameters
    ----------
    slopes : (..., 2) float32
        Rise of the radius per length around and along the blank.
    lay : (...) float32
        Direction of the thread from the hoop, -pi/2 to pi/2 mapped to 0 to 1.
    lean : (...) float32
        Sine of the normal's tilt across the row.
    cosine, sine : (...) float32
        Of the angle theta around the blank.
    """
    hoop, rise = slopes[..., 0], slopes[..., 1]
    size = 1 / np.sqrt(1 + hoop * hoop + rise * rise)
    n = np.stack((size, -hoop * size, -rise * size), axis=-1)  # radial, hoop, along the blank
    angle = (lay - np.float32(0.5)) * np.float32(np.pi)
    along = np.stack((np.zeros_like(angle), np.cos(angle), np.sin(angle)), axis=-1)
    along -= (along * n).sum(axis=-1, keepdims=True) * n
    along /= np.linalg.norm(along, axis=-1, keepdims=True)
    lean = lean[..., None]
    n = np.sqrt(1 - lean * lean) * n + lean * np.cross(n, along)
    radial, hoop, axial = n[..., 0], n[..., 1], n[..., 2]
    return np.stack((radial * cosine - hoop * sine, radial * sine + hoop * cosine, axial), axis=-1)


def _film(outside: Surface, beneath: Surface, part: slice, every: int) -> Shape:
    """The outside of the finish as a tube whose ends are sunk into the blank."""
    stations = np.arange(part.start, part.stop)
    stations = np.unique(np.append(stations[::every], stations[-1]))
    columns = slice(None, None, every)
    lean, rise = slopes(outside)
    radius = outside.radius
    if every > 1:
        # With straight edges between fewer points it must still enclose everything it covers.
        radius = maximum_filter(radius, 2 * every - 1, mode=("nearest", "wrap"))
    radius = radius[stations, columns]
    lean, rise = lean[stations, columns], rise[stations, columns]
    z = outside.z[stations]
    # From what lies there, not from the film: that may be thicker than the ends are sunk.
    sunk = beneath.radius[stations[[0, -1]], columns] - _SUNK
    radius = np.concatenate((sunk[:1], radius, sunk[1:]))
    lean, rise = (np.concatenate((a[:1], a, a[-1:])) for a in (lean, rise))
    z = np.concatenate((z[:1], z, z[-1:]))
    cosine = np.cos(outside.theta[columns]).astype(np.float32)
    sine = np.sin(outside.theta[columns]).astype(np.float32)
    points = np.empty((*radius.shape, 3), np.float32)
    points[..., 0], points[..., 1] = radius * cosine, radius * sine
    points[..., 2] = z[:, None]
    size = 1 / np.sqrt(1 + lean * lean + rise * rise)
    upright = np.stack(
        ((cosine + lean * sine) * size, (sine - lean * cosine) * size, -rise * size), axis=-1
    )
    count = radius.size
    return Shape(
        points.reshape(-1, 3),
        upright.reshape(-1, 3).astype(np.float32),
        _faces(points, 0),
        np.ones((count, 3), np.float32),
        np.ones((count, 3), np.float32),
        np.zeros(count, np.float32),
    )


def _faces(points: Floats, climb: int) -> NDArray[np.int32]:
    """Triangles of a tube whose vertices advance by `climb` stations in one turn.

    Where the end of the tube cuts rows off, vertices coincide with those of the next row, or lie in
    line with them. A triangle between such vertices is left out.

    Parameters
    ----------
    points : (nz, nt, 3) float32
    climb : int
    """
    nz, nt, _ = points.shape
    index = np.arange(nz * nt, dtype=np.int32).reshape(nz, nt)
    closing = np.minimum(np.arange(nz) + climb, nz - 1)
    index = np.concatenate((index, index[closing, :1]), axis=1)
    a, b, c, d = index[:-1, :-1], index[:-1, 1:], index[1:, :-1], index[1:, 1:]
    faces = np.stack((a, b, d, a, d, c), axis=-1).reshape(-1, 3)
    return faces[spanning(points.reshape(-1, 3), faces)]


def spanning(points: Floats, faces: NDArray[np.int32]) -> NDArray[np.bool_]:
    """Where a triangle is wide enough for a place on it to be expressed by its corners.

    A tracer solves for the weights of the corners in single precision: on a triangle whose corners
    are in line its colours are no numbers.

    Parameters
    ----------
    points : (n, 3) float32
    faces : (m, 3) int32

    Returns
    -------
    (m,) bool
    """
    wide = np.empty(len(faces), np.bool_)

    def work(part: slice) -> None:
        first, second, third = (points[faces[part, corner]] for corner in range(3))
        one, other = second - first, third - first
        products = (one * one).sum(axis=1) * (other * other).sum(axis=1)
        wide[part] = products - (one * other).sum(axis=1) ** 2 > _LEAST_SINE_SQUARED * products

    over_blocks(work, slice(0, len(faces)), 1)
    return wide
