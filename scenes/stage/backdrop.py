"""The seamless backdrop behind and under the rod, and the rod's shadow on it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scenes.light.lights import directions, solid_angles
from scenes.stage.camera import Camera

__all__ = ["Backdrop", "backdrop", "card_in_picture", "surroundings"]

Array = NDArray[np.float64]

_MAP_ROWS = 64
"""Most rows of the radiance map used for shading.

Sources narrower than 3 degrees are taken as 3 degrees wide."""

_BEYOND_PICTURE = 0.1
"""Extent of the card beyond the picture, relative to that inside it."""


@dataclass(frozen=True, slots=True)
class Backdrop:
    """A sweep of matt card, flat under the rod and curved up behind it.

    Parameters
    ----------
    points : (m, 2, 3) float32
        Stage frame, mm: the profile at its left and right edges.
    radiance : (m, 3) float32
        Linear radiance along the profile, the same in all directions.
    albedo : 3 float
        Diffuse reflectance, linear RGB.
    """

    points: NDArray[np.float32]
    radiance: NDArray[np.float32]
    albedo: tuple[float, float, float]


def backdrop(
    radiance_map: NDArray[np.float32],
    albedo: tuple[float, float, float],
    *,
    rod_radius: float,
    drop: float,
    behind: float,
    reach: float,
) -> Backdrop:
    """Compute the card, lit by the stage's light and shaded by the rod.

    For shadows the rod is an endless cylinder along x, because it leaves the picture on both sides:
    a ray from the card is blocked if, in the y-z plane, it passes the axis within the radius. The
    radiance of matt card is albedo / pi times the irradiance (Lambert).

    Parameters
    ----------
    radiance_map : (h, 2h, 3) float32
        The light, from `scenes.light.lights.radiance_map`.
    albedo : 3 float
        Diffuse reflectance of the card, linear RGB.
    rod_radius : float
        Radius of the rod, mm.
    drop : float
        Distance from the rod's axis down to the card, mm.
    behind : float
        Distance from the axis back to the start of the curve, mm.
    reach : float
        Half the width of the card, and its extent towards the viewer, mm.
    """
    profile, normal = _profile(drop, behind, reach)
    rows, toward, weight, light = _sources(radiance_map)
    dy, dz = toward[:, 1], toward[:, 2]
    across = np.hypot(dy, dz)
    facing = np.clip(normal @ toward.T[1:], 0, None)
    # Least distance of each ray from the axis, and whether the axis lies ahead on the ray.
    apart = np.abs(profile[:, :1] * dz - profile[:, 1:] * dy) / across
    ahead = -(profile[:, :1] * dy + profile[:, 1:] * dz) > 0
    # A source is as wide as a map pixel, and blurs the edge of the shadow by that width.
    away = np.hypot(profile[:, 0], profile[:, 1])[:, None]
    blur = away * np.pi / rows / 2 + 1e-6
    shade = np.clip((rod_radius + blur - apart) / (2 * blur), 0, 1) * ahead
    irradiance = (facing * (1 - shade)) @ (light * weight[:, None])
    sent = irradiance * np.asarray(albedo) / np.pi
    points = np.empty((len(profile), 2, 3), np.float32)
    points[:, 0, 0], points[:, 1, 0] = -reach, reach
    points[..., 1:] = profile[:, None, :]
    return Backdrop(points, sent.astype(np.float32), albedo)


def card_in_picture(card: Backdrop, camera: Camera, aspect: float) -> Backdrop:
    """Cut the card to its visible part and a margin.

    A photographer's card ends just outside the picture, so that it hides no light from the rod.
    Zooming in leaves it as large as before.

    Parameters
    ----------
    card : Backdrop
    camera : Camera
    aspect : float
        Width over height of the picture.

    Returns
    -------
    Backdrop
    """
    profile = card.points[:, 0, 1:].astype(np.float64)
    origin, rays = np.array(camera.position), _border(camera, aspect)
    a, b = profile[:-1], profile[1:]
    # Intersection of each ray, projected along the rod, with each segment of the profile.
    edge = b - a
    ray = rays[:, None, 1:]
    cross = ray[..., 0] * edge[:, 1] - ray[..., 1] * edge[:, 0]
    from_eye = a - origin[1:]
    with np.errstate(divide="ignore", invalid="ignore"):
        away = (from_eye[:, 0] * edge[:, 1] - from_eye[:, 1] * edge[:, 0]) / cross
        share = (from_eye[:, 0] * ray[..., 1] - from_eye[:, 1] * ray[..., 0]) / cross
    met = (away > 0) & (share >= 0) & (share <= 1)
    seen = np.flatnonzero(met.any(axis=0))
    if not seen.size:
        return card
    which, piece = np.nonzero(met)
    x = origin[0] + away[which, piece] * rays[which, 0]
    reach = (1 + _BEYOND_PICTURE) * float(np.abs(x).max())
    run = np.concatenate(([0.0], np.cumsum(np.hypot(edge[:, 0], edge[:, 1]))))
    more = _BEYOND_PICTURE * (run[seen[-1] + 1] - run[seen[0]])
    missed = not met.any(axis=1).all()
    first = int(np.searchsorted(run, run[seen[0]] - more))
    last = int(np.searchsorted(run, run[seen[-1] + 1] + more))
    picked = slice(first, None if missed else min(last, len(run) - 1) + 1)
    points = card.points[picked].copy()
    points[..., 0] = np.clip(points[..., 0], -reach, reach)
    return Backdrop(points, card.radiance[picked], card.albedo)


def surroundings(radiance_map: NDArray[np.float32], card: Backdrop) -> NDArray[np.float32]:
    """The light as the rod sees it: the radiance of the card in directions that it covers.

    Parameters
    ----------
    radiance_map : (h, 2h, 3) float32
        The light without the card.
    card : Backdrop
        The visible part of the card.

    Returns
    -------
    (h, 2h, 3) float32
        Read-only.
    """
    toward = directions(radiance_map.shape[0])
    profile = card.points[:, 0, 1:].astype(np.float64)
    # Angle round the rod from the front, under it and up behind; monotonic along the profile.
    angle = np.unwrap(np.arctan2(-profile[:, 0], profile[:, 1]))
    away = np.hypot(profile[:, 0], profile[:, 1])
    across = np.hypot(toward[..., 1], toward[..., 2])
    at = np.arctan2(-toward[..., 1], toward[..., 2])
    at = np.where(at < angle[0], at + 2 * np.pi, at)
    x = np.interp(at, angle, away) * toward[..., 0] / np.maximum(across, 1e-9)
    ends = card.points[:, :, 0]
    hidden = (at <= angle[-1]) & (x >= ends.min()) & (x <= ends.max())
    seen = np.stack([np.interp(at, angle, card.radiance[:, k]) for k in range(3)], axis=-1)
    around = np.where(hidden[..., None], seen, radiance_map).astype(np.float32)
    around.setflags(write=False)
    return around


def _border(camera: Camera, aspect: float, count: int = 33) -> Array:
    """Directions of rays through the border of the picture, (4 count, 3)."""
    ahead = np.subtract(camera.target, camera.position) / camera.distance
    right = np.cross(ahead, camera.up)
    right /= np.linalg.norm(right)
    up = np.cross(right, ahead)
    high = np.tan(max(camera.view_angle, camera.framing_angle) / 2)
    side = np.linspace(-1, 1, count)
    ones = np.ones(count)
    x = np.concatenate((side, side, ones, -ones)) * high * aspect
    y = np.concatenate((ones, -ones, side, side)) * high
    return np.asarray(ahead + x[:, None] * right + y[:, None] * up)


def _profile(drop: float, behind: float, reach: float) -> tuple[Array, Array]:
    """Points (y, z) of the card from front to top, densest under the rod, and their normals."""
    dense = np.sinh(np.linspace(-4, 4, 161))
    floor = np.clip(dense / dense[-1] * reach, -behind, None)
    floor = np.unique(floor)[::-1]
    bend = 0.9 * behind
    arc = np.linspace(0, np.pi / 2, 49)[1:]
    rise = np.linspace(0, reach, 20)[1:]
    y = np.concatenate(
        (np.full(floor.size, -drop), -drop + bend * (1 - np.cos(arc)), -drop + bend + rise)
    )
    z = np.concatenate((floor, -behind - bend * np.sin(arc), np.full(rise.size, -behind - bend)))
    ny = np.concatenate((np.ones(floor.size), np.cos(arc), np.zeros(rise.size)))
    nz = np.concatenate((np.zeros(floor.size), np.sin(arc), np.ones(rise.size)))
    return np.column_stack((y, z)), np.column_stack((ny, nz))


def _sources(radiance_map: NDArray[np.float32]) -> tuple[int, Array, Array, Array]:
    """Sources that make up a map: rows of the reduced map, directions, solid angles, radiances."""
    height = radiance_map.shape[0]
    # Whole blocks only, so that no light is lost.
    factor = next(f for f in range(1, height + 1) if height % f == 0 and height // f <= _MAP_ROWS)
    rows = height // factor
    power = radiance_map * solid_angles(height)[..., None]
    blocks = power.reshape(rows, factor, 2 * rows, factor, 3)
    toward = directions(rows).reshape(-1, 3)
    weight = solid_angles(rows).reshape(-1)
    light = blocks.sum(axis=(1, 3), dtype=np.float64).reshape(-1, 3) / weight[:, None]
    return rows, toward, weight, light
