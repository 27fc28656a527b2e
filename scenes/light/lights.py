"""Four lights to see a wrap by, computed as float radiance maps.

A map is equirectangular, ``(h, 2h, 3)`` float32, linear sRGB, in the stage frame (x along the rod,
y up, z to the viewer). Row 0 is the zenith; the centre of pixel (v, u) lies at polar angle
t = π(v + ½)/h from +y and azimuth p = 2π(u + ½)/w, direction (sin t cos p, cos t, sin t sin p).

A nearly straight rod, seen perpendicular to its axis, mirrors only what is near the plane across it
(x = 0). A source that is to shine in its gloss from end to end must be long in x, or cross that
plane. The lights are placed accordingly.

**One exposure.** Each map is scaled so that a grey ball, averaged over the half that the
viewer sees, gets irradiance / π = 1 in luminance: at 18 % reflectance it reads 0.18 in every
light. The scale belongs to the light as it stands unturned, so that turning it round the rod
brightens and darkens the rod as moving a real lamp would.

**White balance.** Soft boxes are D65, the white of sRGB. The window is D75 under a camera left at
D65, so a little cool. Workshop lamp and its room are seen by a camera set only part of the way
(``WORKSHOP_BALANCE``) from D65 to the lamp's LED-B1, so that the picture stays warm, about as a
4200 K lamp looks under daylight balance. Sun and sky stand under a camera at D65.

Positions, sizes and brightness of emitters and of the rooms round them are our own choice.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from materials.adaptation import adaptation
from materials.colour import luminance, xyz_to_linear
from scenes.light import sky

__all__ = [
    "CHROMATICITY",
    "WORKSHOP_BALANCE",
    "LightKind",
    "ball_mean",
    "directions",
    "emitter_colour",
    "irradiance",
    "mean_radiance",
    "radiance_map",
    "solid_angles",
    "turned",
]

Array = NDArray[np.float64]
Map = NDArray[np.float32]


class LightKind(StrEnum):
    """The lights to choose from, by the name a design file gives them."""

    SOFT_BOXES = "soft boxes"
    NORTH_WINDOW = "north window"
    WORKSHOP_LAMP = "workshop lamp"
    LOW_SUN = "low sun"


# CIE 1931 chromaticities [CIE15], tables of standard and LED illuminants.
CHROMATICITY = {
    "D65": (0.3127, 0.3290),
    "D75": (0.29902, 0.31485),
    "A": (0.44758, 0.40745),
    "LED-B1": (0.4560, 0.4078),
    "LED-B3": (0.3756, 0.3723),
}

WORKSHOP_BALANCE = 0.6
"""White balance of the camera from D65 (0) to the white of the workshop lamp (1)."""

_SMALLEST, _LARGEST = 16, 4096  # rows of a map: below, emitters vanish; above, over 400 MB


# --- the sphere ---------------------------------------------------------------------------------


def _checked(height: int) -> int:
    if not _SMALLEST <= height <= _LARGEST:
        raise ValueError(f"height is {height} rows; a map needs {_SMALLEST} to {_LARGEST}.")
    return height


def directions(height: int) -> Array:
    """Give the direction that each pixel of a map looks in.

    Parameters
    ----------
    height : int
        Rows of the map; it is twice as wide.

    Returns
    -------
    ndarray of float64, shape (h, 2h, 3)
        Unit vectors in the stage frame.

    Raises
    ------
    ValueError
        If the height is not 16 to 4096.
    """
    polar = math.pi * (np.arange(_checked(height)) + 0.5) / height
    azimuth = math.pi * (np.arange(2 * height) + 0.5) / height
    sin_t, cos_t = np.sin(polar)[:, None], np.cos(polar)[:, None]
    return np.stack(
        [
            sin_t * np.cos(azimuth),
            np.broadcast_to(cos_t, (height, 2 * height)),
            sin_t * np.sin(azimuth),
        ],
        axis=-1,
    )


def solid_angles(height: int) -> Array:
    """Give the solid angle of each pixel of a map, exactly; together 4π.

    Parameters
    ----------
    height : int
        Rows of the map; it is twice as wide.

    Returns
    -------
    ndarray of float64, shape (h, 2h)
        Steradians.

    Raises
    ------
    ValueError
        If the height is not 16 to 4096.
    """
    edges = np.cos(math.pi * np.arange(_checked(height) + 1) / height)
    rows = (edges[:-1] - edges[1:]) * (math.pi / height)
    return np.repeat(rows[:, None], 2 * height, axis=1)


def turned(vectors: ArrayLike, turn: float) -> Array:
    """Turn vectors round the rod's axis (+x), right-handed: from above (+y) to the viewer (+z).

    Parameters
    ----------
    vectors : array_like, shape (..., 3)
        In the stage frame.
    turn : float
        Radians.

    Returns
    -------
    ndarray of float64, shape (..., 3)
    """
    x, y, z = np.moveaxis(np.asarray(vectors, np.float64), -1, 0)
    c, s = math.cos(turn), math.sin(turn)
    return np.stack([x, c * y - s * z, s * y + c * z], axis=-1)


def irradiance(radiance: ArrayLike, normals: ArrayLike) -> Array:
    """Light that falls on surfaces facing ``normals``, by a sum over every pixel of the map.

    The weights are the pixels' exact solid angles, the cosine is taken at their centres: for a
    constant map of 64 rows the error is below 0.1 %, of 256 rows below 0.01 %.

    Parameters
    ----------
    radiance : array_like, shape (h, 2h, 3)
        A radiance map.
    normals : array_like, shape (n, 3)
        Unit vectors in the stage frame.

    Returns
    -------
    ndarray of float64, shape (n, 3)
        ∫ L max(n·ω, 0) dω; divided by π, what a perfectly white matt surface sends back.
    """
    light = np.asarray(radiance, np.float64)
    height = light.shape[0]
    toward = directions(height).reshape(-1, 3)
    power = (light * solid_angles(height)[..., None]).reshape(-1, 3)
    facing = np.atleast_2d(np.asarray(normals, np.float64))
    result = np.empty_like(facing)
    for start in range(0, len(facing), 32):  # some 32 MB at a time at 256 rows
        block = slice(start, start + 32)
        result[block] = np.maximum(facing[block] @ toward.T, 0.0) @ power
    return result


def mean_radiance(radiance: ArrayLike) -> Array:
    """Mean radiance over all directions.

    Parameters
    ----------
    radiance : array_like, shape (h, 2h, 3)
        A radiance map.

    Returns
    -------
    ndarray of float64, shape (3,)
        Linear sRGB; 1 for a constant map of 1.
    """
    light = np.asarray(radiance, np.float64)
    share = solid_angles(light.shape[0]) / (4.0 * math.pi)
    return np.asarray(np.einsum("vu,vuc->c", share, light))


def ball_mean(radiance: ArrayLike) -> Array:
    """Mean irradiance / π of a matt ball over the half that the viewer (+z) sees.

    Averaged over the ball's picture (projected area). The ball answers a light at an angle g from
    the viewer with the phase function of Lambert's sphere [Lambert1760], so the mean is
    ∫ L(ω) · 2 (sin g + (π − g) cos g) / (3π²) dω, with no need to sample the ball.

    Parameters
    ----------
    radiance : array_like, shape (h, 2h, 3)
        A radiance map.

    Returns
    -------
    ndarray of float64, shape (3,)
        Linear sRGB; 1 for a constant map of 1.
    """
    light = np.asarray(radiance, np.float64)
    height = light.shape[0]
    cosine = np.clip(directions(height)[..., 2], -1.0, 1.0)
    angle = np.arccos(cosine)
    phase = np.sin(angle) + (math.pi - angle) * cosine
    weight = phase * solid_angles(height) * (2.0 / (3.0 * math.pi**2))
    return np.asarray(np.einsum("vu,vuc->c", weight, light))


# --- colour -------------------------------------------------------------------------------------


def _xyz(xy: ArrayLike) -> Array:
    x, y = np.moveaxis(np.asarray(xy, np.float64)[..., :2], -1, 0)
    return np.stack([x / y, np.ones_like(x), (1.0 - x - y) / y], axis=-1)


def emitter_colour(
    xy: ArrayLike, white: ArrayLike = CHROMATICITY["D65"], balance: float = 0.0
) -> Array:
    """Linear sRGB of luminance 1 that a chromaticity has in the picture.

    Parameters
    ----------
    xy : array_like, shape (..., 2)
        CIE 1931 chromaticity of the emitter.
    white : array_like, shape (2,)
        Chromaticity that the camera is balanced toward.
    balance : float
        How far: 0 the camera stays at D65, 1 ``white`` comes out as exact neutral (Bradford
        adaptation [Lam1985]). Between, each cone's gain is raised to this power, so in stops: a
        lamp then keeps to the hues of a blackbody, where mixing linearly would leave it pink.

    Returns
    -------
    ndarray of float64, shape (..., 3)
        Not negative: what sRGB cannot hold is clamped.
    """
    adapt = adaptation(_xyz(white), _xyz(CHROMATICITY["D65"]), balance)
    rgb = np.maximum(xyz_to_linear(_xyz(xy) @ adapt.T), 0.0)
    return np.asarray(rgb / luminance(rgb)[..., None])


# --- emitters -----------------------------------------------------------------------------------


def _smoothstep(low: float | Array, high: float | Array, value: Array) -> Array:
    t = np.clip((value - low) / (high - low), 0.0, 1.0)
    return np.asarray(t * t * (3.0 - 2.0 * t))


def _fade(u: Array, v: Array, edge: float, pixel: float) -> Array:
    """Half the width an edge fades over, at (u, v) on a flat panel at distance 1.

    A pixel, ``pixel`` radians, covers more of the panel where it is seen aslant.
    """
    return np.asarray(np.maximum(edge / 2.0, pixel * (1.0 + u * u + v * v)))


def _toward(azimuth: float, elevation: float) -> Array:
    """Unit vector: degrees to the left of the viewer's side (+z), and up from the horizon."""
    a, e = math.radians(azimuth), math.radians(elevation)
    return np.array([-math.sin(a) * math.cos(e), math.sin(e), math.cos(a) * math.cos(e)])


