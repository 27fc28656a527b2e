"""Bodies turned on the lathe: grips, bare blank, and whatever else is round about the axis."""

from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geometry.bodies.mesh import Mesh
from geometry.errors import GeometryError
from geometry.tolerances import CONTACT_MM

__all__ = ["bevelled_tube", "plain_mesh", "turned"]

Array = NDArray[np.float64]

_SHOULDER_STEPS = 12
"""Points round a quarter of a shoulder: 7.5 degrees apart, which smooth normals hide."""


def turned(profile: ArrayLike, angles: int) -> Mesh:
    """A closed surface of revolution about the blank's axis.

    P(s, theta) = (r(s) cos theta, r(s) sin theta, z(s)) has the outward normal
    (z' cos theta, z' sin theta, -r') / sqrt(z'² + r'²) where the profile runs from butt to tip,
    and the hoop tangent (-sin theta, cos theta, 0) ([DoCarmo], section 2-3, example 4). The
    profile's own direction at a point is that of the parabola through it and its two neighbours,
    by arc length.

    Parameters
    ----------
    profile : (m, 2) float
        Distance from the butt and radius, [z, r], mm, from butt to tip with the body on the axis'
        side. z may stand still (a shoulder square to the blank) but never fall. A point given
        twice is an edge: the normals on its two sides are kept apart.
    angles : int
        Points round the axis, 3 or more.

    Returns
    -------
    Mesh
        Faces outward. Both ends are closed by discs with normals of their own. uv is
        theta / 2 pi and the share of the profile's length; row and along are 0.

    Raises
    ------
    GeometryError
        If there is nothing to turn, a value is not finite, a radius is not above 0 or the profile
        runs backwards.
    """
    z, radius = _checked(profile, angles)
    step = np.hypot(np.diff(z), np.diff(radius))
    solid = step > CONTACT_MM
    edges = np.concatenate(([0], np.flatnonzero(~solid) + 1, [z.size]))
    ahead = np.empty((z.size, 2))
    for first, last in pairwise(edges.tolist()):
        ahead[first:last] = _directions(z[first:last], radius[first:last])

    theta = np.linspace(0, 2 * np.pi, angles + 1)
    cosine, sine = np.cos(theta), np.sin(theta)
    cosine[-1], sine[-1] = cosine[0], sine[0]
    share = np.concatenate(([0.0], np.cumsum(step))) / step.sum()
    ring = (z.size, angles + 1)

    points = np.empty((*ring, 3))
    points[..., 0], points[..., 1] = radius[:, None] * cosine, radius[:, None] * sine
    points[..., 2] = z[:, None]
    normals = np.empty((*ring, 3))
    normals[..., 0], normals[..., 1] = ahead[:, :1] * cosine, ahead[:, :1] * sine
    normals[..., 2] = -ahead[:, 1:]
    tangents = np.broadcast_to(np.stack((-sine, cosine, np.zeros_like(sine)), axis=1), points.shape)
    uv = np.empty((*ring, 2))
    uv[..., 0], uv[..., 1] = np.arange(angles + 1) / angles, share[:, None]

    ends = [
        _disc(points[at], tangents[at], uv[at], up, start)
        for at, up, start in (
            (0, -1.0, z.size * (angles + 1)),
            (-1, 1.0, z.size * (angles + 1) + angles + 2),
        )
    ]
    points, normals, tangents, uv = (
        np.concatenate((body.reshape(-1, body.shape[-1]), ends[0][k], ends[1][k]))
        for k, body in enumerate((points, normals, tangents, uv))
    )
    faces = np.concatenate((_sides(np.flatnonzero(solid), angles), ends[0][4], ends[1][4]))
    return plain_mesh(points, normals, tangents, uv, faces)


def plain_mesh(
    points: Array, normals: Array, tangents: Array, uv: Array, faces: NDArray[np.intp]
) -> Mesh:
    """Make a mesh without thread.

    Parameters
    ----------
    points : (..., 3) float
        Corners of the triangles, mm.
    normals, tangents : (..., 3) float
        Unit length.
    uv : (..., 2) float
        Texture coordinates, 0 to 1.
    faces : (m, 3) int
        Counter-clockwise seen from outside; corners are counted through all leading axes.
    """
    count = points.size // 3
    zero = np.zeros(count, np.float32)
    return Mesh(
        points.reshape(-1, 3).astype(np.float32),
        normals.reshape(-1, 3).astype(np.float32),
        tangents.reshape(-1, 3).astype(np.float32),
        uv.reshape(-1, 2).astype(np.float32),
        faces.astype(np.int32),
        np.zeros(count, np.int16),
        zero,
        zero,
    )


