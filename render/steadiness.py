"""Whether rows of thread stay steady: as bright from afar as from near, and calm as the rod turns.

Both are measured on the live picture. What a picture should show is known without any other
renderer: the mean light of a patch does not depend on how far away the camera stands, and a picture
of many samples a pixel shows how much really changes from frame to frame.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from geometry.grid import Detail
from materials.colour import linear_to_srgb, luminance, srgb_to_linear
from materials.shelf import Shelf
from render.live import LiveScene
from scenes import samples, tone
from scenes.build import Plan, Wrap, build
from scenes.camera import Camera
from scenes.lights import directions
from scenes.stage import Stage, stage_for
from scenes.variants import with_changes

__all__ = ["Flicker", "flicker", "patch_luminance", "plain_cover", "smooth_light", "view_at"]

Array = NDArray[np.float64]

_AWAY = 2500.0
"""How far the camera stands, mm: so far that perspective is alike in all pictures."""

_ELEVATION = np.deg2rad(16.0)
"""From where it looks down, as the view of the whole wrap does."""

_PATCH = (5.0, 2.0)
"""Half the length along the rod and round it of what is measured, mm."""

_POINTS = 160
"""Places along either side of the patch where the picture is read."""

_REFERENCE = 8
"""Samples along either side of a pixel of the reference."""

_DIMMER = np.float32(16)
"""How many times darker the twin is that tells what is beyond the straight part of the curve."""


@dataclass(frozen=True, slots=True)
class Flicker:
    """Root mean square change from frame to frame, in the display's 0 to 255.

    Parameters
    ----------
    drawn : float
        Of the picture as it is drawn.
    reference : float
        Of the same picture from 64 samples a pixel, each seeing no more than its own place, and
        their radiance averaged before it is made display light, as a camera's pixel does.
    """

    drawn: float
    reference: float

    @property
    def ratio(self) -> float:
        """How much more the drawn picture changes; 1 is perfect."""
        return self.drawn / self.reference


def plain_cover(thread: str, coats: int, detail: Detail = Detail.NORMAL) -> Wrap:
    """A short length of blank under cover alone: nothing but rows of thread.

    Parameters
    ----------
    thread : str
        Of the shipped shelf.
    coats : int
        Of finish; 0 is dry.
    detail : Detail
    """
    design = samples.load("half-scale").without_variants()
    middle = design.placement.middle
    changes = {
        "placement.from": middle - 16,
        "placement.to": middle + 16,
        "cover.thread": thread,
        "finish.coats": coats,
        "blank.fitted": [],
    }
    design = with_changes(design, changes)
    layers = tuple(layer for layer in design.layers if layer is design.cover)
    bare = design.model_copy(update={"layers": layers})
    return build(Plan(bare, Shelf.shipped()), detail)


def smooth_light(height: int = 64) -> NDArray[np.float32]:
    """A light without any edge: a wide glow above, and a little from everywhere.

    In it brightness runs evenly over the patch, so that what changes with distance is the rows'
    doing and not where a pixel happens to meet an edge. It stays where the tone curve is straight.

    Returns
    -------
    (h, 2h, 3) float32
        Radiance.
    """
    toward = directions(height)
    centre = np.array((0.3, np.sin(np.deg2rad(50)), np.cos(np.deg2rad(50))))
    glow = np.maximum(toward @ (centre / np.linalg.norm(centre)), 0) ** 4
    return np.repeat((0.075 + glow)[..., None], 3, axis=2).astype(np.float32)


def view_at(pixels_per_mm: float, height: int, target: tuple[float, float, float]) -> Camera:
    """A camera far away that draws so many pixels a mm in a picture `height` pixels high."""
    towards = np.array((0.0, np.sin(_ELEVATION), np.cos(_ELEVATION)))
    x, y, z = (np.array(target) + _AWAY * towards).tolist()
    angle = 2 * np.arctan(height / pixels_per_mm / 2 / _AWAY)
    return Camera((x, y, z), target, (0.0, 1.0, 0.0), float(angle))


def patch_luminance(
    wrap: Wrap,
    light: NDArray[np.float32],
    scales: Iterable[float],
    *,
    size: tuple[int, int] = (320, 180),
    supersample: int = 2,
) -> Array:
    """Mean luminance of one patch in pictures of different scales.

    Parameters
    ----------
    wrap : Wrap
    light : (h, 2h, 3) float32
        Radiance map.
    scales : iterable of float
        Pixels a mm, each more than 1.
    size : (int, int)
        Of the pictures, pixels.
    supersample : int

    Returns
    -------
    (n,) float
        0 to 1, linear display light: of the same places, read where they come to lie.
    """
    stage = replace(stage_for(wrap, size[0] / size[1]), light=light, surroundings=light)
    points = _patch(wrap, stage)
    x, y, z = points.reshape(-1, 3).mean(axis=0).tolist()
    means = []
    with LiveScene(stage, size, supersample=supersample) as scene:
        for scale in scales:
            camera = view_at(scale, size[1], (x, y, z))
            scene.look_from(camera)
            light_there = luminance(srgb_to_linear(scene.picture() / 255.0))
            place, _ = camera.project(points, size)
            at = (place[..., 1] - 0.5, place[..., 0] - 0.5)
            means.append(map_coordinates(light_there, at, order=1).mean())
    return np.array(means)


def flicker(
    stage: Stage,
    pixels_per_mm: float,
    *,
    size: tuple[int, int] = (128, 72),
    supersample: int = 2,
    hasty: bool = False,
    frames: int = 4,
) -> Flicker:
    """How much more a picture changes than it should while the rod turns very slowly.

    Parameters
    ----------
    stage : Stage
    pixels_per_mm : float
    size : (int, int)
        Of the pictures, pixels.
    supersample : int
    hasty : bool
        Draw as while the rod is being turned by hand.
    frames : int
        From each to the next the surface moves by an eighth of a pixel.

    Returns
    -------
    Flicker
    """
    seen = stage.seen_from(view_at(pixels_per_mm, size[1], (0.0, 0.0, 0.0)))
    outer = max(float(np.median(wrap.surface.radius)) for wrap in stage.wraps)
    turns = stage.turn + np.arange(frames) / 8 / pixels_per_mm / outer
    with LiveScene(seen, size, supersample=supersample) as scene:
        scene.hasten(hasty)
        drawn = np.array([scene.picture(turn) for turn in turns.tolist()], np.float64)
    # A picture so many times larger, made small afterwards: its samples do not know of each other.
    large = (size[0] * _REFERENCE, size[1] * _REFERENCE)
    with LiveScene(seen, large, supersample=1) as scene:
        plain = [scene.picture(turn) for turn in turns.tolist()]
        scene.show_stage(_dimmed(seen))
        dim = [scene.picture(turn) for turn in turns.tolist()]
    light = [_small(_radiance(*both)) for both in zip(plain, dim, strict=True)]
    # Rounded, as any picture is.
    reference = np.rint(255 * linear_to_srgb(tone.display_light(light)))
    return Flicker(_change(drawn), _change(reference))


def _patch(wrap: Wrap, stage: Stage) -> Array:
    """Places of the wrap's outside that face the camera of `view_at`, (n, n, 3) mm."""
    outside = wrap.outside or wrap.surface
    along = np.linspace(-_PATCH[0], _PATCH[0], _POINTS)[:, None]
    round_ = np.linspace(-_PATCH[1], _PATCH[1], _POINTS)[None, :]
    z = np.broadcast_to(stage.middle + along, (_POINTS, _POINTS))
    # Turn and angle add up, and both are counted from straight up.
    theta = np.pi / 2 - _ELEVATION - stage.turn + round_ / wrap.plan.middle_radius
    theta = np.broadcast_to(theta, z.shape)
    column = (theta % (2 * np.pi)) * (outside.theta.size / (2 * np.pi))
    station = (z - outside.z[0]) / outside.step
    radius = map_coordinates(outside.radius, (station, column), order=1, mode="grid-wrap")
    points = np.stack((radius * np.cos(theta), radius * np.sin(theta), z), axis=-1)
    placing = stage.placing()
    return np.asarray(points @ placing[:3, :3].T + placing[:3, 3])


def _dimmed(stage: Stage) -> Stage:
    """The stage in so little light that the curve leaves nearly all of it as it is."""
    card = replace(stage.backdrop, radiance=stage.backdrop.radiance / _DIMMER)
    return replace(
        stage,
        light=stage.light / _DIMMER,
        surroundings=stage.surroundings / _DIMMER,
        backdrop=card,
    )


def _radiance(plain: NDArray[np.uint8], dim: NDArray[np.uint8]) -> Array:
    """Scene radiance from a picture and its dimmed twin, as from bracketed exposures."""
    as_drawn = srgb_to_linear(plain / 255.0)
    return np.where(as_drawn < tone.LINEAR_TO, as_drawn, _DIMMER * srgb_to_linear(dim / 255.0))


def _small(light: Array) -> Array:
    height, width, channels = light.shape
    blocks = light.reshape(
        height // _REFERENCE, _REFERENCE, width // _REFERENCE, _REFERENCE, channels
    )
    return np.asarray(blocks.mean(axis=(1, 3)))


def _change(frames: Array) -> float:
    return float(np.sqrt((np.diff(frames, axis=0) ** 2).mean()))
