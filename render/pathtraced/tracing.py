"""Paths traced through the pixels of a picture, in the way that suits the engine.

Mitsuba's own loop over the pixels of a box is the fastest without arrays. An engine on arrays
compiles a program for each box, but none for another choice of pixels, which are an array too.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from importlib import import_module
from itertools import pairwise
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter

from render.pathtraced.denoiser_guides import Guides
from render.pathtraced.engine import engine, selected_engine
from render.pathtraced.engines import Engine
from render.pathtraced.lens import Box, Lens

__all__ = ["Tracer", "boxes_around", "tracer_for"]

Floats = NDArray[np.float32]
Index = tuple[Any, Any]
"""Rows and columns of some pixels of a picture, as NumPy takes them."""

_DEPTH = 12
"""Most bounces of a path: light inside the finish meets the thread several times."""

_ROULETTE = 3
"""Bounce from which Russian roulette may end a path."""

_STRIPS = 10
"""Vertical strips into which the picture is divided to enclose the rod closely."""

_BESIDE = 2
"""Pixels around the rod that are traced like it, besides those over which the lens blurs it."""

_MOST_AT_ONCE = {Engine.GPU: 1 << 24, Engine.LLVM: 1 << 19}
"""Most paths that are computed together, by engine. A path needs about 60 bytes; on a processor
they take half a second, after which Ctrl-C can end the work."""


class Tracer(Protocol):
    """Traces paths through a picture or its part with the rod."""

    def trace(self, whole: bool, samples: int, seeds: Iterator[int]) -> Iterator[tuple[Index, Any]]:
        """Trace the same number of paths through each pixel.

        Parameters
        ----------
        whole : bool
            All of the picture; otherwise the part with the rod.
        samples : int
            Paths through each pixel.
        seeds : iterator of int
            Numbers that are used once each.

        Yields
        ------
        index : (rows, columns)
            Some pixels.
        light : (..., 3) float32
            Their mean radiance, linear sRGB.
        """


def tracer_for(scene: Any, lens: Lens, guide: Guides, boxes: list[Box]) -> Tracer:
    """Make what traces a picture in the selected engine.

    Parameters
    ----------
    scene : Mitsuba scene
    lens : Lens
    guide : Guides
        Of the same picture.
    boxes : list of Box
        Parts of the picture that together contain the rod.
    """
    kind = selected_engine()
    if not kind.on_arrays:
        return _Boxes(scene, lens, boxes)
    side = 2 * (_BESIDE + round(max(lens.blur(depth) for depth in guide.depths))) + 1
    around = maximum_filter(guide.on_rod, side, mode="constant")
    return _Pixels(scene, lens, around, _MOST_AT_ONCE[kind])


@dataclass(frozen=True, slots=True)
class _Boxes:
    scene: Any
    lens: Lens
    boxes: list[Box]

    def trace(self, whole: bool, samples: int, seeds: Iterator[int]) -> Iterator[tuple[Index, Any]]:
        mi = engine()
        for box in [(0, 0, *self.lens.size)] if whole else self.boxes:
            left, upper, right, lower = box
            light = mi.render(
                self.scene,
                sensor=self.lens.sensor(box),
                integrator=_integrator(mi),
                spp=samples,
                seed=next(seeds),
            )
            yield (slice(upper, lower), slice(left, right)), np.array(light)


@dataclass(frozen=True, slots=True)
class _Pixels:
    scene: Any
    lens: Lens
    on_rod: NDArray[np.bool_]
    most: int

    def trace(self, whole: bool, samples: int, seeds: Iterator[int]) -> Iterator[tuple[Index, Any]]:
        where = np.ones_like(self.on_rod) if whole else self.on_rod
        rows, columns = (axis.astype(np.uint32) for axis in np.nonzero(where))
        # Rounds of equal length, so that one program suits all; the last one is filled up.
        rounds = max(1, -(-len(rows) * samples // self.most))
        length = max(1, -(-len(rows) // rounds))
        sensor = self.lens.sensor()
        for first in range(0, len(rows), length):
            part = np.minimum(np.arange(first, first + length), len(rows) - 1)
            light = self._traced(sensor, rows[part], columns[part], samples, next(seeds))
            count = min(length, len(rows) - first)
            if count == where.size:  # all of the picture at once
                yield (slice(None), slice(None)), light.reshape(*where.shape, 3)
                return
            kept = slice(first, first + count)
            yield (rows[kept], columns[kept]), light[:count]

    def _traced(
        self,
        sensor: Any,
        rows: NDArray[np.uint32],
        columns: NDArray[np.uint32],
        samples: int,
        seed: int,
    ) -> Floats:
        mi, dr = engine(), import_module("drjit")
        number = len(rows) * samples
        sampler = mi.load_dict({"type": "independent"})
        sampler.seed(seed, number)
        # Opaque numbers are data to the compiled program: others would each make a new one.
        pixel = dr.arange(mi.UInt32, number) // dr.opaque(mi.UInt32, samples)
        corner = mi.Point2f(
            dr.gather(mi.UInt32, mi.UInt32(columns), pixel),
            dr.gather(mi.UInt32, mi.UInt32(rows), pixel),
        )
        width, height = (dr.opaque(mi.Float, side) for side in self.lens.size)
        place = (corner + sampler.next_2d()) / mi.Vector2f(width, height)
        ray, weight = sensor.sample_ray(0.0, 0.0, place, sampler.next_2d())
        light = weight * _integrator(mi).sample(self.scene, sampler, ray)[0]
        dr.eval(light)
        mean = dr.block_sum(light, samples) / samples
        return np.array(mean, np.float32).T.reshape(-1, 3)


def _integrator(mi: Any) -> Any:
    return mi.load_dict({"type": "path", "max_depth": _DEPTH, "rr_depth": _ROULETTE})


def boxes_around(on_rod: NDArray[np.bool_], size: tuple[int, int], margin: int) -> list[Box]:
    """Boxes of a picture, in vertical strips, that together contain the rod.

    Parameters
    ----------
    on_rod : (h, w) bool
        Where the rod is seen; may be smaller than the picture.
    size : (int, int)
        Width and height of the picture, pixels.
    margin : int
        Pixels of `on_rod` that are added around the rod.
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
