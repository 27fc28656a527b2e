"""Whether rows of thread stay steady: as bright from afar as from near, and calm as the rod turns.

Both are measured on the live picture. What a picture should show is known without any other
renderer: the mean light of a field of view does not depend on how many pixels it is drawn with, and
a picture of many samples a pixel shows how much really changes from frame to frame.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from geometry.grid import Detail
from materials.colour import linear_to_srgb, luminance, srgb_to_linear
from materials.shelf import Shelf
from render.live.live import LiveScene
from scenes.building.build import Plan, Wrap, build
from scenes.design.document import with_changes
from scenes.files import samples
from scenes.light import tone
from scenes.light.lights import directions
from scenes.stage.camera import Camera
from scenes.stage.stage import Stage, stage_for

__all__ = ["Flicker", "field_radiance", "flicker", "in_smooth_light", "plain_cover", "view_at"]

Array = NDArray[np.float64]

_AWAY = 2500.0
"""How far the camera stands, mm: so far that perspective is alike in all pictures."""

_ELEVATION = np.deg2rad(16.0)
"""From where it looks down, as the view of the whole wrap does."""

_FIELD = (160 / 27, 480 / 27)
"""Width and height of the field of view whose light is measured, mm: whole pixels at 27 a mm and
at four of its halvings, and so high that no highlight lies across its edge."""

_SAMPLES = 2
"""Samples along either side of a pixel, as pictures have by default."""

_GOLDEN = (1 + 5**0.5) / 2
"""By steps of its inverse places are spread evenly and keep no time with the turns."""

_REFERENCE = 8
"""Samples along either side of a pixel of the reference."""

_EXPOSURES = (1, 16, 256)
"""How many times darker the pictures are of which each tells what lies beyond the straight part of
the curve in the one before it."""


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


def in_smooth_light(wrap: Wrap, height: int = 64) -> Stage:
    """A wrap in a light without any edge: a wide glow above, and a little from everywhere.

    In it brightness runs evenly over the field, so that what changes with distance is the rows'
    doing and not where a pixel happens to meet an edge.

    Parameters
    ----------
    wrap : Wrap
    height : int
        Of the radiance map, pixels.
    """
    toward = directions(height)
    centre = np.array((0.3, np.sin(np.deg2rad(50)), np.cos(np.deg2rad(50))))
    glow = np.maximum(toward @ (centre / np.linalg.norm(centre)), 0) ** 4
    light = np.repeat((0.075 + glow)[..., None], 3, axis=2).astype(np.float32)
    stage = stage_for(wrap, _FIELD[0] / _FIELD[1])
    return replace(stage, light=light, surroundings=light)


def view_at(pixels_per_mm: float, height: float, target: tuple[float, float, float]) -> Camera:
    """A camera far away that draws so many pixels a mm in a picture `height` pixels high."""
    towards = np.array((0.0, np.sin(_ELEVATION), np.cos(_ELEVATION)))
    x, y, z = (np.array(target) + _AWAY * towards).tolist()
    angle = 2 * np.arctan(height / pixels_per_mm / 2 / _AWAY)
    return Camera((x, y, z), target, (0.0, 1.0, 0.0), float(angle))


def field_radiance(stage: Stage, scales: Iterable[float], *, turns: int = 1) -> Array:
    """Mean radiance of one field of view in pictures of different scales.

    The whole field is measured: of a part of it a large pixel would bring in what lies beside it.
    From turn to turn the field moves on by a part of the largest sample: a small lamp's highlight
    is narrower than that, and stays where it is while the rod turns.

    Parameters
    ----------
    stage : Stage
    scales : iterable of float
        Pixels a mm.
    turns : int
        The mean is of so many turns of the rod, evenly spread.

    Returns
    -------
    (n,) float
        Scene radiance, as the samples of each pixel have it before the curve.
    """
    scales = list(scales)
    angles = (stage.turn + 2 * np.pi * np.arange(turns) / turns).tolist()
    parts = np.arange(turns) / _GOLDEN % 1
    moved = ((parts - parts.mean()) / (min(scales) * _SAMPLES)).tolist()
    cameras = [view_at(1.0, _FIELD[1], (0.0, up, 0.0)) for up in moved]
    seen = stage.with_camera(cameras[0])
    # A pixel is the mean of samples in the display's own numbers: they are drawn one by one.
    sizes = [
        (round(_FIELD[0] * scale * _SAMPLES), round(_FIELD[1] * scale * _SAMPLES))
        for scale in scales
    ]
    found: list[dict[int, NDArray[np.uint8]]] = [{} for _ in sizes]
    with LiveScene(seen, sizes[0], supersample=1) as scene:
        scene.set_preview(False, _SAMPLES)
        for dimmer in _EXPOSURES:
            scene.show_stage(_dimmed(seen, dimmer))
            for size, pictures in zip(sizes, found, strict=True):
                scene.resize(size, 1)
                shown = []
                for camera, angle in zip(cameras, angles, strict=True):
                    scene.look_from(camera)
                    shown.append(scene.picture(angle))
                pictures[dimmer] = np.array(shown)
    return np.array([luminance(_radiance(pictures)).mean() for pictures in found])


def flicker(
    stage: Stage,
    pixels_per_mm: float,
    *,
    size: tuple[int, int] = (128, 72),
    supersample: int = 2,
    preview: bool = False,
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
    preview : bool
        In the quality of previews, as while the rod is being turned by hand.
    frames : int
        From each to the next the surface moves by an eighth of a pixel.

    Returns
    -------
    Flicker
    """
    seen = stage.with_camera(view_at(pixels_per_mm, size[1], (0.0, 0.0, 0.0)))
    outer = max(float(np.median(wrap.surface.radius)) for wrap in stage.wraps)
    turns = stage.turn + np.arange(frames) / 8 / pixels_per_mm / outer
    with LiveScene(seen, size, supersample=supersample) as scene:
        scene.set_preview(preview)
        drawn = np.array([scene.picture(turn) for turn in turns.tolist()], np.float64)
    # A picture so many times larger, made small afterwards: its samples do not know of each other.
    large = (size[0] * _REFERENCE, size[1] * _REFERENCE)
    with LiveScene(seen, large, supersample=1) as scene:
        pictures = {}
        for dimmer in _EXPOSURES[:2]:
            scene.show_stage(_dimmed(seen, dimmer))
            pictures[dimmer] = np.array([scene.picture(turn) for turn in turns.tolist()])
    light = _small(_radiance(pictures))
    # Rounded, as any picture is.
    reference = np.rint(255 * linear_to_srgb(tone.display_light(light)))
    return Flicker(_change(drawn), _change(reference))


