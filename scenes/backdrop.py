"""The seamless backdrop behind and under the rod, and the rod's shadow on it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scenes.lights import directions, solid_angles

__all__ = ["Backdrop", "backdrop"]

Array = NDArray[np.float64]

_MAP_ROWS = 48
"""Rows of the light map while shading: sources narrower than 4 degrees cast a 4 degree shadow."""


@dataclass(frozen=True, slots=True)
class Backdrop:
    """A sweep of matt card: flat under the rod, curving up behind it.

    Parameters
    ----------
    points : (m, 2, 3) float32
        Stage frame, mm: the profile at its left and right edges.
    radiance : (m, 3) float32
        Linear light it sends to any eye, along the profile.
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
    """Card lit by the stage's light, in the shadow of the rod.

    The rod runs out of the picture both ways, so for shadows it is an endless cylinder along x:
    a ray from the card in the direction d is blocked where, in the y-z plane, it passes the axis
    within the radius. Matt card sends back albedo / pi times the irradiance (Lambert).

    Parameters
    ----------
    radiance_map : (h, 2h, 3) float32
        The light, as `scenes.lights.radiance_map` makes it.
    albedo : 3 float
        Diffuse reflectance of the card, linear RGB.
    rod_radius : float
        mm.
    drop : float
        Distance from the rod's axis down to the card, mm.
    behind : float
        Distance from the axis back to where the card begins to rise, mm.
    reach : float
        Half the width of the card, and how far it comes forward, mm.
    """
    profile, normal = _profile(drop, behind, reach)
    toward, weight, light = _sources(radiance_map)
    dy, dz = toward[:, 1], toward[:, 2]
    across = np.hypot(dy, dz)
    facing = np.clip(normal @ toward.T[1:], 0, None)
    # Closest pass of the axis, in front of the card only, for every point and direction.
    apart = np.abs(profile[:, :1] * dz - profile[:, 1:] * dy) / across
    ahead = -(profile[:, :1] * dy + profile[:, 1:] * dz) > 0
    # A source is as wide as a map pixel: the edge of the shadow is blurred by just that much.
    away = np.hypot(profile[:, 0], profile[:, 1])[:, None]
    blur = away * np.pi / _MAP_ROWS / 2 + 1e-6
    shade = np.clip((rod_radius + blur - apart) / (2 * blur), 0, 1) * ahead
    irradiance = (facing * (1 - shade)) @ (light * weight[:, None])
    sent = irradiance * np.asarray(albedo) / np.pi
    points = np.empty((len(profile), 2, 3), np.float32)
    points[:, 0, 0], points[:, 1, 0] = -reach, reach
    points[..., 1:] = profile[:, None, :]
    return Backdrop(points, sent.astype(np.float32), albedo)


def _profile(drop: float, behind: float, reach: float) -> tuple[Array, Array]:
    """Points (y, z) of the card from front to top, denser under the rod, and their normals."""
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


def _sources(radiance_map: NDArray[np.float32]) -> tuple[Array, Array, Array]:
    """The map as a list of sources: directions, solid angles, radiances."""
    height = radiance_map.shape[0]
    rows = min(_MAP_ROWS, height)
    factor = height // rows
    solid = solid_angles(height)
    power = radiance_map * solid[..., None]
    blocks = power[: rows * factor, : 2 * rows * factor].reshape(rows, factor, 2 * rows, factor, 3)
    toward = directions(rows).reshape(-1, 3)
    weight = solid_angles(rows).reshape(-1)
    light = blocks.sum(axis=(1, 3), dtype=np.float64).reshape(-1, 3) / weight[:, None]
    return toward, weight, light
