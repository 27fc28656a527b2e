"""The camera: its preset views, and a design's adjustments to them."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from scenes.building.build import Plan
from scenes.parts.view import CameraSpec, Lean, View

__all__ = [
    "ARMS_LENGTH",
    "STEEPEST",
    "Camera",
    "Framing",
    "adjusted",
    "camera_for",
    "fitted_span",
    "framing_of",
    "rolled",
]

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
    framing_angle : float
        The angle of view before zooming in, rad. The card behind the rod is cut to it where it is
        the wider one, so that zooming in does not change the light.
    """

    position: Point
    target: Point
    up: Point
    view_angle: float
    framing_angle: float = 0.0

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
    View.WHOLE_ROD: _Setup(-4.0, 16.0, 14.0, 0.05),
    View.THREE_QUARTER: _Setup(38.0, 20.0, 20.0, 0.10),
    View.CLOSE: _Setup(8.0, 14.0, 12.0, 0.0),
    View.ALONG_THE_ROD: _Setup(62.0, 30.0, 20.0, 0.0),
    View.ARMS_LENGTH: _Setup(-4.0, 24.0, 26.0, 0.0),
}

_CLOSE_WIDTH = 34.0
"""Width of the close view, mm: about the length of the last joint of a thumb."""

ARMS_LENGTH = 640.0
"""Distance of the arm's length view, mm (from memory: from an adult's wrist to the eye)."""

_WORTH_LEANING = 1.2
"""How many times larger a rod must be seen for it not to lie level, or not to stand."""

STEEPEST = np.deg2rad(86.0)
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
        elevation = float(np.clip(elevation, -STEEPEST, STEEPEST))
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


def rolled(camera: Camera, lean: float) -> Camera:
    """Roll a camera about its line of sight, so that the rod leans in its picture.

    Parameters
    ----------
    camera : Camera
    lean : float
        Angle by which the rod rises towards its tip, rad; at pi / 2 it stands. At 0 the camera
        stays as it is, and an oblique view shows the rod somewhat aslant.
    """
    if not lean:
        return camera
    ahead = np.subtract(camera.target, camera.position) / camera.distance
    right = np.cross(ahead, camera.up)
    right /= np.linalg.norm(right)
    up = np.cross(right, ahead)
    # The rod is the x axis: its components in the picture are those of the two directions.
    slope = np.arctan2(up[0], right[0]) if right[0] >= 0 else np.arctan2(-up[0], -right[0])
    roll = np.copysign(lean, right[0]) - slope
    return replace(camera, up=_point(np.cos(roll) * up + np.sin(roll) * right))


