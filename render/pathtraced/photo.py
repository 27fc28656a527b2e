"""The photo: a stage path-traced by Mitsuba.

It shows the same stage as the live picture and computes what the live picture approximates: rows of
thread are ridges, the finish is a dielectric body, the card receives light and shadow from what
stands on it, and the lens has an aperture. It takes a minute where the live picture takes a second.

Traps of Mitsuba:

- It offsets a ray from a surface by about 1e-4 of its distance from the origin. Finish is thin, so
  the origin is in the middle of the wrap.
- `roughplastic` takes no vertex colours; vertex attributes come out wrong inside instances;
  `shape_index` starts at 1.
- Light that must pass the finish is found by chance alone. Under the workshop lamp, the smallest
  light, a body colour under finish needs far more paths than metal does, and the denoiser takes
  its few bright dots for noise. Two halves of 96 paths gave 0.007 and 0.052 for one such dark
  band, so the live picture is not fitted to photos there.
"""

import time
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from materials.colour import linear_to_srgb
from render.common.closing import Closing
from render.pathtraced.denoise import available, denoised
from render.pathtraced.denoiser_guides import Guides, guides
from render.pathtraced.engine import engine
from render.pathtraced.lens import Box, Lens, pixel_of
from render.pathtraced.scene import Piece, rod_pieces, scene_of
from scenes.light import tone
from scenes.stage.backdrop import card_in_picture
from scenes.stage.camera import Camera
from scenes.stage.stage import Stage

__all__ = ["SAMPLES", "PhotoScene", "passes"]

Pixels = NDArray[np.uint8]
Floats = NDArray[np.float32]
Step = Callable[[int, int], None]

SAMPLES = 64
"""Paths through each pixel of the rod; after denoising no grain is visible."""

_PASS = 4
"""Samples a pixel of one pass; progress is reported, and work can be cancelled, between passes."""

_CARD_EVERY = {True: 8, False: 4}
"""Passes for each one that includes the card, by whether the picture is denoised. The card is
smooth and needs fewer samples than the rod."""

_DEPTH = 12
"""Most bounces of a path: light inside the finish meets the thread several times."""

_ROULETTE = 3
"""Bounce from which Russian roulette may end a path."""

_APERTURE = 1 / 200
"""Radius of the lens over its distance from the target: about f/16 on a camera whose picture the
rod fills."""

_GUIDE_EYES = 4
"""Points on the lens from which the guides are traced."""

_PROBE = 180
"""Shorter side of the small picture that an estimate is made from, pixels."""

_DENOISING = 6e-6
"""Seconds a pixel that denoising takes on two cores, measured."""

_WIDEST_STEP = 1.2
_MOST_STRIDE = 4
"""Widest step between the angles of a wrap, pixels, and the greatest stride over its angles."""

_FINDER = 180
"""Shorter side of the small picture in which the rod is located, pixels."""

_STRIPS = 10
"""Vertical strips into which the picture is divided to enclose the rod closely."""


