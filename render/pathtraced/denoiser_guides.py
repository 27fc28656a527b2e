"""What the denoiser is told of a picture: colours and normals without noise.

Through finish they are those of the thread beneath. The first surface that each ray meets comes
from Mitsuba; where that is finish the ray is refracted, and followed through the film down to the
thread by the surface's own grid.
"""

from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from materials.colour import from_bytes
from render.pathtraced.engine import engine, one_thread
from render.pathtraced.lens import Box
from render.pathtraced.shape import across, normals
from scenes.stage.bodies import WrapBody
from scenes.stage.maps import SurfaceMaps

__all__ = ["Guides", "Under", "guides"]

Array = NDArray[np.float64]
Floats = NDArray[np.float32]
T = TypeVar("T", bound=np.generic)

_STEPS = 4
"""Steps down through a film; it is thin and the thread under it nearly level with it."""


class Under:
    """What lies under a film, to be looked up anywhere on it.

    Parameters
    ----------
    wrap : WrapBody
    maps : SurfaceMaps
        Of that wrap.
    middle : float
        Distance from the butt of the origin of the rod's frame, mm.
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
        """Station and column, not whole numbers, and the radial direction, (n, 2)."""
        surface = self.wrap.surface
        station = (place[:, 2] - self._start) / surface.step
        angle = np.arctan2(place[:, 1], place[:, 0]) % (2 * np.pi)
        column = angle / (2 * np.pi) * surface.theta.size
        radial = place[:, :2] / np.hypot(place[:, 0], place[:, 1])[:, None]
        return station, column, radial

    def radius(self, station: Array, column: Array) -> Array:
        """Radius of the thread between grid points, mm."""
        return np.asarray(map_coordinates(self._radius, (station, column), order=1, mode="nearest"))

    def colour(self, station: Array, column: Array) -> Floats:
        """Base colour of the nearest grid point, linear."""
        nearest = self._nearest(station, column)
        return from_bytes(self._mirror[nearest][:, :3]) + from_bytes(self._body[nearest])

    def normal(self, station: Array, column: Array, radial: Array, rows: float) -> Floats:
        """Normals in the rod's frame, with the share `rows` of the round of the rows."""
        slopes = np.stack(
            [
                map_coordinates(self._slopes[..., k], (station, column), order=1, mode="nearest")
                for k in range(2)
            ],
            axis=-1,
        )
        nearest = self._nearest(station, column)
        thread = self._thread[nearest].astype(np.float32) / np.float32(255)
        off = station - nearest[0], column - np.rint(column)
        lean = np.float32(rows) * across(self._rows[nearest], *off) * thread[:, 1]
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
    """Guides of a picture; the card is black and faces nowhere.

    Parameters
    ----------
    albedo, normal : (h, w, 3) float32
        0 to 1; in the rod's frame, shorter where a pixel sees several.
    on_rod : (h, w) bool
        Where anything but the card is seen.
    """

    albedo: Floats
    normal: Floats
    on_rod: NDArray[np.bool_]


@one_thread()
def guides(
    scene: Any,
    eyes: list[tuple[list[tuple[Box, Any]], Array]],
    size: tuple[int, int],
    films: dict[int, Under],
    card: int,
    pixel: float,
) -> Guides:
    """Follow a ray a pixel from each of several places on the lens.

    Parameters
    ----------
    scene : Mitsuba scene
    eyes : list of (list of (Box, sensor), (3,) float)
        Pinhole cameras, each with its sensors for the parts of the picture where the rod is, and
        where it stands in the rod's frame, mm.
    size : (int, int)
        Width and height of the picture.
    films : dict
        By the number of the finish's shape in the scene, what lies under it.
    card : int
        Number of the card's shape.
    pixel : float
        Width of a pixel on the rod, mm. Rows of thread are drawn where they are wider than two.
    """
    mi = engine()
    aovs = "place:position,normal:sh_normal,albedo:albedo,shape:shape_index"
    first = mi.load_dict({"type": "aov", "aovs": aovs})
    albedo = np.zeros((size[1], size[0], 3), np.float32)
    normal = np.zeros_like(albedo)
    on_rod = np.zeros((size[1], size[0]), np.bool_)
    for number, (sensors, eye) in enumerate(eyes):
        for (left, upper, right, lower), sensor in sensors:
            seen = np.array(mi.render(scene, sensor=sensor, integrator=first, spp=1, seed=number))
            place, n, colour = seen[..., -10:-7], seen[..., -7:-4], seen[..., -4:-1]
            # Mitsuba numbers shapes from 1; 0 is none.
            shape = np.rint(seen[..., -1]).astype(np.int64) - 1
            for index, under in films.items():
                through = shape == index
                if through.any():
                    rows = float(np.clip(under.wrap.row_width / pixel / 2 - 1, 0, 1))
                    colour[through], n[through] = _beneath(
                        under, place[through], n[through], eye, rows
                    )
            rod = (shape >= 0) & (shape != card)
            part = slice(upper, lower), slice(left, right)
            albedo[part] += colour * rod[..., None]
            normal[part] += n * rod[..., None]
            on_rod[part] |= rod
    albedo /= len(eyes)
    normal /= len(eyes)
    return Guides(np.clip(albedo, 0, 1), np.clip(normal, -1, 1), on_rod)


def _beneath(
    under: Under, place: Floats, n: Floats, eye: Array, rows: float
) -> tuple[Floats, Floats]:
    """Colour and normal where rays, refracted at `place`, come down on the thread."""
    ray = place - eye
    ray /= np.linalg.norm(ray, axis=1, keepdims=True)
    eta = 1 / under.wrap.finish_ior
    cosine = -np.sum(ray * n, axis=1, keepdims=True)
    inner = np.sqrt(np.maximum(1 - eta * eta * (1 - cosine * cosine), 0))
    ray = eta * ray + (eta * cosine - inner) * n
    here = place.astype(np.float64)
    for _ in range(_STEPS):
        station, column, radial = under.on_grid(here)
        down = np.maximum(-np.sum(ray[:, :2] * radial, axis=1), 0.2)
        above = np.hypot(here[:, 0], here[:, 1]) - under.radius(station, column)
        here += (np.maximum(above, 0) / down)[:, None] * ray
    station, column, radial = under.on_grid(here)
    return under.colour(station, column), under.normal(station, column, radial, rows)


def _closed(image: NDArray[T]) -> NDArray[T]:
    """The image with its first column again at 2 pi."""
    return np.concatenate((image, image[:, :1]), axis=1)
