"""The seamless backdrop behind and under the rod, and the rod's shadow on it."""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from scenes.light.lights import directions, solid_angles
from scenes.stage.camera import Camera
from scenes.stage.ground import GroundPattern
from scenes.stage.outline import Outline

__all__ = ["USUAL_REACH", "Backdrop", "backdrop", "card_in_picture", "surroundings"]

Array = NDArray[np.float64]

USUAL_REACH = 1500.0
"""Half the width of the card under a rod that is no longer, mm."""

_ROWS = 64
"""Rows of the map about the rod's axis, and half its columns.

Sources narrower than 3 degrees are taken as 3 degrees wide."""

_STRIPS = 10
"""Parts of the card along the rod, half of them to either side of the middle of the wrap."""

_COLUMNS = 6
"""Columns of radiance in a strip."""

_NEAR_MM = 200.0
"""Distance from the middle of the wrap from which shadows are drawn coarser: at arm's length the
picture is twice as wide."""

_NOWHERE_MM = 1e9
"""Distance of a card that is not there, mm."""

_BEYOND_PICTURE = 0.1
"""Extent of the card beyond the picture, relative to that inside it."""


@dataclass(frozen=True, slots=True)
class Backdrop:
    """A sweep of matt card, flat under the rod and curved up behind it.

    Parameters
    ----------
    points : (m, 2, 3) float32
        Stage frame, mm: the profile at its left and right edges.
    strips : (s,) float32
        Edges of its parts along the rod, mm. Within each, columns of radiance are evenly spaced.
    radiance : (m, k, 3) float32
        Linear radiance at each point of the profile, in columns along the rod: the same in all
        directions. k - 1 is a multiple of s - 1; the middle column is at the middle of the wrap.
    albedo : 3 float
        Diffuse reflectance, linear RGB; the mean of a pattern.
    start : float
        Place of the first point along the profile, mm towards the back from under the rod.
    ground : GroundPattern or None
        A pattern on it. `radiance` is that of its mean.
    """

    points: NDArray[np.float32]
    strips: NDArray[np.float32]
    radiance: NDArray[np.float32]
    albedo: tuple[float, float, float]
    start: float = 0.0
    ground: GroundPattern | None = None

    @property
    def below(self) -> float:
        """Distance from the rod's axis down to the card, mm; huge where it ends behind the axis."""
        under = self.points[0, 0, 2] > 0
        return -float(self.points[..., 1].min()) if under else _NOWHERE_MM

    @property
    def columns(self) -> NDArray[np.float32]:
        """Place of each column of radiance along the rod, (k,) mm."""
        return _columns(self.strips, (self.radiance.shape[1] - 1) // (len(self.strips) - 1))

    @property
    def run(self) -> Array:
        """Place of each point along the profile, (m,) mm towards the back from under the rod."""
        return self.start + _run(self.points[:, 0, 1:].astype(np.float64))


def backdrop(
    radiance_map: NDArray[np.float32],
    albedo: tuple[float, float, float],
    *,
    rod: Outline,
    drop: float,
    behind: float,
    reach: float,
    ground: GroundPattern | None = None,
) -> Backdrop:
    """Compute the card, lit by the stage's light and shaded by the rod.

    The radiance of matt card is albedo / pi times the irradiance (Lambert). The rod is a solid of
    revolution: it blocks a ray that, in the plane across it, passes the axis within its silhouette
    (`scenes.stage.outline.Outline.silhouettes`).

    Parameters
    ----------
    radiance_map : (h, 2h, 3) float32
        The light, from `scenes.light.lights.radiance_map`.
    albedo : 3 float
        Diffuse reflectance of the card, linear RGB.
    rod : Outline
    drop : float
        Distance from the rod's axis down to the card, mm.
    behind : float
        Distance from the axis back to the start of the curve, mm.
    reach : float
        Half the width of the card, and its extent towards the viewer, mm.
    ground : GroundPattern, optional
        A pattern on the card, `albedo` its mean.
    """
    profile, normal = _profile(drop, behind, reach)
    strips = _strips(rod, drop, reach)
    power = _power(radiance_map)
    unshaded = _unshaded(normal, power)
    blocked = _blocked(profile, normal, _columns(strips, _COLUMNS), rod, power)
    irradiance = np.clip(unshaded[:, None] - blocked, 0, None)
    sent = irradiance * np.asarray(albedo) / np.pi
    points = np.empty((len(profile), 2, 3), np.float32)
    points[:, 0, 0], points[:, 1, 0] = -reach, reach
    points[..., 1:] = profile[:, None, :]
    return Backdrop(
        points, strips.astype(np.float32), sent.astype(np.float32), albedo, -reach, ground
    )


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
    run = _run(profile)
    more = _BEYOND_PICTURE * (run[seen[-1] + 1] - run[seen[0]])
    missed = not met.any(axis=1).all()
    first = int(np.searchsorted(run, run[seen[0]] - more))
    last = int(np.searchsorted(run, run[seen[-1] + 1] + more))
    picked = slice(first, None if missed else min(last, len(run) - 1) + 1)
    points = card.points[picked].copy()
    points[..., 0] = np.clip(points[..., 0], -reach, reach)
    return replace(
        card,
        points=points,
        radiance=card.radiance[picked],
        start=card.start + float(run[first]),
    )


def surroundings(radiance_map: NDArray[np.float32], card: Backdrop) -> NDArray[np.float32]:
    """The light as the middle of the wrap sees it, with the card where it covers the light.

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
    middle = card.radiance[:, card.radiance.shape[1] // 2]
    seen = np.stack([np.interp(at, angle, middle[:, k]) for k in range(3)], axis=-1)
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


def _run(profile: Array) -> Array:
    """Distance of each point of a profile from the first one along it, (m,) mm."""
    edge = np.diff(profile, axis=0)
    return np.concatenate(([0.0], np.cumsum(np.hypot(edge[:, 0], edge[:, 1]))))


def _profile(drop: float, behind: float, reach: float) -> tuple[Array, Array]:
    """Points (y, z) of the card from front to top, densest under the rod, and their normals."""
    # A larger card has more points, as dense under the rod.
    steep = 4 + max(np.log(reach / USUAL_REACH), 0.0)
    dense = np.sinh(np.linspace(-steep, steep, 2 * round(20 * steep) + 1))
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


def _columns(strips: NDArray[np.floating], count: int) -> NDArray[np.float32]:
    """`count` even columns in each strip, and the last edge."""
    at = np.arange(count * (len(strips) - 1) + 1) / count
    return np.interp(at, np.arange(len(strips)), strips).astype(np.float32)


def _strips(rod: Outline, drop: float, reach: float) -> Array:
    """Edges of strips, narrow where the radius of the rod changes, most of all near the middle."""
    places = rod.places
    change = np.abs(np.gradient(np.asarray(rod.radius)))
    # The card is about as far below the rod as the shadow of a step is wide.
    apart = (places[:, None] - places) / drop
    density = (change / (1 + apart**2)).sum(axis=1)
    density += density.mean()
    density /= 1 + (places / _NEAR_MM) ** 2
    crowd = np.cumsum(density)
    middle = float(np.interp(0.0, places, crowd))
    share = np.arange(1, _STRIPS // 2) / (_STRIPS // 2)
    counts = np.concatenate((middle * share, [middle], middle + (crowd[-1] - middle) * share))
    most = 0.99 * reach
    return np.concatenate(
        ([-reach], np.clip(np.interp(counts, crowd, places), -most, most), [reach])
    )


def _power(radiance_map: NDArray[np.float32]) -> Array:
    """The light by directions about the rod: radiance times solid angle, (rows, columns, 3).

    Rows run from the direction along the rod to that against it, columns round it.
    """
    texels, shares = _places_about_rod(radiance_map.shape[0])
    power = (radiance_map * solid_angles(radiance_map.shape[0])[..., None]).reshape(-1, 3)
    size = _ROWS, 2 * _ROWS
    found = np.zeros((*size, 3))
    for texel, share in zip(texels, shares, strict=True):
        for k in range(3):
            summed = np.bincount(texel, share * power[:, k], minlength=size[0] * size[1])
            found[..., k] += summed.reshape(size)
    return found


@lru_cache(maxsize=4)
def _places_about_rod(height: int) -> tuple[list[NDArray[np.intp]], list[Array]]:
    """For each texel of a map the four directions about the rod next to it, and their shares."""
    toward = directions(height).reshape(-1, 3).astype(np.float64)
    row = np.arccos(np.clip(toward[:, 0], -1, 1)) / np.pi * _ROWS - 0.5
    column = np.arctan2(toward[:, 2], toward[:, 1]) / np.pi * _ROWS - 0.5
    low_row, low_column = np.floor(row).astype(int), np.floor(column).astype(int)
    texels, shares = [], []
    for down in (0, 1):
        for right in (0, 1):
            at_row = np.clip(low_row + down, 0, _ROWS - 1)
            at_column = (low_column + right) % (2 * _ROWS)
            texels.append(at_row * 2 * _ROWS + at_column)
            shares.append(
                (1 - np.abs(low_row + down - row)) * (1 - np.abs(low_column + right - column))
            )
    return texels, shares


def _about_rod() -> tuple[Array, Array]:
    """Angles from the rod of the rows, and unit directions (y, z) across it of the columns."""
    polar = (np.arange(_ROWS) + 0.5) / _ROWS * np.pi
    turn = (np.arange(2 * _ROWS) + 0.5) / _ROWS * np.pi
    return polar, np.column_stack((np.cos(turn), np.sin(turn)))


def _unshaded(normal: Array, power: Array) -> Array:
    """Irradiance of the card without a rod, (m, 3)."""
    polar, toward = _about_rod()
    facing = np.clip(normal @ toward.T, 0, None)
    return np.asarray(facing @ np.einsum("e,eck->ck", np.sin(polar), power))


def _blocked(
    profile: Array,
    normal: Array,
    columns: NDArray[np.float32],
    rod: Outline,
    power: Array,
) -> NDArray[np.float32]:
    """Irradiance of the card that the rod takes away, (m, k, 3)."""
    polar, toward = _about_rod()
    tangents = np.cos(polar) / np.sin(polar)
    half = rod.silhouettes(tangents[: _ROWS // 2])
    radii = np.concatenate((half, half[::-1])).astype(np.float32)
    light = (power * np.sin(polar)[:, None, None]).astype(np.float32)
    found = np.zeros((len(profile), columns.size, 3), np.float32)
    last = radii.shape[1] - 1.001
    rows = (np.arange(_ROWS) * radii.shape[1])[:, None]
    for i, (place, up) in enumerate(zip(profile, normal, strict=True)):
        ahead = -toward @ place
        apart = np.abs(toward @ (-place[1], place[0]))
        # A source is as wide as a column of the map, and blurs the edge of the shadow by that.
        blur = np.hypot(*place) * np.pi / _ROWS / 2 + 1e-6
        facing = toward @ up
        near = np.flatnonzero((ahead > 0) & (facing > 0) & (apart < radii.max() + blur))
        for c in near.tolist():
            # Where along the rod the light is nearest to its axis, in samples of the outline.
            at = (columns[None, :] - rod.start + (ahead[c] * tangents)[:, None]) / rod.step
            at = np.clip(at, 0, last).astype(np.float32)
            below = at.astype(np.int32)
            low, high = radii.ravel()[rows + below], radii.ravel()[rows + below + 1]
            radius = low + (at - below) * (high - low)
            shade = np.clip((radius + np.float32(blur - apart[c])) / np.float32(2 * blur), 0, 1)
            found[i] += np.float32(facing[c]) * (shade.T @ light[:, c])
    return found
