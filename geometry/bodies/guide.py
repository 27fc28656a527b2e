"""A guide: its foot lying along the blank, and the frame and ring that stand on it.

The form is the double foot: both ends of the foot are bound down with thread, and its middle stays
bare, where the frame rises. A single foot is its half towards the tip, with a stub behind the
frame. All proportions are from memory of guides in the hand, where a design gives only the length
of the foot.
"""

from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

from geometry.bodies.mesh import Mesh
from geometry.bodies.turned import plain_mesh
from geometry.errors import GeometryError
from geometry.surface import Surface

__all__ = ["GuideFoot", "GuideSizes", "guide_frame", "guide_ring", "tube"]

Array = NDArray[np.float64]

_FULL = 0.25
"""Share of each half of the foot, from the middle, that has its full width and height."""

_TIP_WIDTH = 0.5
"""Width just before the rounded tip as a share of the full width."""

_TIP_HEIGHT = 0.05
"""Height at the tip as a share of the full height: feet are ground thin for thread to climb."""

_WHOLE_OF_SINGLE = 1.7
"""Length of a double foot with a frame like that of a single foot, in lengths of the latter."""

_LEAN = np.deg2rad(14.0)
"""How far the ring leans towards the tip."""

_LEGS = (-1.05, 1.05)
"""Where the two legs meet the ring, rad from its lowest point."""


@dataclass(frozen=True, slots=True)
class GuideSizes:
    """All sizes of one guide, mm.

    Parameters
    ----------
    length, width, height : float
        Of the foot; `height` where it is thickest.
    bare : float
        Length of the foot's middle that no thread covers.
    ring : float
        Radius of the frame's ring, to the middle of its wire.
    wire : float
        Radius of the ring's wire.
    insert : float
        Radius of the round section of the inner ring.
    stand : float
        From the blank to the middle of the ring.
    below : float
        Length of the foot on the butt's side of the frame's middle.
    """

    length: float
    width: float
    height: float
    bare: float
    ring: float
    wire: float
    insert: float
    stand: float
    below: float

    @classmethod
    def of(
        cls,
        length: float,
        radius: float,
        *,
        feet: int = 2,
        width: float | None = None,
        height: float | None = None,
        ring: float | None = None,
    ) -> Self:
        """Usual sizes of a guide (from memory), where they are not given.

        Parameters
        ----------
        length : float
            Length of the foot, mm.
        radius : float
            Bare radius under it, mm.
        feet : int
            2, or 1 for a foot that points to the tip.
        width, height : float, optional
            Of the foot, mm.
        ring : float, optional
            Outside diameter of the ring, mm.

        Raises
        ------
        GeometryError
            If length or radius is not above 0.
        """
        if not (length > 0 and radius > 0):
            raise GeometryError(
                "length", f"{length:g} mm on a radius of {radius:g} mm; give both above 0"
            )
        # The foot with two ends that this guide would have.
        whole = length if feet == 2 else _WHOLE_OF_SINGLE * length
        wire = _within(0.024 * whole, 0.1, 0.9)
        if ring is None:
            middle = _within(0.22 * whole, 1.0, 14.0)
        else:
            wire = min(wire, 0.08 * ring)
            middle = ring / 2 - wire
        bare = min(_within(0.3 * length, 1.5, 12.0), 0.4 * length)
        usual_width = min(_within(0.22 * whole, 0.9, 6.0), 0.8 * radius)
        return cls(
            length=length,
            width=usual_width if width is None else width,
            height=_within(0.026 * whole, 0.25, 0.9) if height is None else height,
            bare=bare,
            ring=middle,
            wire=wire,
            insert=0.13 * middle,
            stand=2.0 * middle,
            below=length / 2 if feet == 2 else bare / 2,
        )

    @property
    def end_length(self) -> float:
        """Length of each end of the foot that thread covers, mm."""
        return self.length - self.below - self.bare / 2

    def frame_at(self, at: float) -> float:
        """Place of the frame's middle, mm from the butt.

        Parameters
        ----------
        at : float
            Middle of the foot, mm from the butt.
        """
        return at - self.length / 2 + self.below


