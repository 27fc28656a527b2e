"""The photograph: a stage path-traced by Mitsuba.

The same stage as the live picture's, with everything that the live picture has to approximate
done for real: rows of thread are ridges, the finish is a body of glass, the card is lit and
shaded by what stands on it, and the lens has a size. It takes a minute where the live picture
takes a second.

What Mitsuba needs: it lifts a ray off a surface by about 1e-4 of its distance from the origin, and
finish is thin, so the origin is in the middle of the wrap; `roughplastic` takes no vertex colours;
vertex attributes come out wrong inside instances; `shape_index` starts at 1. Light that must pass
the finish is found by chance alone: under the workshop lamp, the smallest light, a body colour
under finish needs far more paths than metal does, and the denoiser takes its few bright dots for
noise. Two halves of 96 paths read one such dark band as 0.007 and 0.052, so the live picture is not
fitted to photographs there.
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
from render.pathtraced.scene import Piece, rod, scene_of
from scenes.light import tone
from scenes.stage.backdrop import card_in_picture
from scenes.stage.camera import Camera
from scenes.stage.stage import Stage

__all__ = ["SAMPLES", "PhotoScene", "passes"]

Pixels = NDArray[np.uint8]
Floats = NDArray[np.float32]
Step = Callable[[int, int], None]

SAMPLES = 64
"""Paths through each pixel of the rod: denoised, no grain is seen."""

_PASS = 4
"""Samples of one pass, between which work can be watched and cancelled."""

_CARD_EVERY = {True: 8, False: 4}
"""The card is smooth and quickly free of noise: it is drawn in one pass of so many, fewer where
noise is taken out."""

_DEPTH = 12
"""Most bounces: light caught under the finish meets the thread several times."""

_ROULETTE = 3

_APERTURE = 1 / 200
"""Radius of the lens over its distance: f/16 or so on a camera that fills its picture."""

_EYES = 4
"""Places on the lens from which the guides are looked for."""

_PROBE = 180
"""Shorter side of the small picture that an estimate is made from, pixels."""

_CLEANING = 6e-6
"""Seconds a pixel that denoising takes on two cores, by measurement."""

_STEP = 1.2
_MOST_THINNED = 4
"""Widest step between the angles of a wrap, pixels, and most angles that are left out for one."""

_FINDER = 180
"""Shorter side of the small picture in which the rod is found, pixels."""

_STRIPS = 10
"""Upright strips in which the rod is framed."""


def passes(samples: int = SAMPLES) -> int:
    """Number of times that `PhotoScene` calls its `step` for a picture."""
    return -(-samples // _PASS)


class PhotoScene(Closing):
    """A stage before Mitsuba's camera, ready to be turned and photographed.

    Parameters
    ----------
    stage : Stage
    size : (int, int)
        Width and height of the pictures, pixels.
    samples : int
        Paths through each pixel of the rod; the card gets fewer.
    aperture : float
        Radius of the lens as a share of the camera's distance; 0 has everything sharp.
    denoise : bool
        Take out the noise that is left, where Open Image Denoise is installed.
    step : callable
        Called after every pass with the number of passes done and to do; may raise to cancel.

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
        self._setting = 0.0
        self._scene: Any = None
        self._lens: Lens | None = None
        self.stage = stage
        self._camera = stage.camera
        self._turn = stage.turn

    def close(self) -> None:
        """Let the scene and its memory go."""
        self._forget()
        self._pieces = []

    def show_stage(self, stage: Stage) -> None:
        """Put another stage in the place of this one; camera and turn stay as they are."""
        self.close()
        self.stage = stage

    def look_from(self, camera: Camera) -> None:
        """Put the camera there."""
        self._camera = camera
        self._forget()

    def turn_to(self, turn: float) -> None:
        """Turn the rod to `turn` rad about its axis."""
        if turn != self._turn:
            self._turn = turn
            self._forget()

    def picture(self, turn: float | None = None) -> Pixels:
        """Take a picture.

        Parameters
        ----------
        turn : float, optional
            Turn the rod there first, rad.

        Returns
        -------
        (height, width, 3) uint8
            sRGB.
        """
        display = tone.display_light(self.radiance(turn) * tone.EXPOSURE)
        levels = 255 * linear_to_srgb(display) + _dither(*self.size)
        return np.rint(np.clip(levels, 0, 255)).astype(np.uint8)

    def radiance(self, turn: float | None = None) -> Floats:
        """The same as linear light, (height, width, 3) float32."""
        if turn is not None:
            self.turn_to(turn)
        scene, lens = self._ready()
        boxes = self._boxes()
        guide = self._look(scene, lens, boxes, _EYES)
        width, height = self.size
        total = np.zeros((height, width, 3), np.float32)
        count = np.zeros((height, width, 1), np.float32)
        number = passes(self.samples)
        for done in range(number):
            now = min(_PASS, self.samples - done * _PASS)
            whole = done % _CARD_EVERY[self._denoise] == 0
            for box in [(0, 0, width, height)] if whole else boxes:
                left, upper, right, lower = box
                total[upper:lower, left:right] += now * self._traced(box, now)
                count[upper:lower, left:right] += now
            self.step(done + 1, number)
        light = total / count
        return denoised(light, guide.albedo, guide.normal) if self._denoise else light

    def estimate(self, size: tuple[int, int] | None = None, samples: int | None = None) -> float:
        """Seconds that a picture will take, from a small one taken now.

        The first picture finds its scene set by this; the others' own setting is counted.

        Parameters
        ----------
        size : (int, int), optional
            By default, that of the pictures to come.
        samples : int, optional
            By default, those of the pictures to come.
        """
        width, height = size or self.size
        scene, lens = self._ready()
        probe = self._small(_PROBE)
        little = replace(lens, size=probe)
        whole = (0, 0, *probe)
        start = time.perf_counter()
        found = self._look(scene, little, [whole], 1)
        boxes = _framed(found.on_rod, probe, 0)
        area = sum((right - left) * (lower - upper) for left, upper, right, lower in boxes)
        looked = (time.perf_counter() - start) * area / (probe[0] * probe[1])
        times = []
        for part in ([whole], boxes):
            start = time.perf_counter()
            for box in part:
                self._traced(box, _PASS, little)
            times.append(time.perf_counter() - start)
        number = passes(self.samples if samples is None else samples)
        with_card = -(-number // _CARD_EVERY[self._denoise])
        scale = width * height / (probe[0] * probe[1])
        tracing = with_card * times[0] + (number - with_card) * times[1]
        cleaning = _CLEANING * width * height if self._denoise else 0.0
        return self._setting + scale * (tracing + _EYES * looked) + cleaning

    def _forget(self) -> None:
        self._scene = None
        self._lens = None

    def _ready(self) -> tuple[Any, Lens]:
        if self._scene is not None and self._lens is not None:
            return self._scene, self._lens
        camera, size = self._camera, self.size
        every = _thinning(self.stage, pixel_of(camera, size))
        if every != self._every or not self._pieces:
            self._pieces = []
            self._pieces, self._every = rod(self.stage, every=every), every
        # The rod's frame has the stage's origin: only the turn is left to undo.
        around = np.eye(4)
        around[:3, :3] = self.stage.placing(self._turn)[:3, :3].T
        card = card_in_picture(self.stage.backdrop, camera, size[0] / size[1])
        start = time.perf_counter()
        scene = scene_of(self._pieces, around, self.stage.light, card)
        self._setting = time.perf_counter() - start
        focus = _nearest(scene, camera, around)
        self._scene = scene
        self._lens = Lens(camera, size, around, self._aperture * camera.distance, focus)
        return self._scene, self._lens

    def _small(self, side: int) -> tuple[int, int]:
        """The size of a picture of these proportions whose shorter side is `side` at most."""
        shrunk = min(1.0, side / min(self.size))
        width, height = (max(1, round(shrunk * full)) for full in self.size)
        return width, height

    def _boxes(self) -> list[Box]:
        """Parts of the picture that hold all of the rod."""
        scene, lens = self._ready()
        probe = self._small(_FINDER)
        found = self._look(scene, replace(lens, size=probe), [(0, 0, *probe)], 1)
        return _framed(found.on_rod, self.size, 2)

    def _look(self, scene: Any, lens: Lens, boxes: list[Box], eyes: int) -> Guides:
        films = {
            number: piece.under
            for number, piece in enumerate(self._pieces)
            if piece.under is not None
        }
        return guides(
            scene, lens.eyes(eyes, boxes), lens.size, films, len(self._pieces), lens.pixel
        )

    def _traced(self, box: Box, samples: int, lens: Lens | None = None) -> Floats:
        mi = engine()
        scene, own = self._ready()
        self._seed += 1
        path = mi.load_dict({"type": "path", "max_depth": _DEPTH, "rr_depth": _ROULETTE})
        sensor = (lens or own).sensor(box)
        return np.array(
            mi.render(scene, sensor=sensor, integrator=path, spp=samples, seed=self._seed)
        )


def _dither(width: int, height: int) -> NDArray[np.float64]:
    """Half a step of noise, fixed to the picture: keeps wide dark gradients from banding.

    Jimenez 2014, "Next generation post processing in Call of Duty", as the live picture has it.
    """
    x, y = np.arange(width) + 0.5, np.arange(height)[:, None] + 0.5
    noise = (52.9829189 * ((0.06711056 * x + 0.00583715 * y) % 1)) % 1
    return np.asarray(noise[..., None] - 0.5)


def _thinning(stage: Stage, pixel: float) -> int:
    """Take every so many angles of a wrap's grid, by powers of two, as pixels of `pixel` mm ask."""
    every = 1
    surfaces = [wrap.surface for wrap in stage.wraps]
    steps = [2 * np.pi * float(one.radius.mean()) / one.theta.size for one in surfaces]
    while every < _MOST_THINNED and 2 * every * max(steps, default=pixel) <= _STEP * pixel:
        every *= 2
    return every


def _nearest(scene: Any, camera: Camera, around: NDArray[np.float64]) -> float:
    """Distance from the camera to the first thing in its line of sight, mm.

    That of the target, if nothing stands before it.
    """
    mi = engine()
    place = around[:3, :3] @ np.array(camera.position) + around[:3, 3]
    ahead = np.subtract(camera.target, camera.position) / camera.distance
    ray = mi.Ray3f(place.tolist(), (around[:3, :3] @ ahead).tolist())
    return min(float(scene.ray_intersect(ray).t), camera.distance)


def _framed(on_rod: NDArray[np.bool_], size: tuple[int, int], more: int) -> list[Box]:
    """Boxes of a picture of `size`, in upright strips, that hold all of the rod.

    `on_rod` may be smaller than the picture; `more` of its pixels are left round the rod.
    """
    height, width = on_rod.shape
    across, down = size[0] / width, size[1] / height
    found = []
    edges = np.unique(np.linspace(0, width, _STRIPS + 1).astype(int)).tolist()
    for left, right in pairwise(edges):
        rows = np.flatnonzero(on_rod[:, max(left - more, 0) : right + more].any(axis=1))
        if rows.size:
            upper, lower = max(int(rows[0]) - more, 0), min(int(rows[-1]) + more + 1, height)
            box = (left * across, upper * down, right * across, lower * down)
            a, b, c, d = (round(edge) for edge in box)
            found.append((a, b, c, d))
    return found
