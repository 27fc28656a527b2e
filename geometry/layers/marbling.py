"""Drops and comb strokes on a thin coat round a blank, as maps of the unrolled coat.

The coat is unrolled to a strip that is periodic round the blank: ``around`` from 0 to the
circumference L, ``along`` without end. A drop pushes what lies there outwards; a stroke drags it
along. Both maps keep areas, since a coat neither vanishes nor piles up, and each has a closed form:
the outline of a drop is carried through all later steps.

Strokes are the tine lines of [Lu2012], summed over the turns of the tine's path so that they close
round the blank. The drop of that paper is a map of the whole plane, which does not close: `Drop` is
the flow of a point source on a cylinder, which tends to it where the drop is small beside the
circumference.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geometry.errors import GeometryError
from geometry.quadrature import cumulative_trapezoid

__all__ = ["Drop", "Stroke", "equal_area_along", "moved", "outlines", "scattered"]

Array = NDArray[np.float64]

_FAR = 15.0
"""Angle π·along/L beyond which a drop shifts the coat evenly, but for a share of e⁻³⁰."""

_FIRST_POINTS = 32
"""Points of an outline to begin with."""

_MOST_POINTS = 2**17
"""Points of all outlines together at which no more are added: seven times those of 70 drops that
two combs have drawn out, at 0.4 mm. Strokes upon strokes lengthen an outline without bound."""

_LEAST_PITCH = 1e-9
"""Distance in circumferences between turns of a path below which it is one closed ring."""


@dataclass(frozen=True, slots=True)
class Drop:
    """A drop of pigment let fall on the coat.

    Parameters
    ----------
    around, along : float
        Its centre, mm.
    area : float
        Area that it covers when it has spread, mm².
    pigment : int
        Number of its pigment; 0 is the coat that it falls on.
    """

    around: float
    along: float
    area: float
    pigment: int

    def __post_init__(self) -> None:
        if not self.area > 0:
            raise GeometryError(
                "area", f"{self.area:g} mm² is not above 0; give the area of the drop"
            )

    def forward(self, around: Array, along: Array, circumference: float) -> tuple[Array, Array]:
        """Push places of the coat outwards.

        The flow of a point source on a cylinder has the complex potential log sin(πζ/L)
        ([MilneThomson1968], 8.60, a row of sources). Along a stream line
        c = (p - q + 2pq)/(p + q) is constant, with p = sin²(π·around/L), q = sinh²(π·along/L); the
        time in which the source yields an area A integrates to the factors below, with τ = πA/L².

        Parameters
        ----------
        around, along : (...) float
            Places on the unrolled coat, mm.
        circumference : float
            Circumference L of the unrolled coat, mm.

        Returns
        -------
        around, along : (...) float
            mm; ``around`` is not brought back to 0 … L.
        """
        length, tau = circumference, np.pi * self.area / circumference**2
        a = np.pi * (around - self.around) / length
        b = np.pi * (along - self.along) / length
        p, q = np.sin(a) ** 2, np.sinh(np.clip(b, -_FAR, _FAR)) ** 2
        far = np.abs(b) > _FAR
        x = around - self.around
        turns = np.round(x / length)
        u, v = x - turns * length, along - self.along
        with np.errstate(divide="ignore", invalid="ignore"):
            q_new = q * (np.exp(tau) + (1 - p) / (p + q) * np.expm1(tau))
            p_new = p * (np.exp(-tau) - (1 + q) / (p + q) * np.expm1(-tau))
        # At the centre both are 0 / 0.
        p_new, q_new = np.fmax(p_new, 0), np.fmax(q_new, 0)
        near_u = np.copysign(np.arcsin(np.sqrt(np.minimum(p_new, 1))), u) * length / np.pi
        near_v = np.copysign(np.arcsinh(np.sqrt(q_new)), v) * length / np.pi
        far_v = v + np.copysign(tau * length / (2 * np.pi), v)
        return (
            self.around + turns * length + np.where(far, u, near_u),
            self.along + np.where(far, far_v, near_v),
        )

    def outline(self, angle: Array, circumference: float) -> tuple[Array, Array]:
        """Give points of the drop's outline when it has just spread.

        Each is where a place beside the centre, in the direction of an angle, has moved:
        sin²(π·around/L) = cos²(angle) (1 - e^-τ), sinh²(π·along/L) = sin²(angle) (e^τ - 1).

        Parameters
        ----------
        angle : (n,) float
            Direction from the centre, rad from the hoop.
        circumference : float
            Circumference L of the unrolled coat, mm.

        Returns
        -------
        around, along : (n,) float
            mm.
        """
        tau = np.pi * self.area / circumference**2
        u = np.arcsin(np.cos(angle) * np.sqrt(-np.expm1(-tau)))
        v = np.arcsinh(np.sin(angle) * np.sqrt(np.expm1(tau)))
        scale = circumference / np.pi
        return self.around + scale * u, self.along + scale * v


@dataclass(frozen=True, slots=True)
class Stroke:
    """A comb of one or more tines drawn through the coat in a straight line or round the blank.

    Parameters
    ----------
    around, along : float
        A point of the first tine's path, mm.
    direction : float
        Direction of the path, rad from the hoop: 0 goes round the blank, π/2 along it, others in a
        spiral.
    shift : float
        How far the coat is dragged on the path itself, mm; below 0 the other way.
    softness : float
        Distance from the path at which it is dragged half as far, mm.
    tines : int
        Tines of the comb.
    spacing : float
        Distance between tines, square to the path, mm.
    """

    around: float
    along: float
    direction: float
    shift: float
    softness: float
    tines: int = 1
    spacing: float = 0.0

    def __post_init__(self) -> None:
        if not self.softness > 0:
            raise GeometryError(
                "softness", f"{self.softness:g} mm is not above 0; give a distance from the path"
            )
        if self.tines < 1:
            raise GeometryError("tines", f"{self.tines} is not a comb; give 1 or more")
        if self.tines > 1 and not self.spacing > 0:
            raise GeometryError(
                "spacing", f"{self.spacing:g} mm is not above 0; give the distance between tines"
            )

    def forward(self, around: Array, along: Array, circumference: float) -> tuple[Array, Array]:
        """Drag places of the coat along the path.

        Parameters
        ----------
        around, along : (...) float
            Places on the unrolled coat, mm.
        circumference : float
            Circumference L of the unrolled coat, mm.

        Returns
        -------
        around, along : (...) float
            mm; ``around`` is not brought back to 0 … L.
        """
        drag = self.drag(around, along, circumference)
        return around + drag * np.cos(self.direction), along + drag * np.sin(self.direction)

    def drag(self, around: Array, along: Array, circumference: float) -> Array:
        """Distance by which places are dragged along the path.

        A tine drags what is a distance d from its path by z·u^d, u = 2^(-1/c) ([Lu2012], tine
        lines; z `shift`, c `softness`). A path that winds round the blank passes at
        distances d + kD, D = L·|sin(direction)|; the geometric series over all k is
        z (u^d + u^(D-d)) / (1 - u^D) for d in 0 … D.

        Parameters
        ----------
        around, along : (...) float
            Places on the unrolled coat, mm.
        circumference : float
            Circumference L of the unrolled coat, mm.

        Returns
        -------
        (...) float
            mm.
        """
        sine, cosine = np.sin(self.direction), np.cos(self.direction)
        across = (along - self.along) * cosine - (around - self.around) * sine
        pitch = circumference * abs(sine)
        total = np.zeros(np.broadcast(around, along).shape)
        rate = np.log(2) / self.softness
        for tine in range(self.tines):
            distance = across - tine * self.spacing
            if pitch < _LEAST_PITCH * circumference:
                total += np.exp(-rate * np.abs(distance))
            else:
                d = np.mod(distance, pitch)
                series = np.exp(-rate * d) + np.exp(-rate * (pitch - d))
                total += series / -np.expm1(-rate * pitch)
        return self.shift * total


Step = Drop | Stroke


def moved(
    around: ArrayLike, along: ArrayLike, circumference: float, steps: Sequence[Step]
) -> tuple[Array, Array]:
    """Follow places of the coat through all steps.

    Parameters
    ----------
    around, along : (...) float
        Places on the unrolled coat before the first step, mm.
    circumference : float
        Circumference of the unrolled coat, mm.
    steps : sequence of Drop or Stroke
        In the order in which they were made.

    Returns
    -------
    around, along : (...) float
        Places after the last step, mm.
    """
    _check(circumference)
    u, v = np.broadcast_arrays(np.asarray(around, float), np.asarray(along, float))
    for step in steps:
        u, v = step.forward(u, v, circumference)
    return u, v


def outlines(
    circumference: float, steps: Sequence[Step], spacing: float
) -> list[tuple[Drop, NDArray[np.float64]]]:
    """Follow the outline of every drop through the steps after it.

    A later drop lies on top: painted in this order, the outlines give the finished coat. Points
    are added where neighbours end up further apart than `spacing`, and taken through all steps
    from the start, so that every point is exact.

    Parameters
    ----------
    circumference : float
        Circumference of the unrolled coat, mm.
    steps : sequence of Drop or Stroke
        In the order in which they were made.
    spacing : float
        Greatest distance between neighbouring points, mm, as far as `_MOST_POINTS` do.

    Returns
    -------
    list of (Drop, (n, 2) float)
        Each drop, in the order of the steps, and its closed outline, anticlockwise where the step
        that made it left it: around (not brought back to 0 … L) and along, mm.
    """
    _check(circumference)
    number = [at for at, step in enumerate(steps) if isinstance(step, Drop)]
    angles = {at: np.linspace(0, 2 * np.pi, _FIRST_POINTS, endpoint=False) for at in number}
    points: dict[int, Array] = {at: np.empty((0, 2)) for at in number}
    fresh = dict(angles)
    while fresh:
        found = _through(circumference, steps, fresh)
        wanted: dict[int, Array] = {}
        for at, new in found.items():
            if points[at].size:
                angle = np.concatenate((angles[at], fresh[at]))
                order = np.argsort(angle, kind="stable")
                angles[at] = angle[order]
                points[at] = np.concatenate((points[at], new))[order]
            else:
                points[at] = new
            ring = np.concatenate((points[at], points[at][:1]))
            apart = np.hypot(*np.diff(ring, axis=0).T) > spacing
            if apart.any():
                after = np.append(angles[at][1:], 2 * np.pi)
                wanted[at] = ((angles[at] + after) / 2)[apart]
        fresh = wanted if sum(one.size for one in angles.values()) < _MOST_POINTS else {}
    return [(step, points[at]) for at, step in enumerate(steps) if isinstance(step, Drop)]


def _through(
    circumference: float, steps: Sequence[Step], angles: dict[int, Array]
) -> dict[int, Array]:
    """Take points of outlines, by the number of their drop, through the steps after it."""
    found: dict[int, Array] = {}
    around, along = np.empty(0), np.empty(0)
    owners: list[tuple[int, int]] = []
    for at, step in enumerate(steps):
        if around.size:
            around, along = step.forward(around, along, circumference)
        if isinstance(step, Drop) and at in angles:
            u, v = step.outline(angles[at], circumference)
            owners.append((at, u.size))
            around, along = np.concatenate((around, u)), np.concatenate((along, v))
    first = 0
    for at, count in owners:
        part = slice(first, first + count)
        found[at] = np.stack((around[part], along[part]), axis=1)
        first += count
    return found


def equal_area_along(z: ArrayLike, radius: ArrayLike, circumference: float) -> Array:
    """Coordinate along a tapering blank in which the unrolled coat keeps its area.

    Round the blank ``around`` = L θ/2π, so a band of the skin, r dθ ds, keeps its area where
    d(along) = (2πr/L) ds, with ds² = dz² + dr².

    Parameters
    ----------
    z : (n,) float
        Stations, mm, rising.
    radius : (n,) float
        Radius at each station, mm.
    circumference : float
        Circumference L of the blank where drops are to stay round, mm.

    Returns
    -------
    (n,) float
        Coordinate at each station, mm; 0 at the first.
    """
    _check(circumference)
    z, radius = np.asarray(z, float), np.asarray(radius, float)
    path = np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(z), np.diff(radius)))))
    along = cumulative_trapezoid(2 * np.pi * radius / circumference, path)
    return along


def scattered(
    count: int,
    circumference: float,
    length: float,
    areas: Sequence[float],
    pigments: Sequence[int],
    seed: int,
) -> list[Drop]:
    """Let drops fall at random places, evenly spread; pigments and areas take turns.

    Each falls in a cell of its own of a jittered grid [Cook1986], in random order, so that no part
    of the coat stays bare by chance.

    Parameters
    ----------
    count : int
        Number of drops.
    circumference, length : float
        Size of the unrolled coat, mm.
    areas : sequence of float
        Areas of the drops, mm².
    pigments : sequence of int
        Numbers of their pigments.
    seed : int
        The same seed gives the same drops on every machine.

    Returns
    -------
    list of Drop
        `count` of them.
    """
    _check(circumference)
    rng = np.random.Generator(np.random.PCG64(seed))
    columns = max(1, round(np.sqrt(count * circumference / length)))
    rows = -(-count // columns)
    # Raw doubles only: NumPy keeps their stream, not that of its shuffles.
    jitter = rng.random((rows * columns, 3))
    cells = np.argsort(jitter[:, 2], kind="stable")[:count]
    around = (cells % columns + jitter[cells, 0]) * circumference / columns
    along = (cells // columns + jitter[cells, 1]) * length / rows
    return [
        Drop(float(x), float(y), areas[i % len(areas)], pigments[i % len(pigments)])
        for i, (x, y) in enumerate(zip(around, along, strict=True))
    ]


def _check(circumference: float) -> None:
    if not circumference > 0:
        raise GeometryError(
            "circumference", f"{circumference:g} mm is not above 0; give that of the blank"
        )