def _dimmed(stage: Stage, dimmer: int) -> Stage:
    """The stage in so much less light."""
    if dimmer == 1:
        return stage
    less = np.float32(dimmer)
    card = replace(stage.backdrop, radiance=stage.backdrop.radiance / less)
    light, surroundings = stage.light / less, stage.surroundings / less
    return replace(stage, light=light, surroundings=surroundings, backdrop=card)


def _radiance(pictures: Mapping[int, NDArray[np.uint8]]) -> Array:
    """Scene radiance from pictures dimmed more and more, as from bracketed exposures."""
    first, *lighter = sorted(pictures, reverse=True)
    light = first * srgb_to_linear(pictures[first] / 255.0)
    for dimmer in lighter:
        shown = srgb_to_linear(pictures[dimmer] / 255.0)
        light = np.where(shown < tone.LINEAR_TO, dimmer * shown, light)
    return light


def _small(light: Array) -> Array:
    frames, height, width, channels = light.shape
    blocks = light.reshape(
        frames, height // _REFERENCE, _REFERENCE, width // _REFERENCE, _REFERENCE, channels
    )
    return np.asarray(blocks.mean(axis=(2, 4)))


def _change(frames: Array) -> float:
    return float(np.sqrt((np.diff(frames, axis=0) ** 2).mean()))