def _above(rise: float) -> Array:
    """Unit vector across the rod: degrees from the viewer (0) over the zenith (90) to behind."""
    return np.array([0.0, math.sin(math.radians(rise)), math.cos(math.radians(rise))])


@dataclass(frozen=True, slots=True)
class _Panel:
    """A flat rectangle that faces the rod at distance 1.

    ``centre`` and ``along`` are unit vectors (the panel's middle, its long side). The halves are
    lengths at distance 1, so tangents of angles (at most 5). ``edge`` is the width its edge fades
    over, never less than two pixels, so that a mirror shows no steps.
    """

    centre: Array
    along: Array
    half_along: float
    half_across: float
    edge: float = 0.03

    def place(self, toward: Array) -> tuple[Array, Array, Array]:
        """Panel coordinates (along, across) that each direction meets, and the cosine there."""
        cosine = toward @ self.centre
        reach = np.maximum(cosine, 1e-3)
        return (
            toward @ self.along / reach,
            toward @ np.cross(self.centre, self.along) / reach,
            cosine,
        )

    def shape(self, toward: Array, pixel: float) -> Array:
        """How much of each pixel the panel covers, 0 to 1."""
        u, v, cosine = self.place(toward)
        fade = _fade(u, v, self.edge, pixel)
        cover = _smoothstep(-fade, fade, self.half_along - np.abs(u))
        cover *= _smoothstep(-fade, fade, self.half_across - np.abs(v))
        return np.asarray(cover * (cosine > 0.1))


