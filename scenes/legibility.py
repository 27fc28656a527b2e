"""Whether the lines of a trim will be seen: measured in the picture, judged by what eyes can do.

Every band of a trim (neighbouring threads of one kind) is found in the picture from where its
threads were laid, and so is what it touches. From the colours found there come two figures for
print and one verdict:

* contrast: how much more light the band sends than its neighbour, (Y - Y') / (Y + Y'), as the
  median over all places where both are seen, so that a neighbour that glitters now brighter and
  now darker than the band hides it;
* ΔE00 between the median colours.

**The rule.** At a distance D the band is one bar of a pattern of bars of its own width, 1.5 cycles
wide, on a line 2 degrees long. The eye needs a modulation of one over its contrast sensitivity
there (`materials.eye`, Barten 2003) to see it half of the time. Colour alone helps too, as far as
the eye's coarser colour channels leave any: ΔE00 at equal lightness after their blur, against 1.
`reserve` is what is there over what is needed, the larger of the two. Below 1 the band disappears;
below 3, the reserve of contrast that Whittaker & Lovie-Kitchin 1993 ("Visual requirements for
reading", Optom. Vis. Sci. 70, 54; from memory) found people to need for making out single signs,
it is hard to make out. One arc minute is what 20/20 vision resolves.

Two things about the eye are settled here: white in the picture is a white card on a bench lit by
500 lx, and the eye's own scatter lays a veil of `VEIL` of the wrap's mean light over everything.
"""

from dataclasses import dataclass, replace
from itertools import groupby, pairwise
from typing import Self

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from geometry.trim import Ring, StripEdge
from materials.appearance import thread_appearance
from materials.colour import linear_to_lab, luminance, srgb_to_linear
from materials.difference import delta_e_2000
from materials.eye import ARC_MINUTE, colour_kept, contrast_sensitivity, visual_angle
from materials.thread import Thread
from scenes.build import Wrap
from scenes.camera import ARMS_LENGTH
from scenes.layers import SeamTrim, layer_path
from scenes.stage import Stage

__all__ = ["ENOUGH_PIXELS", "HARD_BELOW", "LOST_BELOW", "VEIL", "BandReport", "legibility"]

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

LOST_BELOW, HARD_BELOW = 1.0, 3.0
"""Reserves below which a band disappears, and is hard to make out."""

VEIL = 0.05
"""Stray light in the eye over the mean light of the wrap. The general disability glare equation
(CIE 146:2002, age 40) gives 6 % for a bright disc from half a degree to 5 degrees away from where
one looks; a rod at arm's length fills most of it."""

ENOUGH_PIXELS = 2.0
"""A band narrower than this in the picture is mixed with its neighbours and is not judged."""

_WHITE = 500 / np.pi
"""cd/m² of white: 500 lx, as a workbench should have (EN 12464-1, from memory)."""

_LINE_DEGREES = 2.0
"""How much of a seam is seen as one line: 22 mm at arm's length (from memory)."""

_FACING = 0.9
"""Places turned this much towards the eye, of the most that any place is, are measured."""

_FEWEST_PLACES = 30

_ACROSS = np.array((-0.3, 0.0, 0.3))
"""Where a thread is looked at, in diameters from its crest."""

_BESIDE = (0.25, 0.75)
"""Width of the cover beside a trim that counts as its neighbour: the trim's, within this, mm."""


@dataclass(frozen=True, slots=True)
class BandReport:
    """One band of a trim against one thing that it touches.

    Parameters
    ----------
    trim : str
        The trim's path in the design, such as ``trim``.
    thread : str
        Name of the band's thread.
    count : int
        Threads side by side.
    against : str
        What it touches, in words.
    width : float
        Of the band, or of its neighbour if that is a narrower band, mm.
    arc_minutes : float
        The same at the distance that it is judged for.
    contrast : float
        -1 to 1; above 0 where the band is the lighter.
    delta_e : float
        ΔE00.
    needed : float
        Least contrast that the eye would see.
    reserve : float
        How many times what the eye needs there is, by contrast or by colour.
    pixels : float
        Width in the picture.
    places : int
        How many places were measured.
    sentence : str or None
        What to tell the builder, if the band will be lost or nearly so.
    """

    trim: str
    thread: str
    count: int
    against: str
    width: float
    arc_minutes: float
    contrast: float
    delta_e: float
    needed: float
    reserve: float
    pixels: float
    places: int
    sentence: str | None

    @property
    def judged(self) -> bool:
        """Whether the picture shows enough of the band for a verdict."""
        return self.places >= _FEWEST_PLACES and self.pixels >= ENOUGH_PIXELS


