"""Normals of vertices that face the way their triangles do.

A normal comes from the maps, which know the round of a thread; its triangles also stand on the
steps between threads. Beside a step a thread's flank may face away from the wall of the step. Where
a normal that is interpolated between such vertices lies in the plane of the triangle, along the
direction from which Mitsuba builds its frame, the frame has no direction: a path through it has no
number for its light.
"""

import numpy as np
from numpy.typing import NDArray

from geometry.array_blocks import over_blocks

__all__ = ["facing"]

_LEAST_SHARE = np.float32(0.05)
"""Least cosine between a vertex's normal and a triangle's, in terms of that between the radial
direction and the triangle's."""

_AT_ONCE = 1 << 18
"""Triangles that are looked at together, for the sake of memory."""

Floats = NDArray[np.float32]


def facing(points: Floats, normals: Floats, faces: NDArray[np.int32]) -> Floats:
    """Tilt vertex normals towards the radial direction until all their triangles face their way.

    Parameters
    ----------
    points, normals : (n, 3) float32
        Positions, mm, round the z axis; unit normals.
    faces : (m, 3) int32
        Counter-clockwise seen from outside; each faces away from the axis.

    Returns
    -------
    (n, 3) float32
        Unit normals; `normals` itself where no triangle faces away.
    """
    radial = points * np.array((1, 1, 0), np.float32)
    radial /= np.linalg.norm(radial, axis=1, keepdims=True)
    found: list[tuple[NDArray[np.int32], Floats]] = []

    def work(part: slice) -> None:
        corners = faces[part]
        a, b, c = (points[corners[:, k]] for k in range(3))
        upright = np.cross(b - a, c - a)
        upright /= np.linalg.norm(upright, axis=1, keepdims=True)
        for k in range(3):
            corner = corners[:, k]
            along = (normals[corner] * upright).sum(axis=1)
            outwards = (radial[corner] * upright).sum(axis=1)
            away = np.flatnonzero((along < _LEAST_SHARE * outwards) & (outwards > 0))
            along, outwards = along[away], outwards[away]
            # (along + t outwards) / (1 + t), which is no more than the cosine, is the least share.
            needed = (_LEAST_SHARE * outwards - along) / ((1 - _LEAST_SHARE) * outwards)
            found.append((corner[away], needed))

    over_blocks(work, slice(0, len(faces)), 1, points=_AT_ONCE)
    tilt = np.zeros(len(points), np.float32)
    for corner, needed in found:
        np.maximum.at(tilt, corner, needed)
    tilted = np.flatnonzero(tilt)
    if not tilted.size:
        return normals
    result = normals.copy()
    result[tilted] += tilt[tilted, None] * radial[tilted]
    result[tilted] /= np.linalg.norm(result[tilted], axis=1, keepdims=True)
    return result