def _disc(toward: Array, centre: Array, diameter: float, pixel: float) -> Array:
    """Soft-edged disc of unit facing irradiance (h, w): its sum is 1 on this very grid.

    Normalising on the grid keeps the energy of a disc of few pixels wherever it falls.
    """
    angle = np.arccos(np.clip(toward @ centre, -1.0, 1.0))
    fade = max(0.15 * diameter, pixel)
    cover = 1.0 - _smoothstep(diameter / 2.0 - fade, diameter / 2.0 + fade, angle)
    return np.asarray(cover / float((cover * solid_angles(toward.shape[0])).sum()))


def _panes(place: Array, low: float, high: float, count: int, fade: Array) -> Array:
    """Glass (1) between ``low`` and ``high``, parted into ``count`` panes by bars (0)."""
    glass = _smoothstep(low - fade, low + fade, place)
    glass *= 1.0 - _smoothstep(high - fade, high + fade, place)
    for bar in np.linspace(low, high, count + 1)[1:-1]:
        glass *= _smoothstep(0.032 - fade, 0.032 + fade, np.abs(place - bar))
    return glass


def _layers(up: Array, floor: float, wall: float, ceiling: float) -> Array:
    """Brightness of a plain room by height: floor, walls and ceiling melting into each other."""
    low = _smoothstep(-0.55, -0.05, up)
    high = _smoothstep(0.35, 0.85, up)
    return np.asarray(floor + (wall - floor) * low + (ceiling - wall) * high)


