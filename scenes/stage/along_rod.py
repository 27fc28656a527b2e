"""Cameras that look squarely at a part of the rod, so that it is seen at one exact scale.

A place on the rod's axis is as far from the image plane as any other, and perspective leaves the
scale along it as it is: so many pixels to a millimetre from one edge of the picture to the other.
"""

from collections.abc import Iterator

import numpy as np

from scenes.building.build import Plan
from scenes.stage.camera import Camera

__all__ = ["ELEVATION", "camera_at", "pixels_per_mm", "thickest", "wraps_along"]

ELEVATION = np.deg2rad(16.0)
"""Direction from the rod up to the camera, rad: that of the views of the whole wrap and rod."""

_HALF_WIDTH = np.tan(np.deg2rad(14.0) / 2) * 16 / 9
"""Half the width of the picture over the camera's distance, as those views have it in 16:9. In a
wider picture it stays, so that the ends of the rod do not bulge."""


def camera_at(plan: Plan, middle: float, wide: float, aspect: float, *, below: float = 0) -> Camera:
    """The camera that sees a part of the rod, level and squarely.

    Parameters
    ----------
    plan : Plan
        Of the wrap that the stage is of.
    middle : float
        Middle of that part, mm from the butt.
    wide : float
        Width that the picture takes in on the rod's axis, mm.
    aspect : float
        Width over height of the picture.
    below : float
        How far the rod's axis lies below the middle of the picture, as a share of its height.
    """
    distance = wide / 2 / _HALF_WIDTH
    angle = float(2 * np.arctan(_HALF_WIDTH / aspect))
    up = np.array((0.0, np.cos(ELEVATION), -np.sin(ELEVATION)))
    target = np.array((middle - plan.middle, 0.0, 0.0)) + below * wide / aspect * up
    position = target + distance * np.array((0.0, np.sin(ELEVATION), np.cos(ELEVATION)))
    x, y, z = target.tolist()
    at, above, before = position.tolist()
    return Camera((at, above, before), (x, y, z), (0.0, 1.0, 0.0), angle, angle)


def pixels_per_mm(camera: Camera, height: int) -> float:
    """Scale on the rod's axis in a picture of `camera_at`.

    Parameters
    ----------
    camera : Camera
    height : int
        Of the picture, pixels.
    """
    return height / 2 / float(np.tan(camera.view_angle / 2)) / camera.distance


def wraps_along(plan: Plan) -> Iterator[Plan]:
    """Give the plans of all wraps on the rod, from butt to tip.

    Parameters
    ----------
    plan : Plan
        Of any of them.
    """
    yield from sorted((plan, *plan.others), key=lambda one: one.wound_span)


def thickest(plan: Plan, start: float, end: float) -> float:
    """Greatest diameter of the blank and of grips on it between two places, mm.

    Parameters
    ----------
    plan : Plan
    start, end : float
        mm from the butt.
    """
    grips = [
        fitting.diameter
        for fitting in plan.design.blank.fitted
        if fitting.kind == "grip" and fitting.span[0] < end and fitting.span[1] > start
    ]
    return max(*(2 * float(plan.blank.radius(at)) for at in (start, end)), *grips)