def legibility(
    wrap: Wrap,
    stage: Stage,
    picture: NDArray[np.uint8],
    turn: float | None = None,
    *,
    distance: float = ARMS_LENGTH,
) -> list[BandReport]:
    """Measure every band of every trim against what it touches.

    Parameters
    ----------
    wrap : Wrap
    stage : Stage
        Its camera took the picture.
    picture : (h, w, 3) uint8
        sRGB; the whole wrap or a part of it, near enough that a band is two pixels wide.
    turn : float, optional
        How far the rod was turned, rad; the stage's own turn if not given.
    distance : float
        From which the wrap is to be judged, mm.

    Returns
    -------
    list of BandReport
        For each trim from the relief outwards: the innermost band against the cover, each band
        against the next, the outermost against the cover or the blank. Both edges count together.
        Where there are too few places or pixels, `judged` is False and there is no sentence.
    """
    view = _View(wrap, stage, picture, turn)
    layers = wrap.design.layers
    found: list[_Pair] = []
    for index, layer in enumerate(layers):
        if isinstance(layer, SeamTrim):
            found += _pairs(view, layer, layer_path(layers, index))
    light = [luminance(side).ravel() for pair in found for side in (pair.band, pair.other)]
    veil = VEIL * float(np.concatenate(light).mean()) if sum(map(len, light)) else 0.0
    return [_report(pair, veil, distance) for pair in found]


@dataclass(frozen=True, slots=True)
class _Band:
    """Neighbouring threads of one kind, `inner` to `outer` mm from the relief's edge."""

    thread: Thread
    count: int
    inner: float
    outer: float

    @classmethod
    def of(cls, threads: tuple[Thread, ...], offset: float) -> list[Self]:
        """Every band of a trim, from the relief outwards."""
        bands = []
        for _, same in groupby(threads, key=lambda thread: thread.name):
            group = tuple(same)
            outer = offset + len(group) * group[0].diameter_mm
            bands.append(cls(group[0], len(group), offset, outer))
            offset = outer
        return bands

    @property
    def width(self) -> float:
        return self.outer - self.inner

    @property
    def words(self) -> str:
        """As it is called in a sentence."""
        kind = "line" if self.count <= 3 else "band"
        return f"the {self.count}-thread {self.thread.name} {kind}"


@dataclass(frozen=True, slots=True)
class _Pair:
    """Linear colours of a band and of what it touches, place by place, (m, 3) each."""

    trim: str
    what: _Band
    against: str
    joins: bool
    width: float
    pixels: float
    band: Array
    other: Array