# --- the four lights ----------------------------------------------------------------------------

_ALONG_ROD = np.array([1.0, 0.0, 0.0])


def _soft_boxes(toward: Array, pixel: float) -> Array:
    """A long box above and in front, a strip behind for the rim, a dim card below, else dark."""
    key = _Panel(_above(59.0), _ALONG_ROD, 2.4, 0.56, edge=0.05)
    u, v, _ = key.place(toward)
    # The lamp sits toward the far side of the box: a crisp edge there, and from it a long fade to
    # the near side, so that facets a few degrees apart differ.
    glow = np.exp(-2.3 * (v / key.half_across - 0.4) ** 2 - 0.4 * (u / key.half_along) ** 2)
    light = 9.0 * glow * key.shape(toward, pixel)

    strip = _Panel(_above(126.0), _ALONG_ROD, 2.0, 0.075, edge=0.04)
    light += 9.0 * strip.shape(toward, pixel)

    card = _Panel(_above(-66.0), _ALONG_ROD, 1.8, 0.40, edge=0.40)
    light += 0.32 * card.shape(toward, pixel)

    # The dark sweep under and behind the rod sends a little back; the room in front does not.
    light += 0.02 + 0.04 * _smoothstep(0.2, -0.9, toward[..., 1])
    return np.asarray(light[..., None] * emitter_colour(CHROMATICITY["D65"]))


def _north_window(toward: Array, pixel: float) -> Array:
    """A large window with bars, upper front left, overcast sky in it; a dim room, a warm floor.

    The sky is the CIE standard overcast sky: (1 + 2 sin elevation) / 3 of the zenith
    [Moon1942].
    """
    wall = _toward(30.0, 0.0)
    right = np.array([wall[2], 0.0, -wall[0]])
    pane = _Panel(wall, right, 1.0, 1.0)
    u, v, facing = pane.place(toward)
    fade = _fade(u, v, 0.024, pixel)
    glass = _panes(u, -1.05, 1.25, 4, fade) * _panes(v, 0.30, 1.55, 3, fade) * (facing > 0.1)
    overcast = (1.0 + 2.0 * np.maximum(toward[..., 1], 0.0)) / 3.0

    cool = emitter_colour(CHROMATICITY["D75"])
    plaster = cool * np.array([1.0, 0.985, 0.96])
    boards = cool * np.array([1.0, 0.80, 0.58])
    height = toward[..., 1]
    room = _layers(height, 0.0, 0.07, 0.12) * (1.0 - 0.45 * facing)
    # Boards brightest where the window's light lands, in front of the rod and to the left.
    patch = np.exp(-((1.0 - toward @ _toward(25.0, -48.0)) / 0.12))
    floor = (0.07 + 0.38 * patch) * _smoothstep(-0.08, -0.30, height)
    light: Array = (7.0 * glass * overcast)[..., None] * cool
    light += ((1.0 - glass) * room)[..., None] * plaster + floor[..., None] * boards
    return light