@dataclass(frozen=True, slots=True)
class GuideFoot:
    """A flat metal foot lying along the blank, as a layer.

    It is formed to the blank's round, flat on top with rounded sides, and thins towards both tips
    in width and height, so that thread climbs it without a step.

    Parameters
    ----------
    at : float
        Middle of the foot where it is widest, mm from the butt.
    length, width, height : float
        mm; width and height at `at`.
    material : int
        Palette index.
    theta : float
        Angle of its middle line, rad; 0 is the guide line.
    below : float, optional
        Length of the foot on the butt's side of `at`, mm; by default half of it.
    """

    at: float
    length: float
    width: float
    height: float
    material: int
    theta: float = 0.0
    below: float | None = None

    def apply(self, surface: Surface) -> Surface:
        """Lay the foot on a surface.

        Parameters
        ----------
        surface : Surface
            What the layer is laid on.

        Returns
        -------
        Surface
            With the foot on it.
        """
        radius, material = surface.radius.copy(), surface.material.copy()
        below = self.length / 2 if self.below is None else self.below
        part = surface.between(self.at - below, self.at + self.length - below)
        around = (surface.theta - self.theta + np.pi) % (2 * np.pi) - np.pi
        raised = self._raised(surface.z[part, None] - self.at, radius[part] * around)
        radius[part] += raised
        material[part][raised > 0] = self.material
        return surface.with_arrays(radius=radius, material=material)

    def _raised(self, along: Array, across: Array) -> Array:
        """Height above the blank at a distance along and across from the foot's middle, mm."""
        below = self.length / 2 if self.below is None else self.below
        half = np.where(along < 0, below, self.length - below)
        from_tip = np.maximum(half - np.abs(along), 0)
        thinning = _smooth((np.abs(along) / half - _FULL) / (1 - _FULL))
        wide = self.width / 2 * (1 - (1 - _TIP_WIDTH) * thinning)
        # The tip is half a round as wide as the foot is there.
        end = np.clip(1 - from_tip / wide, 0, 1)
        wide = wide * np.sqrt(1 - end * end)
        high = self.height * (1 - (1 - _TIP_HEIGHT) * thinning)
        side = np.divide(np.abs(across), wide, out=np.ones_like(across), where=wide > 0)
        return np.asarray(high * np.sqrt(1 - np.minimum(side, 1) ** 4))


def guide_frame(at: float, radius: float, sizes: GuideSizes, theta: float = 0.0) -> Mesh:
    """The metal frame: a ring of round wire, two legs from its sides and a brace from below.

    The legs rise from the butt's side of the foot's bare middle, the brace from the tip's, each
    bent up out of the foot and running into the ring from below.

    Parameters
    ----------
    at : float
        Middle of the foot, mm from the butt.
    radius : float
        Bare radius there, mm.
    sizes : GuideSizes
        Sizes of the guide, mm.
    theta : float
        Angle of the foot's middle line, rad.

    Returns
    -------
    Mesh
        Closed bodies that reach into one another.
    """
    place = _Place(at, radius, sizes, theta)
    wire = sizes.wire
    parts = [tube(place.circle(sizes.ring), place.along, wire, wire, closed=True)]
    top = radius + sizes.height
    hoop = place.hoop
    for turn, side in ((_LEGS[0], -0.42), (_LEGS[1], 0.42), (0.0, 0.0)):
        wide, thick = (1.15 * wire, 0.8 * wire) if side else (1.6 * wire, 0.7 * wire)
        towards = -1.0 if side else 1.0
        foot = (
            place.up * (top - thick)
            + hoop * (side * max(sizes.width - 2.4 * wire, 0))
            + np.array((0, 0, at + 0.5 * towards * sizes.bare))
        )
        outward = place.outward(turn)
        end = place.centre + sizes.ring * outward
        run = float(np.linalg.norm(end - foot))
        bend = np.array((0, 0, -0.5 * towards * min(sizes.bare, run)))
        leaving = _unit(0.35 * outward - place.standing)
        path = _bezier(foot, foot + bend, end + 0.38 * run * leaving, end)
        parts.append(tube(path, hoop, wide, thick))
    return _joined(parts)