@dataclass(frozen=True, slots=True)
class Framing:
    """What a preset view takes in, whatever the picture's shape.

    Parameters
    ----------
    azimuth, elevation : float
        Direction from the target to the camera, rad, as `adjusted` changes them.
    view_angle : float
        Full vertical angle of view, rad.
    wide : float
        Width that the picture takes in at the target, mm; 0 if its distance does not depend on it.
    nearer : float
        Distance added to that, mm.
    least : float
        Least distance, mm.
    target : 3 float
        mm.
    thick : float
        Thickness of the rod, mm.
    """

    azimuth: float
    elevation: float
    view_angle: float
    wide: float
    nearer: float
    least: float
    target: Point
    thick: float

    def camera(self, aspect: float, lean: float = 0.0) -> Camera:
        """The camera of a picture, not rolled yet.

        Parameters
        ----------
        aspect : float
            Width over height of the picture.
        lean : float
            Angle by which the rod is to rise in the picture, rad (`rolled`).
        """
        distance = self._distance(aspect, lean)
        towards = np.array(
            (
                np.sin(self.azimuth) * np.cos(self.elevation),
                np.sin(self.elevation),
                np.cos(self.azimuth) * np.cos(self.elevation),
            )
        )
        position = np.array(self.target) + distance * towards
        angle = self.view_angle
        return Camera(_point(position), self.target, (0.0, 1.0, 0.0), angle, angle)

    def lean(self, aspect: float, asked: Lean) -> float:
        """Angle by which the rod rises in a picture, rad.

        Parameters
        ----------
        aspect : float
            Width over height of the picture.
        asked : Lean
            To fit, the rod lies level, or stands where that shows it larger by `_WORTH_LEANING`,
            or lies aslant where that shows it larger by as much again.
        """
        if asked is Lean.LEVEL or (asked is Lean.FIT and not self.wide):
            return 0.0
        upright = np.pi / 2
        if asked is Lean.UPRIGHT:
            return upright
        aslant = self._aslant(aspect)
        if asked is Lean.ASLANT:
            return aslant
        lean = 0.0
        for other in (upright, aslant):
            if _WORTH_LEANING * self._distance(aspect, other) < self._distance(aspect, lean):
                lean = other
        return lean

    def _aslant(self, aspect: float) -> float:
        """Angle at which the wrap meets both edges of the picture at once, rad."""
        half, corner = self._half_length(), self.thick / 2
        high = np.tan(self.view_angle / 2)
        across = (half / aspect - corner) / high + self.nearer
        up = (half - corner / aspect) / high + self.nearer
        return float(np.arctan2(max(across, 0.0), max(up, 0.0)))

    def _half_length(self) -> float:
        """Half the length of an oblique wrap in the picture, with its round ends, mm."""
        return float((self.wide + self.thick * abs(np.sin(self.azimuth))) / 2)

    def _distance(self, aspect: float, lean: float) -> float:
        """Distance from which the picture takes in the wrap, mm."""
        high = np.tan(self.view_angle / 2)
        if not lean:
            return float(max(self.wide / 2 / (high * aspect) + self.nearer, self.least))
        half, corner = self._half_length(), self.thick / 2
        level, rise = np.cos(lean), np.sin(lean)
        across = (half * level + corner * rise) / (high * aspect) + self.nearer * level
        up = (half * rise + corner * level) / high + self.nearer * rise
        return float(max(across, up, self.least))


def framing_of(plan: Plan, view: View) -> Framing:
    """What a preset view of a plan takes in: its own wrap, or all that is on the rod.

    The middle of the wrap is at the origin of the stage.

    Parameters
    ----------
    plan : Plan
    view : View
    """
    setup = _SETUPS[view]
    azimuth, elevation = np.deg2rad(setup.azimuth), np.deg2rad(setup.elevation)
    half_height = np.tan(np.deg2rad(setup.view_angle) / 2)
    start, end = plan.wound_span
    length, thickness = end - start, 2 * plan.middle_radius
    wide = nearer = least = height = along = 0.0
    if view is View.WHOLE_ROD:
        start, end = fitted_span(plan)
        length, along = end - start, (start + end) / 2 - plan.middle
    match view:
        case View.ARMS_LENGTH:
            least = ARMS_LENGTH
        case View.CLOSE:
            wide, height = _CLOSE_WIDTH, 0.25 * thickness
        case View.ALONG_THE_ROD:
            least = max(2.4 * thickness, 0.62 * length * np.cos(azimuth)) / half_height
        case _:
            wide = length * (1 + 2 * setup.margin) * np.cos(azimuth)
            # The near end of an oblique rod is closer and so looks longer.
            nearer = length / 2 * abs(np.sin(azimuth))
            least = 1.6 * thickness / half_height
    return Framing(
        float(azimuth),
        float(elevation),
        float(np.deg2rad(setup.view_angle)),
        float(wide),
        float(nearer),
        float(least),
        (float(along), height, 0.0),
        float(thickness),
    )


def fitted_span(plan: Plan) -> tuple[float, float]:
    """Range of all that is wound or fitted on the rod, mm from the butt.

    Parameters
    ----------
    plan : Plan
    """
    fitted = (fitting.span for fitting in plan.design.blank.fitted)
    starts, ends = zip(*(one.wound_span for one in (plan, *plan.others)), *fitted, strict=True)
    return min(starts), max(ends)


def camera_for(plan: Plan, view: View, aspect: float) -> Camera:
    """Make the camera of a preset view.

    Parameters
    ----------
    plan : Plan
    view : View
    aspect : float
        Width over height of the picture.
    """
    return framing_of(plan, view).camera(aspect)


def _point(vector: np.ndarray) -> Point:
    x, y, z = vector.tolist()
    return x, y, z
