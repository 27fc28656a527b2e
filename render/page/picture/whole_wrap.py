"""The zoom at which the wrap fills the picture's place on the page.

A still leaves room around the wrap. The place on the page has any shape, and is looked at to judge
the wrap, so there the wrap takes as much of it as the view allows.
"""

import math

import numpy as np

from scenes.building.build import Plan
from scenes.parts.view import CameraSpec, View
from scenes.stage.camera import adjusted, camera_for

__all__ = ["filling_zoom"]

_WHOLE = (View.WHOLE_WRAP, View.THREE_QUARTER)
"""Views that take in the whole wrap; others have a scale of their own."""

_WIDTH, _HEIGHT = 0.97, 0.8
"""Greatest parts of the picture's width and height that the wrap takes."""

_OUTER = 1.15
"""Radius of what is wound on the blank, relative to the blank's; it only bounds the height."""


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