class _View:
    """A picture that is looked at by places on the wrap."""

    def __init__(
        self, wrap: Wrap, stage: Stage, picture: NDArray[np.uint8], turn: float | None
    ) -> None:
        self.wrap = wrap
        self._outside = wrap.outside or wrap.surface
        self._light = srgb_to_linear(np.arange(256) / 255)[picture]
        self._camera = stage.camera
        self._placing = stage.placing(turn)
        surface = wrap.surface
        theta = np.broadcast_to(surface.theta, (2, surface.theta.size))
        ends = np.repeat(surface.z[[0, -1], None], surface.theta.size, axis=1)
        self._turned_enough = _FACING * max(0.3, float(self._facing(ends, theta).max()))

    def colours(self, z: Array) -> tuple[Array, Mask, NDArray[np.int16]]:
        """What is seen at distances `z` (k, nt) along every generator.

        Returns
        -------
        colour : (k, nt, 3) float
            Linear; 0 where nothing is seen.
        seen : (k, nt) bool
        material : (k, nt) int16
        """
        surface, size = self.wrap.surface, self._size
        theta = np.broadcast_to(surface.theta, z.shape)
        column = np.broadcast_to(np.arange(surface.theta.size), z.shape)
        station = np.rint((z - surface.z[0]) / surface.step).astype(np.intp)
        on_grid = (station >= 0) & (station < surface.z.size)
        material = surface.material[np.clip(station, 0, surface.z.size - 1), column]
        place, depth = self._camera.project(self._points(z, theta), size)
        seen = on_grid & (depth > 0) & (self._facing(z, theta) >= self._turned_enough)
        seen &= ((place >= 1) & (place <= np.array(size) - 1)).all(axis=-1)
        colour = np.zeros((*z.shape, 3))
        x, y = place[seen].T - 0.5
        for channel in range(3):
            # Sampled, not smoothed: a band is few pixels wide.
            colour[seen, channel] = map_coordinates(self._light[..., channel], (y, x), order=1)
        return colour, seen, material

    def pixels(self, near: Array, far: Array, where: Mask) -> float:
        """Median distance in the picture between two lines, (k, nt) mm each."""
        if not where.any():
            return 0.0
        theta = np.broadcast_to(self.wrap.surface.theta, near.shape)
        places = [self._camera.project(self._points(z, theta), self._size)[0] for z in (near, far)]
        run = np.gradient(places[0], axis=1)
        run /= np.linalg.norm(run, axis=-1, keepdims=True)
        apart = places[1] - places[0]
        across = np.abs(apart[..., 0] * run[..., 1] - apart[..., 1] * run[..., 0])
        return float(np.median(across[where]))

    @property
    def _size(self) -> tuple[int, int]:
        height, width, _ = self._light.shape
        return width, height

    def _points(self, z: Array, theta: Array) -> Array:
        """Places on the outside of the wrap in the stage frame, (k, nt, 3) mm."""
        outside = self._outside
        stations = (z - outside.z[0]) / outside.step
        columns = theta * (outside.theta.size / (2 * np.pi))
        radius = map_coordinates(outside.radius, (stations, columns), order=1, mode="nearest")
        points = np.stack((radius * np.cos(theta), radius * np.sin(theta), z), axis=-1)
        return np.asarray(points @ self._placing[:3, :3].T + self._placing[:3, 3])

    def _facing(self, z: Array, theta: Array) -> Array:
        """Cosine between the way out from the axis and the way to the eye, (k, nt)."""
        radial = np.stack((np.cos(theta), np.sin(theta), np.zeros_like(theta)), axis=-1)
        out = radial @ self._placing[:3, :3].T
        eye = np.array(self._camera.position) - self._points(z, theta)
        return np.asarray((out * eye).sum(axis=-1) / np.linalg.norm(eye, axis=-1))


def _pairs(view: _View, trim: SeamTrim, path: str) -> list[_Pair]:
    """Every band of one trim with what it touches, both edges together."""
    plan = view.wrap.plan
    bands = _Band.of(plan.trim_threads(trim), trim.offset)
    lines = plan.trim_edges(trim)
    looks = [[_band_look(view, line, band) for line in lines] for band in bands]
    pairs = [_edge_pair(view, lines, bands[0], looks[0], path, inwards=True)]
    for (band, look), (following, next_look) in pairwise(zip(bands, looks, strict=True)):
        narrow = min(band, following, key=lambda one: one.width)
        both = [a.seen & b.seen for a, b in zip(look, next_look, strict=True)]
        pairs.append(
            _Pair(
                path,
                band,
                following.words,
                True,
                narrow.width,
                _pixels(view, lines, narrow, both),
                _picked(look, both),
                _picked(next_look, both),
            )
        )
    pairs.append(_edge_pair(view, lines, bands[-1], looks[-1], path, inwards=False))
    return pairs


@dataclass(frozen=True, slots=True)
class _Look:
    """Mean colour across a band at every crossing of a line, (k, nt, 3), and where it is seen."""

    colour: Array
    seen: Mask
    material: NDArray[np.int16]


def _band_look(view: _View, line: StripEdge | Ring, band: _Band) -> _Look:
    wrap = view.wrap
    look = thread_appearance(band.thread, wrap.plan.finished)
    index = wrap.palette.index(look)
    crests = band.inner + band.thread.diameter_mm * (np.arange(band.count) + 0.5)
    parts = []
    for crest in crests:
        for x in _ACROSS:
            part = _look(view, line, crest + x * band.thread.diameter_mm)
            # Another layer may lie over the thread; only its crest is sure to be on the grid.
            part.seen[...] &= (x != 0) | (part.material == index)
            parts.append(part)
    seen = np.logical_and.reduce([part.seen for part in parts])
    return _Look(np.mean([part.colour for part in parts], axis=0), seen, parts[1].material)


def _look(view: _View, line: StripEdge | Ring, beside: float) -> _Look:
    plan = view.wrap.plan
    z = line.run(view.wrap.surface, beside).z
    start, end = (plan.start, plan.end) if isinstance(line, StripEdge) else plan.cover_span
    colour, seen, material = view.colours(z)
    return _Look(colour, seen & (z > start) & (z < end), material)


