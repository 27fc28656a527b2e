"""The camera: its preset views, and a design's adjustments to them."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from scenes.building.build import Plan
from scenes.parts.view import CameraSpec, View

__all__ = ["ARMS_LENGTH", "Camera", "adjusted", "camera_for"]

Point = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Camera:
    """A camera in the stage frame (x along the rod, y up, z to the viewer).

    Parameters
    ----------
    position, target, up : 3 float
        mm; `up` is a direction.
    view_angle : float
        Full vertical angle of view, rad.
    """

    position: Point
    target: Point
    up: Point
    view_angle: float

    @property
    def distance(self) -> float:
        """Distance from the camera to its target, mm."""
        return float(np.linalg.norm(np.subtract(self.position, self.target)))

    def project(
        self, points: NDArray[np.float64], size: tuple[int, int]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Project points of the stage into a picture.

        Parameters
        ----------
        points : (..., 3) float
            Stage frame, mm.
        size : (int, int)
            Width and height of the picture, pixels.

        Returns
        -------
        place : (..., 2) float
            Pixels from the left and upper edges of the picture; the centre of its first pixel is at
            (0.5, 0.5). May lie outside the picture.
        depth : (...) float
            Distance along the line of sight, mm; negative behind the camera.
        """
        ahead = np.subtract(self.target, self.position)
        ahead = ahead / np.linalg.norm(ahead)
        right = np.cross(ahead, self.up)
        right /= np.linalg.norm(right)
        seen = points - np.array(self.position)
        depth = seen @ ahead
        width, height = size
        scale = height / 2 / np.tan(self.view_angle / 2)
        with np.errstate(divide="ignore", invalid="ignore"):
            x = width / 2 + scale * (seen @ right) / depth
            y = height / 2 - scale * (seen @ np.cross(right, ahead)) / depth
        return np.stack((x, y), axis=-1), depth


@dataclass(frozen=True, slots=True)
class _Setup:
    """Framing of a view.

    Parameters
    ----------
    azimuth, elevation : float
        Direction from the rod to the camera, degrees. 0, 0 is perpendicular, from the front;
        positive azimuth is towards the tip, positive elevation above the rod.
    view_angle : float
        Full vertical angle, degrees; small angles show the rod without perspective bulge.
    margin : float
        Free space on the left and right, relative to the length of the wrap.
    """

    azimuth: float
    elevation: float
    view_angle: float
    margin: float


_SETUPS = {
    View.WHOLE_WRAP: _Setup(-4.0, 16.0, 14.0, 0.12),
    View.THREE_QUARTER: _Setup(38.0, 20.0, 20.0, 0.10),
    View.CLOSE: _Setup(8.0, 14.0, 12.0, 0.0),
    View.END_ON: _Setup(62.0, 30.0, 20.0, 0.0),
    View.ARMS_LENGTH: _Setup(-4.0, 24.0, 26.0, 0.0),
}

_CLOSE_WIDTH = 34.0
"""Width of the close view, mm: about the length of the last joint of a thumb."""

ARMS_LENGTH = 640.0
"""Distance of the arm's length view, mm (from memory: from an adult's wrist to the eye)."""

_STEEPEST = np.deg2rad(86.0)
"""Greatest elevation, rad; at 90 degrees the up direction is undefined."""


def adjusted(camera: Camera, spec: CameraSpec) -> Camera:
    """Adjust a camera as a design asks: azimuth, elevation, zoom and position along the rod.

    Zoom narrows the angle of view and does not move the camera, so that the near side of the rod
    does not bulge.

    Parameters
    ----------
    camera : Camera
    spec : CameraSpec
    """
    target, offset = np.array(camera.target), np.subtract(camera.position, camera.target)
    distance = float(np.linalg.norm(offset))
    azimuth = float(np.arctan2(offset[0], offset[2])) + spec.walk
    elevation = float(np.arcsin(offset[1] / distance)) + spec.rise
    if spec.rise:
        elevation = float(np.clip(elevation, -_STEEPEST, _STEEPEST))
    towards = np.array(
        (
            np.sin(azimuth) * np.cos(elevation),
            np.sin(elevation),
            np.cos(azimuth) * np.cos(elevation),
        )
    )
    target = target + np.array((spec.along, 0.0, 0.0))
    half = np.tan(camera.view_angle / 2) / spec.zoom
    return replace(
        camera,
        position=_point(target + distance * towards),
        target=_point(target),
        view_angle=float(2 * np.arctan(half)),
    )


def camera_for(plan: Plan, view: View, aspect: float) -> Camera:
    """Make the camera of a preset view.

    The middle of the wrap is at the origin of the stage.

    Parameters
    ----------
    plan : Plan
    view : View
    aspect : float
        Width over height of the picture.
    """
    setup = _SETUPS[view]
    azimuth, elevation = np.deg2rad(setup.azimuth), np.deg2rad(setup.elevation)
    towards = np.array(
        (
            np.sin(azimuth) * np.cos(elevation),
            np.sin(elevation),
            np.cos(azimuth) * np.cos(elevation),
        )
    )
    half_height = np.tan(np.deg2rad(setup.view_angle) / 2)
    start, end = plan.wound_span
    length, thickness = end - start, 2 * plan.middle_radius
    match view:
        case View.ARMS_LENGTH:
            distance = ARMS_LENGTH
        case View.CLOSE:
            distance = _CLOSE_WIDTH / 2 / (half_height * aspect)
        case View.END_ON:
            wide = 0.62 * length * np.cos(azimuth)
            distance = max(2.4 * thickness, wide) / half_height
        case _:
            wide = length * (1 + 2 * setup.margin) * np.cos(azimuth)
            # The near end of an oblique rod is closer and so looks longer.
            near = length / 2 * abs(np.sin(azimuth))
            distance = max(wide / 2 / (half_height * aspect) + near, 1.6 * thickness / half_height)
    target = np.zeros(3)
    if view is View.CLOSE:
        target[1] = 0.25 * thickness
    position = target + distance * towards
    return Camera(_point(position), _point(target), (0.0, 1.0, 0.0), np.deg2rad(setup.view_angle))


def _point(vector: np.ndarray) -> Point:
    x, y, z = vector.tolist()
    return x, y, z