def guide_ring(at: float, radius: float, sizes: GuideSizes, theta: float = 0.0) -> Mesh:
    """The inner ring that the line runs through, held in the frame's ring.

    Parameters
    ----------
    at : float
        Middle of the foot, mm from the butt.
    radius : float
        Bare radius there, mm.
    sizes : GuideSizes
        Sizes of the guide, mm.
    theta : float
        Angle of the foot's middle line, rad.
    """
    place = _Place(at, radius, sizes, theta)
    # It overlaps the frame's wire by a third of its own section, as if pressed in.
    middle = sizes.ring - sizes.wire - 0.35 * sizes.insert
    section = 1.35 * sizes.insert, sizes.insert
    return tube(place.circle(middle), place.along, *section, closed=True)


class _Place:
    """Directions at the foot's middle and at the ring, in the geometry's frame."""

    def __init__(self, at: float, radius: float, sizes: GuideSizes, theta: float) -> None:
        self.up = np.array((np.cos(theta), np.sin(theta), 0.0))
        self.hoop = np.array((-np.sin(theta), np.cos(theta), 0.0))
        axis = np.array((0.0, 0.0, 1.0))
        self.standing = np.cos(_LEAN) * self.up + np.sin(_LEAN) * axis
        self.along = np.cos(_LEAN) * axis - np.sin(_LEAN) * self.up
        self.centre = (radius + sizes.stand) * self.up + at * axis

    def outward(self, turn: float) -> Array:
        """Direction from the ring's middle, `turn` rad from its lowest point."""
        return np.asarray(np.sin(turn) * self.hoop - np.cos(turn) * self.standing)

    def circle(self, radius: float, count: int = 120) -> Array:
        """Points on a circle in the ring's plane, (count, 3) mm."""
        turn = np.arange(count)[:, None] * (2 * np.pi / count)
        return np.asarray(
            self.centre + radius * (np.sin(turn) * self.hoop - np.cos(turn) * self.standing)
        )


def tube(
    path: Array,
    across: Array,
    wide: float,
    thick: float,
    *,
    sides: int = 28,
    closed: bool = False,
) -> Mesh:
    """A tube of elliptical section along a path, its section never twisting about the path.

    Frames are carried along the path by double reflection ([Wang2008], table I). The section
    c + wide cos(phi) a + thick sin(phi) b has the outward normal cos(phi) / wide a +
    sin(phi) / thick b.

    Parameters
    ----------
    path : (m, 3) float
        Middle line, mm.
    across : (3,) float
        Direction of the section's first axis at the path's beginning; what lies along the path is
        taken off it.
    wide, thick : float
        Half axes of the section, mm.
    sides : int
        Points round the section.
    closed : bool
        Whether the path's end joins its beginning (which is not repeated); it must lie in a plane,
        or the section would not meet itself.

    Returns
    -------
    Mesh
        Faces outward; an open tube has flat ends.
    """
    ahead = _tangents(path, closed)
    if closed:
        path, ahead = np.concatenate((path, path[:1])), np.concatenate((ahead, ahead[:1]))
    first = _frames(path, ahead, np.asarray(across, dtype=np.float64))
    second = np.cross(ahead, first)
    phi = np.linspace(0, 2 * np.pi, sides + 1)
    cosine, sine = np.cos(phi)[:, None], np.sin(phi)[:, None]
    cosine[-1], sine[-1] = cosine[0], sine[0]
    first, second = first[:, None], second[:, None]
    points = path[:, None] + wide * cosine * first + thick * sine * second
    normals = _unit(cosine / wide * first + sine / thick * second)
    tangents = _unit(-wide * sine * first + thick * cosine * second)
    count, columns = len(path), sides + 1
    if closed:
        for array in (points, normals, tangents):
            array[-1] = array[0]
    uv = np.empty((count, columns, 2))
    uv[..., 0], uv[..., 1] = phi / (2 * np.pi), np.linspace(0, 1, count)[:, None]
    base = (np.arange(count - 1)[:, None] * columns + np.arange(sides)).ravel()
    faces = np.concatenate(
        (
            np.stack((base, base + 1, base + columns + 1), axis=1),
            np.stack((base, base + columns + 1, base + columns), axis=1),
        )
    )
    body = plain_mesh(points, normals, tangents, uv, faces)
    if closed:
        return body
    # An end is a fan about its first point, wound the other way at the beginning.
    corner = np.arange(1, sides - 1)
    fan = np.stack((np.zeros_like(corner), corner, corner + 1), axis=1)
    ends = [
        plain_mesh(
            points[at, :-1],
            np.broadcast_to(out, (sides, 3)),
            tangents[at, :-1],
            uv[at, :-1],
            turned,
        )
        for at, out, turned in ((0, -ahead[0], fan[:, ::-1]), (-1, ahead[-1], fan))
    ]
    return _joined([body, *ends])