def _edge_pair(
    view: _View,
    lines: list[StripEdge | Ring],
    band: _Band,
    looks: list[_Look],
    path: str,
    *,
    inwards: bool,
) -> _Pair:
    """The innermost or outermost band with what lies beside the trim."""
    width = float(np.clip(band.width, *_BESIDE))
    shares = (np.arange(5) + 0.5) / 5
    beside = band.inner - width * shares if inwards else band.outer + width * shares
    others = []
    for line in lines:
        parts = [_look(view, line, at) for at in beside]
        seen = np.logical_and.reduce([part.seen for part in parts])
        colour = np.mean([part.colour for part in parts], axis=0)
        others.append(_Look(colour, seen, parts[2].material))
    both = [a.seen & b.seen for a, b in zip(looks, others, strict=True)]
    material, words = _what(view, others, both)
    both = [where & (other.material == material) for where, other in zip(both, others, strict=True)]
    if words == "the cover":
        words += " on the relief" if inwards else " on the flat"
    return _Pair(
        path,
        band,
        words,
        False,
        band.width,
        _pixels(view, lines, band, both),
        _picked(looks, both),
        _picked(others, both),
    )


def _what(view: _View, others: list[_Look], both: list[Mask]) -> tuple[int, str]:
    """What mostly lies there: its palette index, and its name in words."""
    wrap = view.wrap
    cover = wrap.palette.index(thread_appearance(wrap.plan.cover_thread, wrap.plan.finished))
    there = np.concatenate(
        [other.material[where] for other, where in zip(others, both, strict=True)]
    )
    material = int(np.bincount(there).argmax()) if there.size else cover
    name = wrap.palette[material].name
    return material, "the cover" if material == cover else f"the {name}"


def _pixels(view: _View, lines: list[StripEdge | Ring], band: _Band, where: list[Mask]) -> float:
    widths = []
    for line, seen in zip(lines, where, strict=True):
        near, far = (line.run(view.wrap.surface, at).z for at in (band.inner, band.outer))
        widths.append(view.pixels(near, far, seen))
    return max(widths)


def _picked(looks: list[_Look], where: list[Mask]) -> Array:
    return np.concatenate([look.colour[seen] for look, seen in zip(looks, where, strict=True)])


def _report(pair: _Pair, veil: float, distance: float) -> BandReport:
    places = len(pair.band)
    angle = float(visual_angle(pair.width, distance))
    degrees = np.rad2deg(angle)
    contrast = delta_e = needed = reserve = float("nan")
    if places:
        lit, other = luminance(pair.band) + veil, luminance(pair.other) + veil
        contrast = float(np.median((lit - other) / (lit + other)))
        labs = linear_to_lab([np.median(side, axis=0) for side in (pair.band, pair.other)])
        delta_e = float(delta_e_2000(*labs))
        mean = float(np.median(lit + other)) / 2
        needed = 1 / float(
            contrast_sensitivity(0.5 / degrees, mean * _WHITE, 3 * degrees, _LINE_DEGREES)
        )
        reserve = max(abs(contrast) / needed, _colour_left(labs, float(degrees)))
    report = BandReport(
        pair.trim,
        pair.what.thread.name,
        pair.what.count,
        pair.against,
        pair.width,
        angle / ARC_MINUTE,
        contrast,
        delta_e,
        needed,
        reserve,
        pair.pixels,
        places,
        None,
    )
    return _with_sentence(report, pair, distance)


def _colour_left(labs: Array, degrees: float) -> float:
    """ΔE00 that is left of the colours alone, at equal lightness, after the eye's colour blur."""
    red_green, blue_yellow = colour_kept(degrees)
    middle = labs.mean(axis=0)
    left = middle + (labs - middle) * np.array((0.0, float(red_green), float(blue_yellow)))
    return float(delta_e_2000(*left))


def _with_sentence(report: BandReport, pair: _Pair, distance: float) -> BandReport:
    if not report.judged or not report.reserve < HARD_BELOW:
        return report
    from_where = "at arm's length" if distance == ARMS_LENGTH else f"from {distance / 1000:.1f} m"
    lost, band = report.reserve < LOST_BELOW, pair.what.words
    match pair.joins, lost:
        case True, True:
            said = f"{band} and {pair.against} run into one"
        case True, False:
            said = f"{band} and {pair.against} are hard to tell apart"
        case False, True:
            said = f"{band} disappears against {pair.against}"
        case _:
            said = f"{band} is hard to make out against {pair.against}"
    return replace(report, sentence=f"{said[0].upper()}{said[1:]} {from_where}.")
