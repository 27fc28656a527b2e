"""The path tracer's camera: a stage's camera with a lens of finite aperture."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from render.pathtraced.engine import engine
from scenes.stage.camera import Camera

__all__ = ["Box", "Lens", "pixel_of"]

Array = NDArray[np.float64]
Box = tuple[int, int, int, int]
"""Part of a picture: left, upper, right and lower edge, pixels; right and lower are outside."""


@dataclass(frozen=True, slots=True)
class Lens:
    """A camera in the rod's frame.

    Parameters
    ----------
    camera : Camera
    size : (int, int)
        Width and height of the whole picture, pixels.
    around : (4, 4) float
        From the stage's frame to the rod's.
    aperture : float
        Radius of the lens, mm; 0 for a pinhole.
    focus : float
        Distance along the line of sight at which the picture is sharp, mm.
    """

    camera: Camera
    size: tuple[int, int]
    around: Array
    aperture: float
    focus: float

    @property
    def pixel(self) -> float:
        """Width of a pixel on what the camera looks at, mm."""
        return pixel_of(self.camera, self.size)

    def sensor(self, box: Box | None = None) -> Any:
        """Mitsuba's sensor for the picture, or for a part of it.

        Parameters
        ----------
        box : Box, optional
            Part of the picture; all of it by default.
        """
        lens: dict[str, Any] = {"type": "perspective"}
        if self.aperture > 0:
            lens = {
                "type": "thinlens",
                "aperture_radius": self.aperture,
                "focus_distance": self.focus,
            }
        return self._made(lens, self.camera, box)

    def blur(self, depth: float) -> float:
        """Radius of the picture of a point, pixels.

        Parameters
        ----------
        depth : float
            Distance of the point from the lens, mm.
        """
        wide = self.aperture * abs(depth - self.focus) / max(depth, 1e-6)
        return wide / (self.pixel * self.focus / self.camera.distance)

    def eyes(self, count: int, boxes: list[Box]) -> list[tuple[list[tuple[Box, Any]], Array]]:
        """Pinhole cameras distributed over the lens.

        All look in the same direction, and the film of each is shifted so that their pictures agree
        at the focus, as the rays through any point of a real lens do. They lie on a spiral of equal
        areas (Vogel 1979, "A better way to construct the sunflower head"); one alone is in the
        middle.

        Parameters
        ----------
        count : int
            Number of cameras.
        boxes : list of Box
            Parts of the picture that each camera needs a sensor for.

        Returns
        -------
        list of (list of (Box, sensor), (3,) float)
            For each camera its sensors, and its position in the rod's frame, mm.
        """
        ahead, right, up = self._axes()
        high = 2 * self.focus * np.tan(self.camera.view_angle / 2)
        found = []
        for number in range(count):
            away = self.aperture * np.sqrt((number + 0.5) / count) if count > 1 else 0.0
            angle = number * np.pi * (3 - np.sqrt(5))
            x, y = float(away * np.cos(angle)), float(away * np.sin(angle))
            position = np.array(self.camera.position) + x * right + y * up
            target = position + ahead * self.camera.distance
            moved = Camera(
                tuple(position.tolist()),
                tuple(target.tolist()),
                self.camera.up,
                self.camera.view_angle,
            )
            lens = {
                "type": "perspective",
                "principal_point_offset_x": -x / (high * self.size[0] / self.size[1]),
                "principal_point_offset_y": y / high,
            }
            placed = self.around[:3, :3] @ position + self.around[:3, 3]
            found.append(([(box, self._made(lens, moved, box)) for box in boxes], placed))
        return found

    def _made(self, lens: dict[str, Any], camera: Camera, box: Box | None) -> Any:
        mi = engine()
        transform = mi.ScalarTransform4f
        look = transform().look_at(list(camera.position), list(camera.target), list(camera.up))
        # A box filter one pixel wide: wider filters correlate the noise of neighbouring pixels, and
        # the denoiser would keep it.
        film: dict[str, Any] = {
            "type": "hdrfilm",
            "width": self.size[0],
            "height": self.size[1],
            "pixel_format": "rgb",
            "component_format": "float32",
            "rfilter": {"type": "box"},
        }
        if box is not None:
            left, upper, right, lower = box
            film |= {
                "crop_offset_x": left,
                "crop_offset_y": upper,
                "crop_width": right - left,
                "crop_height": lower - upper,
            }
        return mi.load_dict(
            {
                **lens,
                "to_world": transform(self.around) @ look,
                "fov": float(np.rad2deg(camera.view_angle)),
                "fov_axis": "y",
                "near_clip": 0.1 * camera.distance,
                "far_clip": 5 * camera.distance + 4000,
                "film": film,
                "sampler": {"type": "independent"},
            }
        )

    def _axes(self) -> tuple[Array, Array, Array]:
        ahead = np.subtract(self.camera.target, self.camera.position) / self.camera.distance
        right = np.cross(ahead, self.camera.up)
        right /= np.linalg.norm(right)
        return ahead, right, np.cross(right, ahead)


def pixel_of(camera: Camera, size: tuple[int, int]) -> float:
    """Width of a pixel on what a camera looks at, mm.

    Parameters
    ----------
    camera : Camera
    size : (int, int)
        Width and height of the picture, pixels.
    """
    return float(2 * camera.distance * np.tan(camera.view_angle / 2) / size[1])
