"""Bands of a trim in a picture: the colour of each band and of what it touches.

A band is a group of neighbouring threads of one kind, or all threads of a grade, whose shades are
meant to run into each other. Its place on the wrap follows from its builder, its place in the
picture from the camera.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby, pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from geometry.layers.trim import Ring, StripEdge
from materials.appearance import thread_appearance
from materials.colour import from_bytes
from materials.thread import Thread
from scenes.building.build import Wrap
from scenes.kinds.builder import EdgeBuilder
from scenes.stage.stage import Stage

__all__ = ["Band", "BandContact", "band_contacts"]

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Index = NDArray[np.int16]
Line = StripEdge | Ring

_LEAST_FACING = 0.9
"""Least cosine towards the eye of a measured place, relative to the greatest of all places."""

_ACROSS = (-0.3, 0.0, 0.3)
"""Places across a thread at which it is sampled, in diameters from its crest."""

_NEIGHBOUR_WIDTHS = (0.25, 0.75)
"""Bounds of the width of cover that counts as the neighbour of a band, mm."""

_CLEARANCE = 0.09
"""Distance from a band to the nearest sample of its neighbour, mm: past a pixel of both."""

_NEIGHBOUR_SAMPLES = 6


@dataclass(frozen=True, slots=True)
class Band:
    """Threads side by side that look like one.

    Parameters
    ----------
    threads : tuple of Thread
        From the relief outwards.
    inner, outer : float
        Sides of the band, mm from the edge of the relief outwards.
    words : str
        Name of the band in a sentence.
    """

    threads: tuple[Thread, ...]
    inner: float
    outer: float
    words: str

    @property
    def width(self) -> float:
        """Width across the run, mm."""
        return self.outer - self.inner


@dataclass(frozen=True, slots=True)
class BandContact:
    """A band and what it touches, in a picture.

    Parameters
    ----------
    trim : str
        Path of the trim in the design.
    band : Band
    against : str
        What the band touches, in words.
    same_trim : bool
        Whether it touches a band of the same trim.
    width : float
        Width of the narrower of the two bands, mm.
    pixels : float
        Width in the picture, pixels.
    band_light, neighbour_light : (m, 3) float
        Linear RGB of the band and of what it touches, place by place.
    """

    trim: str
    band: Band
    against: str
    same_trim: bool
    width: float
    pixels: float
    band_light: Array
    neighbour_light: Array


def band_contacts(
    wrap: Wrap, stage: Stage, picture: NDArray[np.uint8], turn: float | None = None
) -> list[BandContact]:
    """List every band of every trim with each neighbour, from the relief outwards.

    Parameters
    ----------
    wrap : Wrap
    stage : Stage
        Stage whose camera took the picture.
    picture : (h, w, 3) uint8
        sRGB.
    turn : float, optional
        Turn of the rod, rad; the turn of the stage if not given.

    Returns
    -------
    list of Touching
        Places of both edges together, only those that face the eye and show the thread of the
        band. Grips and guides in front of the wrap are not taken into account.
    """
    view = _View(wrap, stage, picture, turn)
    found: list[BandContact] = []
    for builder in wrap.plan.builders:
        if isinstance(builder, EdgeBuilder):
            found += _Trim(view, builder).contacts()
    return found


@dataclass(frozen=True, slots=True)
class _Samples:
    """Mean colour across some width, visibility and material, along a line.

    Arrays of (k, nt, 3), (k, nt) and (k, nt): k passes of the line, nt angles.
    """

    colour: Array
    seen: Mask
    material: Index


class _View:
    """A picture that is sampled by places on the wrap."""

    def __init__(
        self, wrap: Wrap, stage: Stage, picture: NDArray[np.uint8], turn: float | None
    ) -> None:
        self.wrap = wrap
        self._outside = wrap.outside or wrap.surface
        self._light = from_bytes(picture)
        self._camera = stage.camera
        self._placing = stage.transform(turn)
        ends = np.repeat(wrap.surface.z[[0, -1], None], wrap.surface.theta.size, axis=1)
        self._turned_enough = _LEAST_FACING * max(0.3, float(self._facing(ends).max()))

    def sample(self, line: Line, offset: float) -> _Samples:
        """What is seen `beside` mm outside a line, along every generator."""
        plan, surface = self.wrap.plan, self.wrap.surface
        z = line.run(surface, offset).z
        start, end = (plan.start, plan.end) if isinstance(line, StripEdge) else plan.wound_span
        station = np.rint((z - surface.z[0]) / surface.step).astype(np.intp)
        seen = (z > start) & (z < end) & (station >= 0) & (station < surface.z.size)
        column = np.broadcast_to(np.arange(surface.theta.size), z.shape)
        material = surface.material[np.clip(station, 0, surface.z.size - 1), column]
        place, depth = self._camera.project(self._points(z), self._size)
        seen &= (depth > 0) & (self._facing(z) >= self._turned_enough)
        seen &= ((place >= 1) & (place <= np.array(self._size) - 1)).all(axis=-1)
        colour = np.zeros((*z.shape, 3))
        x, y = place[seen].T - 0.5
        for channel in range(3):
            colour[seen, channel] = map_coordinates(self._light[..., channel], (y, x), order=1)
        return _Samples(colour, seen, material)

    def pixels(self, line: Line, band: Band, where: Mask) -> float:
        """Median width of a band in the picture, pixels; 0 if it is invisible."""
        if not where.any():
            return 0.0
        near, far = (
            self._camera.project(self._points(line.run(self.wrap.surface, at).z), self._size)[0]
            for at in (band.inner, band.outer)
        )
        run = np.gradient(near, axis=1)
        with np.errstate(invalid="ignore"):  # where the line runs straight away from the eye
            run /= np.linalg.norm(run, axis=-1, keepdims=True)
        apart = far - near
        across = np.abs(apart[..., 0] * run[..., 1] - apart[..., 1] * run[..., 0])
        return float(np.median(across[where]))

    @property
    def _size(self) -> tuple[int, int]:
        height, width, _ = self._light.shape
        return width, height

    def _points(self, z: Array) -> Array:
        """Places on the outside of the wrap in the stage frame, (k, nt, 3) mm."""
        outside = self._outside
        columns = np.broadcast_to(np.arange(outside.theta.size, dtype=np.float64), z.shape)
        stations = (z - outside.z[0]) / outside.step
        radius = map_coordinates(outside.radius, (stations, columns), order=1, mode="nearest")
        around = (np.cos(outside.theta), np.sin(outside.theta))
        points = np.stack((radius * around[0], radius * around[1], z), axis=-1)
        return np.asarray(points @ self._placing[:3, :3].T + self._placing[:3, 3])

    def _facing(self, z: Array) -> Array:
        """Cosine between the radial direction and the direction to the eye, (k, nt)."""
        theta = self._outside.theta
        radial = np.stack((np.cos(theta), np.sin(theta), np.zeros_like(theta)), axis=-1)
        out = radial @ self._placing[:3, :3].T
        eye = np.array(self._camera.position) - self._points(z)
        return np.asarray((out * eye).sum(axis=-1) / np.linalg.norm(eye, axis=-1))


class _Trim:
    """A trim in the picture."""

    def __init__(self, view: _View, trim: EdgeBuilder[Any]) -> None:
        self._view = view
        self._plan = view.wrap.plan
        self._path = trim.path
        self._lines = trim.lines_at_rest
        self._bands = list(
            _bands(trim.ordered_threads, trim.layer.offset, graded=trim.layer.graded)
        )
        self._samples = [
            [self._band_samples(line, band) for line in self._lines] for band in self._bands
        ]

    def contacts(self) -> list[BandContact]:
        """List its bands with their neighbours, from the relief outwards."""
        pairs = list(pairwise(zip(self._bands, self._samples, strict=True)))
        return [
            self._at_edge(self._bands[0], self._samples[0], -1),
            *(self._joined(*first, *second) for first, second in pairs),
            self._at_edge(self._bands[-1], self._samples[-1], 1),
        ]

    def _band_samples(self, line: Line, band: Band) -> _Samples:
        wrap, beside, samples = self._view.wrap, band.inner, []
        for thread in band.threads:
            index = wrap.palette.index(thread_appearance(thread, wrap.plan.finished))
            for x in _ACROSS:
                look = self._view.sample(line, beside + thread.diameter_mm * (0.5 + x))
                # Another layer may cover the thread, so its crest must show its material.
                if x == 0:
                    look.seen[...] &= look.material == index
                samples.append(look)
            beside += thread.diameter_mm
        return _mean(samples)

    def _joined(
        self, band: Band, samples: list[_Samples], following: Band, next_samples: list[_Samples]
    ) -> BandContact:
        narrow = min(band, following, key=lambda candidate: candidate.width)
        both = [a.seen & b.seen for a, b in zip(samples, next_samples, strict=True)]
        return self._contact(
            band, following.words, narrow, both, samples, next_samples, same_trim=True
        )

    def _at_edge(self, band: Band, samples: list[_Samples], side: int) -> BandContact:
        """A band with the neighbour of the trim, towards the relief (-1) or away from it (1)."""
        width = float(np.clip(band.width, *_NEIGHBOUR_WIDTHS))
        edge = band.inner if side < 0 else band.outer
        beside = edge + side * np.linspace(_CLEARANCE, width, _NEIGHBOUR_SAMPLES)
        others = [_alike([self._view.sample(line, at) for at in beside]) for line in self._lines]
        both = [a.seen & b.seen for a, b in zip(samples, others, strict=True)]
        materials = np.concatenate([b.material[seen] for b, seen in zip(others, both, strict=True)])
        assert self._plan.cover is not None  # a trim lies beside a relief, which has a cover
        cover = self._view.wrap.palette.index(self._plan.look_of(self._plan.cover.thread))
        mostly = int(np.bincount(materials).argmax()) if materials.size else cover
        both = [seen & (b.material == mostly) for b, seen in zip(others, both, strict=True)]
        against = f"the {self._view.wrap.palette[mostly].name}"
        if mostly == cover:
            against = "the cover on the relief" if side < 0 else "the cover on the flat"
        return self._contact(band, against, band, both, samples, others, same_trim=False)

    def _contact(
        self,
        band: Band,
        against: str,
        narrow: Band,
        both: list[Mask],
        samples: list[_Samples],
        others: list[_Samples],
        *,
        same_trim: bool,
    ) -> BandContact:
        pixels = [
            self._view.pixels(line, narrow, seen)
            for line, seen in zip(self._lines, both, strict=True)
        ]
        band_light, neighbour_light = (
            np.concatenate([look.colour[seen] for look, seen in zip(side, both, strict=True)])
            for side in (samples, others)
        )
        return BandContact(
            self._path,
            band,
            against,
            same_trim,
            narrow.width,
            max(pixels),
            band_light,
            neighbour_light,
        )


def _bands(threads: tuple[Thread, ...], offset: float, *, graded: bool) -> Iterator[Band]:
    """Yield the bands of a trim from the relief outwards."""
    groups = [threads] if graded else [tuple(g) for _, g in groupby(threads, lambda t: t.name)]
    for group in groups:
        outer = offset + sum(thread.diameter_mm for thread in group)
        kind = "line" if len(group) <= 3 else "band"
        name = "graded" if graded else group[0].name
        yield Band(group, offset, outer, f"the {len(group)}-thread {name} {kind}")
        offset = outer


def _alike(samples: list[_Samples]) -> _Samples:
    """Mean of several samples outwards, of those with the material of the nearest one."""
    first = samples[0]
    counted = np.array([look.seen & (look.material == first.material) for look in samples])
    total = np.einsum("nkt,nktc->ktc", counted, np.array([look.colour for look in samples]))
    return _Samples(
        total / np.maximum(counted.sum(axis=0), 1)[..., None], first.seen, first.material
    )


def _mean(samples: list[_Samples]) -> _Samples:
    """Mean of several samples across a width; visible where all of them are."""
    return _Samples(
        np.mean([look.colour for look in samples], axis=0),
        np.logical_and.reduce([look.seen for look in samples]),
        samples[len(samples) // 2].material,
    )