def _tangents(path: Array, closed: bool) -> Array:
    """Unit direction at each point: that of the parabola through it and its neighbours."""
    line = np.concatenate((path[-1:], path, path[:1])) if closed else path
    length = np.concatenate(([0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))))
    ahead = np.gradient(line, length, axis=0, edge_order=2)
    return _unit(ahead[1:-1] if closed else ahead)


def _frames(path: Array, ahead: Array, across: Array) -> Array:
    """Unit direction square to the path at each point, carried on without twist."""
    frames = np.empty_like(path)
    frames[0] = _unit(across - across @ ahead[0] * ahead[0])
    for i in range(len(path) - 1):
        step = path[i + 1] - path[i]
        square = step @ step
        frame = frames[i] - 2 / square * (step @ frames[i]) * step
        turned = ahead[i] - 2 / square * (step @ ahead[i]) * step
        lean = ahead[i + 1] - turned
        square = lean @ lean
        frames[i + 1] = frame if square == 0 else frame - 2 / square * (lean @ frame) * lean
    return frames


def _bezier(*corners: Array, count: int = 33) -> Array:
    """Points on a cubic Bézier curve, even in its parameter."""
    t = np.linspace(0, 1, count)[:, None]
    a, b, c, d = corners
    return np.asarray(
        (1 - t) ** 3 * a + 3 * (1 - t) ** 2 * t * b + 3 * (1 - t) * t * t * c + t**3 * d
    )


def _joined(parts: list[Mesh]) -> Mesh:
    """Several meshes as one."""
    first = np.cumsum([0, *(len(part.points) for part in parts)])
    faces = [part.faces + offset for part, offset in zip(parts, first, strict=False)]
    return Mesh(
        np.concatenate([part.points for part in parts]),
        np.concatenate([part.normals for part in parts]),
        np.concatenate([part.tangents for part in parts]),
        np.concatenate([part.uv for part in parts]),
        np.concatenate(faces).astype(np.int32),
        np.concatenate([part.material for part in parts]),
        np.concatenate([part.row for part in parts]),
        np.concatenate([part.along for part in parts]),
    )


def _unit(vectors: Array) -> Array:
    return np.asarray(vectors / np.linalg.norm(vectors, axis=-1, keepdims=True))


def _smooth(x: Array) -> Array:
    """0 below 0, 1 above 1, 3x² - 2x³ between."""
    x = np.clip(x, 0, 1)
    return np.asarray(x * x * (3 - 2 * x))


def _within(value: float, least: float, most: float) -> float:
    return min(max(value, least), most)
