"""Guide images for the denoiser: colours and normals without noise.

Where finish covers the thread they are those of the thread. Mitsuba finds the first surface that
each ray meets. Where that is finish the ray is refracted and followed through the film down to the
thread on the surface's own grid.
"""

from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from geometry.array_blocks import over_blocks
from materials.colour import from_bytes
from render.pathtraced.engine import engine, one_thread
from render.pathtraced.lens import Box
from render.pathtraced.shape import normals, position_across
from scenes.stage.bodies import WrapBody
from scenes.stage.maps import SurfaceMaps

__all__ = ["Guides", "Substrate", "guides"]

Array = NDArray[np.float64]
Floats = NDArray[np.float32]
T = TypeVar("T", bound=np.generic)

_STEPS = 4
"""Iterations to find the thread below a film, which is thin and nearly parallel to the thread."""


class Substrate:
    """The thread and blank under a film of finish, interpolated at any position.

    Parameters
    ----------
    wrap : WrapBody
    maps : SurfaceMaps
        Of that wrap.
    middle : float
        Position along the blank of the origin of the rod's frame, mm from the butt.
    """

    def __init__(self, wrap: WrapBody, maps: SurfaceMaps, middle: float) -> None:
        self.wrap = wrap
        self._start = float(wrap.surface.z[0]) - middle
        self._radius = _closed(wrap.surface.radius)
        self._slopes = _closed(maps.slopes)
        self._rows = maps.rows
        self._thread = maps.thread
        self._mirror, self._body = maps.mirror, maps.body

    def on_grid(self, place: Array) -> tuple[Array, Array, Array]:
        """Convert positions to grid coordinates.

        Parameters
        ----------
        place : (n, 3) float
            Positions in the rod's frame, mm.

        Returns
        -------
        station, column : (n,) float
            Fractional grid indices along and around the blank.
        radial : (n, 2) float
            Unit radial direction, x and y.
        """
        surface = self.wrap.surface
        station = (place[:, 2] - self._start) / surface.step
        angle = np.arctan2(place[:, 1], place[:, 0]) % (2 * np.pi)
        column = angle / (2 * np.pi) * surface.theta.size
        radial = place[:, :2] / np.hypot(place[:, 0], place[:, 1])[:, None]
        return station, column, radial

    def radius(self, station: Array, column: Array) -> Array:
        """Radius of the thread, interpolated, (n,) mm.

        Parameters
        ----------
        station, column : (n,) float
            Fractional grid indices.
        """
        return np.asarray(map_coordinates(self._radius, (station, column), order=1, mode="nearest"))

    def colour(self, station: Array, column: Array) -> Floats:
        """Base colour at the nearest grid point, (n, 3) linear sRGB.

        Parameters
        ----------
        station, column : (n,) float
            Fractional grid indices.
        """
        nearest = self._nearest(station, column)
        return from_bytes(self._mirror[nearest][:, :3]) + from_bytes(self._body[nearest])

    def normal(self, station: Array, column: Array, radial: Array, rows: float) -> Floats:
        """Unit normals in the rod's frame, (n, 3).

        Parameters
        ----------
        station, column : (n,) float
            Fractional grid indices.
        radial : (n, 2) float
            Unit radial direction, x and y.
        rows : float
            Share of the rows' round cross-section that the normals follow, 0 to 1.
        """
        slopes = np.stack(
            [
                map_coordinates(self._slopes[..., k], (station, column), order=1, mode="nearest")
                for k in range(2)
            ],
            axis=-1,
        )
        nearest = self._nearest(station, column)
        thread = self._thread[nearest].astype(np.float32) / np.float32(255)
        offset = station - nearest[0], column - np.rint(column)
        lean = np.float32(rows) * position_across(self._rows[nearest], *offset) * thread[:, 1]
        cosine, sine = radial.T.astype(np.float32)
        return normals(slopes, thread[:, 3], lean, cosine, sine)

    def _nearest(self, station: Array, column: Array) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        nz, nt = self.wrap.surface.shape
        return (
            np.rint(station).astype(np.intp).clip(0, nz - 1),
            np.rint(column).astype(np.intp) % nt,
        )


@dataclass(frozen=True, slots=True)
class Guides:
    """Guides of a picture; both are zero on a card without a pattern, normals on any card.

    Parameters
    ----------
    albedo, normal : (h, w, 3) float32
        0 to 1; in the rod's frame, shorter than 1 where a pixel averages several normals.
    on_rod : (h, w) bool
        True where anything but the card is seen.
    depths : (float, float)
        Least and greatest distance from the lens to what is seen of it, mm.
    """

    albedo: Floats
    normal: Floats
    on_rod: NDArray[np.bool_]
    depths: tuple[float, float]


