"""How the wrap stands in its picture on the page: the size, the zoom that fills it, and the scale.

A still leaves room around the wrap. The place on the page has any shape, and is looked at to judge
the wrap, so there the wrap takes as much of it as the view allows.
"""

import math

import numpy as np

from render.request.subject import Size, Subject
from scenes.building.build import Plan
from scenes.parts.view import CameraSpec, View
from scenes.stage.camera import adjusted, camera_for

__all__ = ["filling_zoom", "picture_size", "scale_of"]

_WHOLE = (View.WHOLE_WRAP, View.THREE_QUARTER)
"""Views that take in the whole wrap; others have a scale of their own."""

_WIDTH, _HEIGHT = 0.97, 0.8
"""Greatest parts of the picture's width and height that the wrap takes."""

_OUTER = 1.15
"""Radius of what is wound on the blank, relative to the blank's; it only bounds the height."""

_MOST_PIXELS = 2_100_000
"""Pixels of one picture: full HD. A finer screen enlarges it a little."""

_LEAST_SIDE, _MOST_SIDE = 64, 4096
"""Bounds of a picture's width and height, pixels."""

_LEAST_SLANT = 0.2
"""Least part of a length along the rod that a drag counts with, where the rod is seen end on."""


def picture_size(width: float, height: float, ratio: float) -> Size:
    """Size of a picture for its place on the page, pixels.

    Parameters
    ----------
    width, height : float
        CSS pixels.
    ratio : float
        Device pixels in a CSS pixel.
    """
    scale = min(max(float(ratio), 1.0), 2.0)
    scale = min(scale, math.sqrt(_MOST_PIXELS / max(width * height, 1.0)))

    def side(length: float) -> int:
        # Even, because a preview has half the size.
        return 2 * round(min(max(length * scale, _LEAST_SIDE), _MOST_SIDE) / 2)

    return side(width), side(height)


def filling_zoom(plan: Plan, view: View, aspect: float) -> float:
    """Find the zoom of a preset view at which the wrap just fits into a picture.

    Parameters
    ----------
    plan : Plan
    view : View
    aspect : float
        Width over height of the picture.

    Returns
    -------
    float
        At least 1; 1 for views that do not show the whole wrap.
    """
    if view not in _WHOLE:
        return 1.0
    camera = adjusted(camera_for(plan, view, aspect), CameraSpec(view=view))
    start, end = plan.wound_span
    half, radius = (end - start) / 2, _OUTER * plan.middle_radius
    around = np.linspace(0.0, 2 * math.pi, 24, endpoint=False)
    ring = radius * np.stack((np.zeros_like(around), np.cos(around), np.sin(around)), axis=-1)
    end_point = np.array((half, 0.0, 0.0))
    points = np.concatenate((ring - end_point, ring + end_point))
    middle = np.array((500.0 * aspect, 500.0))
    place, _ = camera.project(points, (round(1000 * aspect), 1000))
    reach = np.abs(place / middle - 1.0).max(axis=0)
    return max(1.0, round(float(min(_WIDTH / reach[0], _HEIGHT / reach[1])), 3))


def scale_of(subject: Subject, aspect: float) -> dict[str, float]:
    """Work out the scale of a picture: what a drag or a zoom about a place needs.

    Parameters
    ----------
    subject : Subject
        With the light and the camera of the picture.
    aspect : float
        Width over height of the picture.

    Returns
    -------
    dict
        ``radius`` of the rod and ``height`` of the picture at the rod, in the design's units;
        ``zoom`` of the picture; ``slant``, the part of a length along the rod that is seen across
        the picture.
    """
    design, plan = subject.design, subject.plan()
    camera = adjusted(camera_for(plan, design.camera.view, aspect), design.camera)
    unit = design.units.in_mm
    towards = np.subtract(camera.position, camera.target)
    return {
        "radius": plan.middle_radius / unit,
        "height": 2 * camera.distance * math.tan(camera.view_angle / 2) / unit,
        "zoom": design.camera.zoom,
        "slant": max(_LEAST_SLANT, float(abs(towards[2]) / np.hypot(towards[0], towards[2]))),
    }