def _workshop_lamp(toward: Array, pixel: float) -> Array:
    """A small warm lamp above right, a faint tube behind, a dim warm-grey room with a bench."""

    def colour(name: str) -> Array:
        return emitter_colour(CHROMATICITY[name], CHROMATICITY["LED-B1"], WORKSHOP_BALANCE)

    warm, cooler = colour("LED-B1"), colour("LED-B3")
    lamp = _toward(-17.0, 56.0)
    bulb = 3.4 * _disc(toward, lamp, math.radians(5.0), pixel)
    # The inside of its shade: a bowl 17° across, bright near the bulb.
    angle = np.arccos(np.clip(toward @ lamp, -1.0, 1.0))
    rim = math.radians(8.5)
    bowl = 9.0 * np.exp(-angle / math.radians(4.0))
    soft = max(0.02, pixel)
    bowl *= 1.0 - _smoothstep(rim - soft, rim + soft, angle)

    tube = _Panel(_above(112.0), _ALONG_ROD, 1.5, 0.03, edge=0.03)
    height = toward[..., 1]
    room = _layers(height, 0.02, 0.05, 0.03)
    # The bench top takes the lamp's pool of light and throws it up from below.
    pool = 0.26 * np.exp(-((1.0 - toward @ _toward(-10.0, -66.0)) / 0.15))
    pool *= _smoothstep(-0.12, -0.30, height)
    grey, wood = warm * np.array([1.0, 0.96, 0.90]), warm * np.array([1.0, 0.78, 0.55])
    light: Array = (bulb + bowl)[..., None] * warm
    light += (1.6 * tube.shape(toward, pixel))[..., None] * cooler
    light += room[..., None] * grey + pool[..., None] * wood
    return light


def _low_sun(toward: Array, pixel: float) -> Array:
    """Sun 12° up to the front left in the clear sky of [Preetham1999], turbidity 2.5.

    The sun's own disc, half a degree wide, would be less than a pixel, and far too bright for a
    prefiltered live renderer. Its irradiance is kept and spread over a disc of 3°.
    The ground is matt and flat: grass, and a path of pale gravel under the rod.
    """
    turbidity, elevation = 2.5, 12.0
    grass, gravel = np.array([0.11, 0.12, 0.06]), np.array([0.27, 0.27, 0.21])
    sun = _toward(28.0, elevation)
    zenith = math.radians(90.0 - elevation)
    height = toward[..., 1]
    theta = np.arccos(np.clip(height, -1.0, 1.0))
    gamma = np.arccos(np.clip(toward @ sun, -1.0, 1.0))
    xyy = sky.sky_xyY(theta, gamma, turbidity, zenith)
    above = np.maximum(xyz_to_linear(_xyz(xyy) * xyy[..., 2:]), 0.0)
    direct = np.maximum(xyz_to_linear(sky.sun_illuminance(turbidity, zenith)), 0.0)

    weight = np.maximum(height, 0.0) * solid_angles(toward.shape[0])
    falling = direct * sun[1] + np.einsum("vu,vuc->c", weight, above)
    soft = max(0.01, pixel)
    horizon = _smoothstep(-soft, soft, height)[..., None]
    near = _smoothstep(-0.62, -0.80, height)[..., None]
    ground = (grass + (gravel - grass) * near) * falling / math.pi
    disc = _disc(toward, sun, math.radians(3.0), pixel)[..., None]
    light: Array = horizon * above + (1.0 - horizon) * ground + disc * direct
    return light


_PAINT: dict[LightKind, Callable[[Array, float], Array]] = {
    LightKind.SOFT_BOXES: _soft_boxes,
    LightKind.NORTH_WINDOW: _north_window,
    LightKind.WORKSHOP_LAMP: _workshop_lamp,
    LightKind.LOW_SUN: _low_sun,
}


@lru_cache(maxsize=32)
def _scale(kind: LightKind, height: int) -> float:
    unturned = _PAINT[kind](directions(height), math.pi / height)
    return 1.0 / float(luminance(ball_mean(unturned)))


def radiance_map(kind: LightKind, height: int = 256, turn: float = 0.0) -> Map:
    """Compute the radiance map of a light.

    Parameters
    ----------
    kind : LightKind
        Which light.
    height : int
        Rows; the map is twice as wide.
    turn : float
        Radians that the light is turned round the rod's axis (+x), right-handed: a positive turn
        brings what is overhead down toward the viewer.

    Returns
    -------
    ndarray of float32, shape (h, 2h, 3)
        Linear sRGB radiance, read-only; scaled as the module says.

    Raises
    ------
    ValueError
        If the height is not 16 to 4096 or the turn is not finite.
    """
    if not math.isfinite(turn):
        raise ValueError(f"turn is {turn}; the light needs a finite angle in radians.")
    return _radiance(kind, height, turn)


@lru_cache(maxsize=4)
def _radiance(kind: LightKind, height: int, turn: float) -> Map:
    toward = turned(directions(height), -turn)
    light = _PAINT[kind](toward, math.pi / height) * _scale(kind, height)
    result = light.astype(np.float32)
    result.flags.writeable = False
    return result