def bevelled_tube(
    start: float,
    end: float,
    radius: float,
    inner_start: float,
    inner_end: float,
    bevel: float,
    between: ArrayLike = (),
) -> Array:
    """Profile of a tube on the blank with its ends rounded down, for `turned`.

    Each end rises square from the blank and turns into the side by a quarter of an ellipse,
    z = start + bevel (1 - sin t), r = radius - drop (1 - cos t). Where the wall is thin the whole
    of it is rounded.

    Parameters
    ----------
    start, end : float
        Ends, mm from the butt.
    radius : float
        Outside, mm.
    inner_start, inner_end : float
        Radius of the blank at both ends, mm; the profile begins and ends there.
    bevel : float
        Length of the rounding along the blank, mm, at most half the tube; as much is taken off
        the wall where it is thick enough.
    between : (k,) float
        Distances, mm, at which the side is given points of its own; those in the rounding are
        left out.

    Returns
    -------
    (m, 2) float
        [z, r], mm.

    Raises
    ------
    GeometryError
        If the end is not beyond the start, or the tube is no thicker than the blank inside it.
    """
    if not end > start:
        raise GeometryError("end", f"{end:g} mm is not beyond the start at {start:g} mm")
    if not radius > max(inner_start, inner_end):
        raise GeometryError(
            "radius",
            f"{radius:g} mm is not more than the blank's inside it, "
            f"{max(inner_start, inner_end):g} mm; give the outside radius",
        )
    bevel = min(bevel, (end - start) / 2)
    lower = _shoulder(start, radius, inner_start, bevel)
    upper = _shoulder(0.0, radius, inner_end, bevel)[::-1] * (-1, 1) + (end, 0)
    # Points close by keep the last of the rounding from leaning into the normals of a long side.
    close = bevel / _SHOULDER_STEPS
    low, high = lower[-1, 0], upper[0, 0]
    side = np.unique(np.concatenate((np.ravel(between), (low + close, high - close))))
    side = side[(side > low + CONTACT_MM) & (side < high - CONTACT_MM)]
    side = np.column_stack((side, np.full(side.size, float(radius))))
    # Roundings of a whole half tube meet in one point, which must not become an edge.
    if not high > low + CONTACT_MM:
        upper = upper[1:]
    return np.concatenate((lower, side, upper))


def _shoulder(start: float, radius: float, inner: float, bevel: float) -> Array:
    """Points from the blank up to the side at the butt end."""
    drop = min(bevel, radius - inner)
    turn = np.linspace(np.pi / 2, 0, _SHOULDER_STEPS + 1)
    rounded = np.column_stack(
        (start + bevel * (1 - np.sin(turn)), radius - drop * (1 - np.cos(turn)))
    )
    if radius - drop - inner <= CONTACT_MM:
        return rounded
    # The flat below the rounding is parted from it, or the parabola would swell over the edge.
    return np.concatenate(([(start, inner), rounded[0]], rounded))


def _checked(profile: ArrayLike, angles: int) -> tuple[Array, Array]:
    profile = np.asarray(profile, dtype=np.float64)
    if profile.ndim != 2 or profile.shape[1] != 2 or len(profile) < 2:
        raise GeometryError("profile", f"its shape is {profile.shape}; give two points or more")
    if not np.isfinite(profile).all():
        raise GeometryError("profile", "a value is not a finite number")
    z, radius = profile.T
    if (radius <= 0).any():
        raise GeometryError("profile", f"radius {radius.min():g} mm is not above 0")
    if (np.diff(z) < 0).any() or z[-1] - z[0] <= CONTACT_MM:
        raise GeometryError("profile", "its points must run from butt to tip")
    if angles < 3:
        raise GeometryError("angles", f"{angles} is less than 3")
    return z, radius


def _directions(z: Array, radius: Array) -> Array:
    """Unit (z', r') at each point of a smooth run."""
    line = np.column_stack((z, radius))
    if len(line) < 2:
        return np.tile((1.0, 0.0), (len(line), 1))
    length = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))))
    ahead = np.gradient(line, length, axis=0, edge_order=2 if len(line) > 2 else 1)
    return np.asarray(ahead / np.linalg.norm(ahead, axis=1, keepdims=True))


def _sides(segments: NDArray[np.intp], angles: int) -> NDArray[np.intp]:
    """Two triangles for each step round each segment of the profile."""
    a = (segments[:, None] * (angles + 1) + np.arange(angles)).ravel()
    b, c = a + 1, a + angles + 1
    return np.concatenate((np.stack((a, b, c + 1), axis=1), np.stack((a, c + 1, c), axis=1)))


def _disc(
    rim: Array, tangents: Array, uv: Array, up: float, start: int
) -> tuple[Array, Array, Array, Array, NDArray[np.intp]]:
    """The disc inside a rim: points, normals, tangents, uv, and faces counted from `start`."""
    count = len(rim) - 1
    middle = np.array([[0.0, 0.0, rim[0, 2]]])
    points = np.concatenate((rim, middle))
    normals = np.zeros_like(points)
    normals[:, 2] = up
    rim_first = start + np.arange(count)
    rim_next, centre = rim_first + 1, np.full(count, start + count + 1)
    turn = (rim_first, rim_next) if up > 0 else (rim_next, rim_first)
    return (
        points,
        normals,
        np.concatenate((tangents, tangents[:1])),
        np.concatenate((uv, [[0.5, uv[0, 1]]])),
        np.stack((centre, *turn), axis=1),
    )
