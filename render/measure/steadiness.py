"""Steadiness of rows of thread: equal brightness at all distances, no flicker while the rod turns.

Both are measured in the live picture, without another renderer as a reference. The mean radiance of
a field of view does not depend on the number of pixels. A picture with many samples per pixel shows
how much really changes from frame to frame.
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
from scenes.stage.camera import Camera
from scenes.stage.stage import Stage

__all__ = ["Flicker", "field_radiance", "flicker", "plain_cover", "view_at"]

Array = NDArray[np.float64]

_DISTANCE = 2500.0
"""Distance of the camera, mm: so large that all pictures have the same perspective."""

_ELEVATION = np.deg2rad(16.0)
"""Elevation of the camera, rad, as in the view of the whole wrap."""

_FIELD = (160 / 27, 480 / 27)
"""Width and height of the measured field of view, mm: whole pixels at 27 pixels per mm and at four
halvings of it, and so high that no highlight crosses the edge."""

_SAMPLES = 2
"""Samples per side of a pixel, as in pictures by default."""

_GOLDEN = (1 + 5**0.5) / 2
"""Golden ratio: multiples of its inverse, modulo 1, are spread evenly and without a period."""

_REFERENCE = 8
"""Samples per side of a pixel of the reference."""

_EXPOSURES = (1, 16, 256)
"""Factors by which pictures are dimmed. Each picture gives the radiance that is beyond the linear
part of the tone curve in the one before it."""


@dataclass(frozen=True, slots=True)
class Flicker:
    """Root mean square change from frame to frame, in the display's 0 to 255.

    Parameters
    ----------
    drawn : float
        In the picture as it is drawn.
    reference : float
        In the same picture with 64 independent samples per pixel, whose radiance is averaged before
        the tone curve, as in the pixel of a camera.
    """

    drawn: float
    reference: float

    @property
    def ratio(self) -> float:
        """Change of the drawn picture relative to the reference; 1 is perfect."""
        return self.drawn / self.reference


def plain_cover(thread: str, coats: int, detail: Detail = Detail.NORMAL) -> Wrap:
    """Build a short wrap of a cover only: nothing but rows of thread.

    Parameters
    ----------
    thread : str
        Name of a thread on the shipped shelf.
    coats : int
        Coats of finish; 0 is dry.
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


def view_at(pixels_per_mm: float, height: float, target: tuple[float, float, float]) -> Camera:
    """A distant camera for pictures of a given scale.

    Parameters
    ----------
    pixels_per_mm : float
        Scale of the pictures.
    height : float
        Of the pictures, pixels.
    target : (float, float, float)
        Point in the middle of the pictures, mm.
    """
    towards = np.array((0.0, np.sin(_ELEVATION), np.cos(_ELEVATION)))
    x, y, z = (np.array(target) + _DISTANCE * towards).tolist()
    angle = 2 * np.arctan(height / pixels_per_mm / 2 / _DISTANCE)
    return Camera((x, y, z), target, (0.0, 1.0, 0.0), float(angle))


def field_radiance(stage: Stage, scales: Iterable[float], *, turns: int = 1) -> Array:
    """Mean radiance of one field of view in pictures of different scales.

    The whole field is measured, because in a part of it a large pixel would include what is beside
    it. From turn to turn the field moves by a fraction of the largest sample, because the highlight
    of a small lamp is narrower than that and does not move with the rod.

    Parameters
    ----------
    stage : Stage
    scales : iterable of float
        Pixels per mm.
    turns : int
        Number of evenly spread turns of the rod that are averaged.

    Returns
    -------
    (n,) float
        Scene radiance of the samples before the tone curve, one for each scale.
    """
    scales = list(scales)
    angles = (stage.turn + 2 * np.pi * np.arange(turns) / turns).tolist()
    parts = np.arange(turns) / _GOLDEN % 1
    moved = ((parts - parts.mean()) / (min(scales) * _SAMPLES)).tolist()
    cameras = [view_at(1.0, _FIELD[1], (0.0, up, 0.0)) for up in moved]
    seen = stage.with_camera(cameras[0])
    # A pixel averages its samples after the tone curve, so each sample is drawn as a pixel.
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
            if all(_is_linear(pictures[dimmer]) for pictures in found):
                break
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
    """Measure the change from frame to frame while the rod turns very slowly.

    Parameters
    ----------
    stage : Stage
    pixels_per_mm : float
        Scale of the pictures.
    size : (int, int)
        Width and height of the pictures, pixels.
    supersample : int
        Samples per side of a pixel.
    preview : bool
        Draw in preview quality, as while the rod is dragged.
    frames : int
        Number of frames; from each to the next the surface moves by 1/8 pixel.

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
        # A larger picture, scaled down afterwards, so that its samples are independent.
        scene.set_preview(False)
        scene.resize((size[0] * _REFERENCE, size[1] * _REFERENCE), 1)
        pictures = {}
        for dimmer in _EXPOSURES[:2]:
            scene.show_stage(_dimmed(seen, dimmer))
            pictures[dimmer] = np.array([scene.picture(turn) for turn in turns.tolist()])
            if _is_linear(pictures[dimmer]):
                break
    light = _block_means(_radiance(pictures))
    # Rounded to 8 bits, as in any picture.
    reference = np.rint(255 * linear_to_srgb(tone.display_light(light)))
    return Flicker(_rms_change(drawn), _rms_change(reference))


def _dimmed(stage: Stage, dimmer: int) -> Stage:
    """The stage in a light dimmed by a factor."""
    if dimmer == 1:
        return stage
    less = np.float32(dimmer)
    card = replace(stage.backdrop, radiance=stage.backdrop.radiance / less)
    light, surroundings = stage.light / less, stage.surroundings / less
    return replace(stage, light=light, surroundings=surroundings, backdrop=card)


def _is_linear(pictures: NDArray[np.uint8]) -> bool:
    """Whether no sample is beyond the linear part of the tone curve: no dimmer picture is read."""
    return bool(srgb_to_linear(pictures.max() / 255.0) < tone.LINEAR_TO)


def _radiance(pictures: Mapping[int, NDArray[np.uint8]]) -> Array:
    """Scene radiance from pictures dimmed by several factors, as from bracketed exposures."""
    first, *lighter = sorted(pictures, reverse=True)
    light = first * srgb_to_linear(pictures[first] / 255.0)
    for dimmer in lighter:
        shown = srgb_to_linear(pictures[dimmer] / 255.0)
        light = np.where(shown < tone.LINEAR_TO, dimmer * shown, light)
    return light


def _block_means(light: Array) -> Array:
    frames, height, width, channels = light.shape
    blocks = light.reshape(
        frames, height // _REFERENCE, _REFERENCE, width // _REFERENCE, _REFERENCE, channels
    )
    return np.asarray(blocks.mean(axis=(2, 4)))


def _rms_change(frames: Array) -> float:
    return float(np.sqrt((np.diff(frames, axis=0) ** 2).mean()))