@one_thread()
def guides(
    scene: Any,
    eyes: list[tuple[list[tuple[Box, Any]], Array]],
    size: tuple[int, int],
    films: dict[int, Substrate],
    card: int,
    pixel: float,
    *,
    surfaces: bool = True,
    patterned: bool = False,
) -> Guides:
    """Trace one ray a pixel from each of several points on the lens.

    Parameters
    ----------
    scene : Mitsuba scene
    eyes : list of (list of (Box, sensor), (3,) float)
        Pinhole cameras: the sensors for the parts of the picture where the rod is, and the
        camera's position in the rod's frame, mm.
    size : (int, int)
        Width and height of the picture, pixels.
    films : dict of int to Substrate
        Substrate of each film of finish, by the number of the film's shape in `shape_index`.
    card : int
        Number of the card's shape.
    pixel : float
        Width of a pixel on the rod, mm. Rows of thread are resolved where they are wider than two.
    surfaces : bool
        Whether colours and normals are wanted; otherwise they are zero.
    patterned : bool
        Whether the card has a pattern, so that its colours are wanted too.
    """
    mi = engine()
    aovs = "place:position,normal:sh_normal,albedo:albedo,shape:shape_index"
    first = mi.load_dict({"type": "aov", "aovs": aovs})
    albedo = np.zeros((size[1], size[0], 3), np.float32)
    normal = np.zeros_like(albedo)
    on_rod = np.zeros((size[1], size[0]), np.bool_)
    nearest, farthest = np.inf, 0.0
    for number, (sensors, eye) in enumerate(eyes):
        for (left, upper, right, lower), sensor in sensors:
            seen = np.array(mi.render(scene, sensor=sensor, integrator=first, spp=1, seed=number))
            shape = np.rint(seen[..., -1]).astype(np.int64)
            rod = (shape > 0) & (shape != card)  # 0 is no shape
            part = slice(upper, lower), slice(left, right)
            on_rod[part] |= rod
            if surfaces and patterned:
                on_card = shape == card
                albedo[part][on_card] += seen[on_card][:, -4:-1]
            if not rod.any():
                continue
            seen, shape = seen[rod], shape[rod]
            place, n, colour = seen[:, -10:-7], seen[:, -7:-4], seen[:, -4:-1]
            away = np.linalg.norm(place - eye, axis=1)
            nearest, farthest = min(nearest, float(away.min())), max(farthest, float(away.max()))
            if not surfaces:
                continue
            for film, substrate in films.items():
                through = shape == film
                if through.any():
                    rows = float(np.clip(substrate.wrap.row_width / pixel / 2 - 1, 0, 1))
                    colour[through], n[through] = _beneath(
                        substrate, place[through], n[through], eye, rows
                    )
            albedo[part][rod] += colour
            normal[part][rod] += n
    albedo /= len(eyes)
    normal /= len(eyes)
    depths = (min(nearest, farthest), farthest)
    return Guides(np.clip(albedo, 0, 1), np.clip(normal, -1, 1), on_rod, depths)


def _beneath(
    substrate: Substrate, place: Floats, n: Floats, eye: Array, rows: float
) -> tuple[Floats, Floats]:
    """Colour and normal where rays that are refracted at `place` meet the thread."""
    colour, normal = np.empty_like(place), np.empty_like(n)

    def work(rays: slice) -> None:
        found = _below(substrate, place[rays], n[rays], eye, rows)
        colour[rays], normal[rays] = found

    over_blocks(work, slice(0, len(place)), 1)
    return colour, normal


def _below(
    substrate: Substrate, place: Floats, n: Floats, eye: Array, rows: float
) -> tuple[Floats, Floats]:
    """Colour and normal of the thread for some of the rays."""
    ray = place - eye
    ray /= np.linalg.norm(ray, axis=1, keepdims=True)
    eta = 1 / substrate.wrap.finish_ior
    cosine = -np.sum(ray * n, axis=1, keepdims=True)
    inner = np.sqrt(np.maximum(1 - eta * eta * (1 - cosine * cosine), 0))
    ray = eta * ray + (eta * cosine - inner) * n
    here = place.astype(np.float64)
    for _ in range(_STEPS):
        station, column, radial = substrate.on_grid(here)
        down = np.maximum(-np.sum(ray[:, :2] * radial, axis=1), 0.2)
        above = np.hypot(here[:, 0], here[:, 1]) - substrate.radius(station, column)
        here += (np.maximum(above, 0) / down)[:, None] * ray
    station, column, radial = substrate.on_grid(here)
    return substrate.colour(station, column), substrate.normal(station, column, radial, rows)


def _closed(image: NDArray[T]) -> NDArray[T]:
    """The image with its first column repeated at 2 pi."""
    return np.concatenate((image, image[:, :1]), axis=1)
