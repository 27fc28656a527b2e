"""The closed solid of a surface, for files and for measurements by trimesh."""

import numpy as np
import trimesh

from geometry.surface import Surface

__all__ = ["solid"]


def solid(surface: Surface) -> trimesh.Trimesh:
    """Make a surface with flat ends, closed at theta = 2 pi: watertight, outward-facing.

    Vertex normals are not set, so trimesh computes its own from the faces.

    Parameters
    ----------
    surface : Surface
        Outside of the body.
    """
    nz, nt = surface.shape
    angles = np.stack((np.cos(surface.theta), np.sin(surface.theta)), axis=1)
    points = np.empty((nz * nt + 2, 3))
    ring = points[:-2].reshape(nz, nt, 3)
    ring[..., :2] = surface.radius[..., None] * angles
    ring[..., 2] = surface.z[:, None]
    points[-2], points[-1] = (0, 0, surface.z[0]), (0, 0, surface.z[-1])
    column = np.arange(nt)
    following = (column + 1) % nt
    base = np.arange(nz - 1)[:, None] * nt
    a, b = base + column, base + following
    c, d = a + nt, b + nt
    last = (nz - 1) * nt
    faces = np.concatenate(
        (
            np.stack((a, b, d), axis=-1).reshape(-1, 3),
            np.stack((a, d, c), axis=-1).reshape(-1, 3),
            np.stack((np.full(nt, nz * nt), following, column), axis=-1),
            np.stack((np.full(nt, nz * nt + 1), last + column, last + following), axis=-1),
        )
    )
    return trimesh.Trimesh(points, faces, process=False)