def passes(samples: int = SAMPLES) -> int:
    """Number of passes of a picture: how often `PhotoScene` calls its `step`.

    Parameters
    ----------
    samples : int
        Paths through each pixel of the rod.
    """
    return -(-samples // _PASS)


class PhotoScene(Closing):
    """A stage as a Mitsuba scene, ready to be turned and rendered.

    Parameters
    ----------
    stage : Stage
    size : (int, int)
        Width and height of the pictures, pixels.
    samples : int
        Paths through each pixel of the rod; the card gets fewer.
    aperture : float
        Radius of the lens as a share of the camera's distance; 0 makes everything sharp.
    denoise : bool
        Remove the remaining noise, where Open Image Denoise is installed.
    step : callable
        Called after every pass with the number of passes done and their total; may raise to cancel.

    Raises
    ------
    RequestProblem
        If the photo extra is not installed.
    """

    def __init__(
        self,
        stage: Stage,
        size: tuple[int, int],
        *,
        samples: int = SAMPLES,
        aperture: float = _APERTURE,
        denoise: bool = True,
        step: Step = lambda done, total: None,
    ) -> None:
        engine()
        self.size = size
        self.samples = samples
        self.step = step
        self._aperture = aperture
        self._denoise = denoise and available()
        self._pieces: list[Piece] = []
        self._every = 0
        self._seed = 0
        self._setup_seconds = 0.0
        self._scene: Any = None
        self._lens: Lens | None = None
        self.stage = stage
        self._camera = stage.camera
        self._turn = stage.turn

    def close(self) -> None:
        """Release the scene and its memory."""
        self._discard_scene()
        self._pieces = []

    def show_stage(self, stage: Stage) -> None:
        """Replace the stage; camera and turn stay as they are.

        Parameters
        ----------
        stage : Stage
        """
        self.close()
        self.stage = stage

    def look_from(self, camera: Camera) -> None:
        """Move the camera.

        Parameters
        ----------
        camera : Camera
        """
        self._camera = camera
        self._discard_scene()

    def turn_to(self, turn: float) -> None:
        """Turn the rod about its axis.

        Parameters
        ----------
        turn : float
            Angle, rad.
        """
        if turn != self._turn:
            self._turn = turn
            self._discard_scene()

    def picture(self, turn: float | None = None) -> Pixels:
        """Render a picture.

        Parameters
        ----------
        turn : float, optional
            Turn the rod to this angle first, rad.

        Returns
        -------
        (height, width, 3) uint8
            sRGB.
        """
        display = tone.display_light(self.radiance(turn) * tone.EXPOSURE)
        levels = 255 * linear_to_srgb(display) + _dither(*self.size)
        return np.rint(np.clip(levels, 0, 255)).astype(np.uint8)

    def radiance(self, turn: float | None = None) -> Floats:
        """Render the scene radiance of a picture.

        Parameters
        ----------
        turn : float, optional
            Turn the rod to this angle first, rad.

        Returns
        -------
        (height, width, 3) float32
            Linear sRGB, before exposure and tone curve.
        """
        if turn is not None:
            self.turn_to(turn)
        scene, lens = self._prepared()
        boxes = self._rod_boxes()
        guide = self._guides(scene, lens, boxes, _GUIDE_EYES)
        width, height = self.size
        total = np.zeros((height, width, 3), np.float32)
        count = np.zeros((height, width, 1), np.float32)
        number = passes(self.samples)
        for done in range(number):
            paths = min(_PASS, self.samples - done * _PASS)
            with_card = done % _CARD_EVERY[self._denoise] == 0
            for box in [(0, 0, width, height)] if with_card else boxes:
                left, upper, right, lower = box
                total[upper:lower, left:right] += paths * self._traced(box, paths)
                count[upper:lower, left:right] += paths
            self.step(done + 1, number)
        light = total / count
        return denoised(light, guide.albedo, guide.normal) if self._denoise else light

    def estimate(self, size: tuple[int, int] | None = None, samples: int | None = None) -> float:
        """Seconds that a picture will take, extrapolated from a small one that is rendered now.

        This prepares the scene, so the first picture does not have to; the estimate includes the
        preparation that each further picture needs.

        Parameters
        ----------
        size : (int, int), optional
            Width and height, pixels; by default those of the scene.
        samples : int, optional
            Paths through each pixel of the rod; by default those of the scene.
        """
        width, height = size or self.size
        scene, lens = self._prepared()
        probe = self._reduced(_PROBE)
        probe_lens = replace(lens, size=probe)
        whole = (0, 0, *probe)
        start = time.perf_counter()
        probe_guides = self._guides(scene, probe_lens, [whole], 1)
        boxes = _boxes_around(probe_guides.on_rod, probe, 0)
        area = sum((right - left) * (lower - upper) for left, upper, right, lower in boxes)
        guiding = (time.perf_counter() - start) * area / (probe[0] * probe[1])
        times = []
        for part in ([whole], boxes):
            start = time.perf_counter()
            for box in part:
                self._traced(box, _PASS, probe_lens)
            times.append(time.perf_counter() - start)
        number = passes(self.samples if samples is None else samples)
        with_card = -(-number // _CARD_EVERY[self._denoise])
        scale = width * height / (probe[0] * probe[1])
        tracing = with_card * times[0] + (number - with_card) * times[1]
        denoising = _DENOISING * width * height if self._denoise else 0.0
        return self._setup_seconds + scale * (tracing + _GUIDE_EYES * guiding) + denoising

    def _discard_scene(self) -> None:
        self._scene = None
        self._lens = None

    def _prepared(self) -> tuple[Any, Lens]:
        if self._scene is not None and self._lens is not None:
            return self._scene, self._lens
        camera, size = self._camera, self.size
        every = _stride(self.stage, pixel_of(camera, size))
        if every != self._every or not self._pieces:
            self._pieces = []
            self._pieces, self._every = rod_pieces(self.stage, every=every), every
        # The rod's frame has the stage's origin: only the rotation has to be undone.
        around = np.eye(4)
        around[:3, :3] = self.stage.transform(self._turn)[:3, :3].T
        card = card_in_picture(self.stage.backdrop, camera, size[0] / size[1])
        start = time.perf_counter()
        scene = scene_of(self._pieces, around, self.stage.light, card)
        self._setup_seconds = time.perf_counter() - start
        focus = _nearest(scene, camera, around)
        self._scene = scene
        self._lens = Lens(camera, size, around, self._aperture * camera.distance, focus)
        return self._scene, self._lens

    def _reduced(self, side: int) -> tuple[int, int]:
        """Size of a picture of the same proportions whose shorter side is at most `side` pixels."""
        shrunk = min(1.0, side / min(self.size))
        width, height = (max(1, round(shrunk * full)) for full in self.size)
        return width, height

    def _rod_boxes(self) -> list[Box]:
        """Parts of the picture that together contain the rod."""
        scene, lens = self._prepared()
        probe = self._reduced(_FINDER)
        probe_guides = self._guides(scene, replace(lens, size=probe), [(0, 0, *probe)], 1)
        return _boxes_around(probe_guides.on_rod, self.size, 2)

    def _guides(self, scene: Any, lens: Lens, boxes: list[Box], eyes: int) -> Guides:
        films = {
            number: piece.substrate
            for number, piece in enumerate(self._pieces)
            if piece.substrate is not None
        }
        return guides(
            scene, lens.eyes(eyes, boxes), lens.size, films, len(self._pieces), lens.pixel
        )

    def _traced(self, box: Box, samples: int, lens: Lens | None = None) -> Floats:
        mi = engine()
        scene, own = self._prepared()
        self._seed += 1
        path = mi.load_dict({"type": "path", "max_depth": _DEPTH, "rr_depth": _ROULETTE})
        sensor = (lens or own).sensor(box)
        return np.array(
            mi.render(scene, sensor=sensor, integrator=path, spp=samples, seed=self._seed)
        )


def _dither(width: int, height: int) -> NDArray[np.float64]:
    """Noise of up to half a level, fixed to the picture, against banding in wide dark gradients.

    Jimenez 2014, "Next generation post processing in Call of Duty", as in the live picture.
    """
    x, y = np.arange(width) + 0.5, np.arange(height)[:, None] + 0.5
    noise = (52.9829189 * ((0.06711056 * x + 0.00583715 * y) % 1)) % 1
    return np.asarray(noise[..., None] - 0.5)


def _stride(stage: Stage, pixel: float) -> int:
    """Stride over the angles of a wrap's grid, a power of two, for pixels of `pixel` mm."""
    every = 1
    surfaces = [wrap.surface for wrap in stage.wraps]
    steps = [2 * np.pi * float(s.radius.mean()) / s.theta.size for s in surfaces]
    while every < _MOST_STRIDE and 2 * every * max(steps, default=pixel) <= _WIDEST_STEP * pixel:
        every *= 2
    return every


def _nearest(scene: Any, camera: Camera, around: NDArray[np.float64]) -> float:
    """Distance from the camera to the first surface along its line of sight, mm.

    At most the distance of the target.
    """
    mi = engine()
    place = around[:3, :3] @ np.array(camera.position) + around[:3, 3]
    ahead = np.subtract(camera.target, camera.position) / camera.distance
    ray = mi.Ray3f(place.tolist(), (around[:3, :3] @ ahead).tolist())
    return min(float(scene.ray_intersect(ray).t), camera.distance)


def _boxes_around(on_rod: NDArray[np.bool_], size: tuple[int, int], margin: int) -> list[Box]:
    """Boxes of a picture of `size`, in vertical strips, that together contain the rod.

    `on_rod` may be smaller than the picture; `margin` of its pixels are added around the rod.
    """
    height, width = on_rod.shape
    across, down = size[0] / width, size[1] / height
    boxes = []
    edges = np.unique(np.linspace(0, width, _STRIPS + 1).astype(int)).tolist()
    for left, right in pairwise(edges):
        rows = np.flatnonzero(on_rod[:, max(left - margin, 0) : right + margin].any(axis=1))
        if rows.size:
            upper, lower = max(int(rows[0]) - margin, 0), min(int(rows[-1]) + margin + 1, height)
            box = (left * across, upper * down, right * across, lower * down)
            a, b, c, d = (round(edge) for edge in box)
            boxes.append((a, b, c, d))
    return boxes
