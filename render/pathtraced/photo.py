"""The photo: a stage path-traced by Mitsuba.

It shows the same stage as the live picture and computes what the live picture approximates: rows of
thread are ridges, the finish is a dielectric body, the card receives light and shadow from what
stands on it, and the lens has an aperture. On a processor it takes up to a minute where the live
picture takes a second.

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
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import count
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometry.array_blocks import over_blocks
from materials.colour import linear_to_srgb
from render.common.closing import Closing
from render.pathtraced.denoise import available, denoised
from render.pathtraced.denoiser_guides import Guides, guides
from render.pathtraced.engine import engine, make_opaque, selected_engine
from render.pathtraced.engines import Engine
from render.pathtraced.lens import Box, Lens, pixel_of
from render.pathtraced.scene import LitScene, Piece, rod_pieces
from render.pathtraced.tracing import Tracer, boxes_around, tracer_for
from scenes.light import tone
from scenes.stage.backdrop import card_in_picture
from scenes.stage.camera import Camera
from scenes.stage.stage import Stage

__all__ = ["SAMPLES", "Growth", "PhotoScene", "developed"]

Pixels = NDArray[np.uint8]
Floats = NDArray[np.float32]
Step = Callable[[int, int], None]

SAMPLES = 64
"""Paths through each pixel of the rod; after denoising no grain is visible."""

_PASS = {Engine.GPU: 16, Engine.LLVM: 4, Engine.SCALAR: 4}
"""Samples a pixel of one pass; progress is reported, and work can be cancelled, between passes. A
GPU takes as long to begin a pass as to trace some millions of paths."""

_PATHS = {Engine.GPU: 1 << 24, Engine.LLVM: 1 << 18, Engine.SCALAR: 0}
"""Paths that a pass may have without taking long: passes of small pictures have more samples."""

_LEAST_PASSES = 8
"""Passes that a picture is not to have fewer of for that."""

_CARD_EVERY = {True: 8, False: 4}
"""Passes for each one that includes the card, by whether the picture is denoised. The card is
smooth and needs fewer samples than the rod."""

_APERTURE = 1 / 200
"""Radius of the lens over its distance from the target: about f/16 on a camera whose picture the
rod fills."""

_GUIDE_EYES = {True: 4, False: 1}
"""Points on the lens from which the guides are traced, by whether the picture is denoised; if not,
they only say where the rod is."""

_PROBE = 180
"""Shorter side of the small picture that an estimate is made from, pixels."""

_DENOISING = 6e-6
"""Seconds a pixel that denoising takes on two cores, measured."""

_WIDEST_STEP = 1.2
_MOST_STRIDE = 4
"""Widest step between the angles of a wrap, pixels, and the greatest stride over its angles."""

_FINDER = 180
"""Shorter side of the small picture in which the rod is located, pixels."""


@dataclass(frozen=True, slots=True)
class Growth:
    """How far a picture has come.

    Parameters
    ----------
    done, total : int
        Passes done and in all.
    paths : int
        Paths through each pixel of the rod so far.
    light : (height, width, 3) float32
        Scene radiance, linear sRGB; not to be kept beyond the next pass.
    finished : bool
        Whether it is the picture itself.
    denoised : bool
    """

    done: int
    total: int
    paths: int
    light: Floats
    finished: bool = False
    denoised: bool = False


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

    Notes
    -----
    It works in the engine that is selected when it is made (`render.pathtraced.engine`). While the
    stage stays, turning the rod or moving the camera moves light and card around the rod, whose
    meshes are made once. On a processor the search tree is built again: Embree has one for all
    shapes, and in a group of their own vertex colours come out wrong.
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
        self.engine = selected_engine()
        self.size = size
        self.samples = samples
        self.step = step
        self._aperture = aperture
        self._denoise = denoise and available()
        self._pieces: list[Piece] = []
        self._every = 0
        self._seeds = count(1)
        self._setup_seconds = 0.0
        self._scene: LitScene | None = None
        self._lens: Lens | None = None
        self.stage = stage
        self._camera = stage.camera
        self._turn = stage.turn

    def close(self) -> None:
        """Release the scene and its memory."""
        self._scene, self._lens, self._pieces = None, None, []

    def show_stage(self, stage: Stage) -> None:
        """Replace the stage; camera and turn stay as they are.

        The meshes of the rod stay too if the stage has the very same wraps and bodies, as
        `Stage.with_light` keeps them.

        Parameters
        ----------
        stage : Stage
        """
        before, self.stage, self._lens = self.stage, stage, None
        same_rod = before.wraps is stage.wraps and before.bodies is stage.bodies
        if not same_rod:
            self._pieces = []
        if not (same_rod and _same_light(before, stage)):
            self._scene = None

    def resize(self, size: tuple[int, int], samples: int) -> None:
        """Make later pictures of another size, or with another number of paths.

        Parameters
        ----------
        size : (int, int)
            Width and height, pixels.
        samples : int
            Paths through each pixel of the rod.
        """
        if size != self.size:
            self.size, self._lens = size, None
        self.samples = samples

    def look_from(self, camera: Camera) -> None:
        """Move the camera.

        Parameters
        ----------
        camera : Camera
        """
        if camera != self._camera:
            self._camera = camera
            self._lens = None

    def turn_to(self, turn: float) -> None:
        """Turn the rod about its axis.

        Parameters
        ----------
        turn : float
            Angle, rad.
        """
        if turn != self._turn:
            self._turn = turn
            self._lens = None

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
        return developed(self.radiance(turn))

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
        *_, last = self.growing(turn)
        return last.light

    def growing(self, turn: float | None = None) -> Iterator[Growth]:
        """Render a picture pass by pass.

        Parameters
        ----------
        turn : float, optional
            Turn the rod to this angle first, rad.

        Yields
        ------
        Growth
            One after each pass, and the finished picture.
        """
        if turn is not None:
            self.turn_to(turn)
        scene, lens = self._prepared()
        boxes = self._rod_boxes(scene, lens)
        guided = self._guided(scene, boxes, self.size)
        guide = self._guides(scene, lens, guided, _GUIDE_EYES[self._denoise])
        tracer = tracer_for(scene.mitsuba, lens, guide, boxes)
        width, height = self.size
        total = np.zeros((height, width, 3), np.float32)
        traced = np.zeros((height, width, 1), np.float32)
        number, most = self.passes(), self._pass_samples(self.samples)
        for done in range(number):
            paths = min(most, self.samples - done * most)
            whole = done % _CARD_EVERY[self._denoise] == 0
            for index, light in tracer.trace(whole, paths, self._seeds):
                total[index] += paths * light
                traced[index] += paths
            self.step(done + 1, number)
            yield Growth(done + 1, number, done * most + paths, total / traced)
        light = total / traced
        if self._denoise:
            on_gpu = self.engine is Engine.GPU
            light = denoised(light, guide.albedo, guide.normal, on_gpu=on_gpu)
        yield Growth(number, number, self.samples, light, finished=True, denoised=self._denoise)

    @property
    def denoising(self) -> float:
        """About how many seconds it takes on two cores to denoise a picture; 0 if none is."""
        return _DENOISING * self.size[0] * self.size[1] if self._denoise else 0.0

    def passes(self, samples: int | None = None) -> int:
        """Number of passes of a picture: how often `step` is called.

        Parameters
        ----------
        samples : int, optional
            Paths through each pixel of the rod; by default those of the scene.
        """
        samples = self.samples if samples is None else samples
        return -(-samples // self._pass_samples(samples))

    def _pass_samples(self, samples: int) -> int:
        """Samples a pixel of one pass of a picture with `samples` in all."""
        affordable = _PATHS[self.engine] // (self.size[0] * self.size[1])
        return max(_PASS[self.engine], min(affordable, samples // _LEAST_PASSES))

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
        if self.engine.on_arrays:
            self._guides(scene, probe_lens, [whole], 1)  # compiles the program
        start = time.perf_counter()
        probe_guides = self._guides(scene, probe_lens, [whole], 1)
        boxes = boxes_around(probe_guides.on_rod, probe, 0)
        guiding = time.perf_counter() - start
        if not self.engine.on_arrays:
            guided = self._guided(scene, boxes, probe)
            guiding *= sum((c - a) * (d - b) for a, b, c, d in guided) / (probe[0] * probe[1])
        tracer = tracer_for(scene.mitsuba, probe_lens, probe_guides, boxes)
        samples = self.samples if samples is None else samples
        beginning, on_rod, on_all = self._pass_times(tracer, self._pass_samples(samples))
        number = self.passes(samples)
        with_card = -(-number // _CARD_EVERY[self._denoise])
        scale = width * height / (probe[0] * probe[1])
        tracing = scale * (with_card * on_all + (number - with_card) * on_rod) + number * beginning
        # What begins a pass begins a round of guides too, whatever its size.
        fixed = min(beginning, guiding)
        guiding = fixed + scale * (guiding - fixed)
        denoising = self.denoising * width * height / (self.size[0] * self.size[1])
        return self._setup_seconds + tracing + _GUIDE_EYES[self._denoise] * guiding + denoising

    def _pass_times(self, tracer: Tracer, samples: int) -> tuple[float, float, float]:
        """Seconds to begin a pass, and to trace `samples` through the rod and through the whole."""

        def seconds(whole: bool, samples: int) -> float:
            start = time.perf_counter()
            for _ in tracer.trace(whole, samples, self._seeds):
                pass
            return time.perf_counter() - start

        paths = _PASS[self.engine]
        if not self.engine.on_arrays:
            return 0.0, seconds(False, samples), seconds(True, samples)
        seconds(False, 1)  # compiles the program
        beginning = seconds(False, 1)
        on_rod, on_all = (
            max(seconds(whole, paths) - beginning, 0.0) * samples / (paths - 1)
            for whole in (False, True)
        )
        return beginning, on_rod, on_all

    def _prepared(self) -> tuple[LitScene, Lens]:
        if self._scene is not None and self._lens is not None:
            return self._scene, self._lens
        camera, size = self._camera, self.size
        every = _stride(self.stage, pixel_of(camera, size))
        if every != self._every or not self._pieces:
            self._scene, self._pieces = None, []
            self._pieces, self._every = rod_pieces(self.stage, every=every), every
        # The rod's frame has the stage's origin: only the rotation has to be undone.
        around = np.eye(4)
        around[:3, :3] = self.stage.transform(self._turn)[:3, :3].T
        card = card_in_picture(self.stage.backdrop, camera, size[0] / size[1])
        start = time.perf_counter()
        if self._scene is None or not self._scene.move(around, card):
            self._scene = None  # before the next one takes its memory
            self._scene = LitScene(self._pieces, self.stage.light, around, card)
        self._setup_seconds = time.perf_counter() - start
        focus = _nearest(self._scene.mitsuba, camera, around)
        self._lens = Lens(camera, size, around, self._aperture * camera.distance, focus)
        return self._scene, self._lens

    def _reduced(self, side: int) -> tuple[int, int]:
        """Size of a picture of the same proportions whose shorter side is at most `side` pixels."""
        shrunk = min(1.0, side / min(self.size))
        width, height = (max(1, round(shrunk * full)) for full in self.size)
        return width, height

    def _rod_boxes(self, scene: LitScene, lens: Lens) -> list[Box]:
        """Parts of the picture that together contain the rod."""
        if self.engine.on_arrays:
            return [(0, 0, *self.size)]
        probe = self._reduced(_FINDER)
        probe_guides = self._guides(scene, replace(lens, size=probe), [(0, 0, *probe)], 1)
        return boxes_around(probe_guides.on_rod, self.size, 2)

    def _guided(self, scene: LitScene, boxes: list[Box], size: tuple[int, int]) -> list[Box]:
        """Parts of a picture for which guides are made: of those with the rod, or of all of it.

        The denoiser keeps a pattern of the card only where it is told its colours.
        """
        return [(0, 0, *size)] if self._denoise and scene.is_patterned else boxes

    def _guides(self, scene: LitScene, lens: Lens, boxes: list[Box], eyes: int) -> Guides:
        seen = lens.eyes(eyes, boxes)
        return guides(
            scene.mitsuba,
            seen,
            lens.size,
            scene.films,
            scene.card,
            lens.pixel,
            surfaces=self._denoise,
            patterned=scene.is_patterned,
        )


def developed(light: Floats) -> Pixels:
    """The picture of scene radiance.

    Parameters
    ----------
    light : (height, width, 3) float32
        Linear sRGB, before exposure and tone curve.

    Returns
    -------
    (height, width, 3) uint8
        sRGB.
    """
    height, width = light.shape[:2]
    noise = _dither(width, height)
    pixels = np.empty(light.shape, np.uint8)

    def work(rows: slice) -> None:
        display = tone.display_light(light[rows] * tone.EXPOSURE)
        levels = 255 * linear_to_srgb(display) + noise[rows]
        pixels[rows] = np.rint(np.clip(levels, 0, 255))

    over_blocks(work, slice(0, height), width)
    return pixels


def _same_light(one: Stage, other: Stage) -> bool:
    """Whether two stages of the same rod have the same light and card."""
    return one.backdrop is other.backdrop and np.array_equal(one.light, other.light)


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
    direction = around[:3, :3] @ ahead
    ray = mi.Ray3f(mi.Point3f(*place.tolist()), mi.Vector3f(*direction.tolist()))
    make_opaque(ray)
    return min(float(np.ravel(np.array(scene.ray_intersect(ray).t))[0]), camera.distance)
