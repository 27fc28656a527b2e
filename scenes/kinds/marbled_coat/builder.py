"""Builder of marbled coats.

A place has the mean colour of its samples, so edges are as soft as the grid and no renderer needs
code for marbled coats. Such looks are `printed`, like those of decals.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from geometry.kept import KEPT
from geometry.layers.finish import Coat
from geometry.layers.marbled_coat import SAMPLES, Unrolled
from geometry.layers.marbled_coat import MarbledCoat as CoatLayer
from geometry.layers.marbling import Drop, Stroke, equal_area_along, scattered
from geometry.surface import Surface
from materials.appearance import pigment_appearance
from materials.colour import parse_hex, srgb_to_linear
from materials.finish import FINISH
from scenes.kinds.builder import LayerBuilder, LayerResult, Palette
from scenes.kinds.marbled_coat.model import CombStroke, MarbledCoat

__all__ = ["MarbledBuilder", "MarbledResult"]

_STATIONS = 257
"""Number of places along the coat at which it is unrolled."""


@dataclass(frozen=True, slots=True)
class MarbledResult:
    """Further results of laying a marbled coat.

    Parameters
    ----------
    areas : tuple of float
        Visible area of the base and of each pigment, mm².
    """

    areas: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class _Tint:
    """Colours of the base and of each pigment, and the looks that they mix to.

    Parameters
    ----------
    colours : tuple of three floats
        Linear RGB; the base's first.
    wet : bool
    palette : Palette
    """

    colours: tuple[tuple[float, float, float], ...]
    wet: bool
    palette: Palette

    def materials(self, counts: NDArray[np.uint8]) -> NDArray[np.int16]:
        """Give materials, (m, n), of places by the samples of each pigment, (m, n, pigments)."""
        base = SAMPLES + 1
        key = np.zeros(counts.shape[:2], np.int32)
        # The count of the first is the rest of the samples.
        for pigment in range(1, len(self.colours)):
            key *= base
            key += counts[..., pigment]
        found = np.flatnonzero(np.bincount(key.ravel(), minlength=base ** (len(self.colours) - 1)))
        looks = np.zeros(found[-1] + 1, np.int16)
        looks[found] = [self._index(mixture) for mixture in found.tolist()]
        return looks[key]

    def _index(self, key: int) -> int:
        """Material index of a mixture of pigments."""
        levels: list[int] = []
        for _ in self.colours[1:]:
            key, level = divmod(key, SAMPLES + 1)
            levels.insert(0, level)
        levels.insert(0, SAMPLES - sum(levels))
        mixed = tuple(
            (colour, level / SAMPLES)
            for colour, level in zip(self.colours, levels, strict=True)
            if level
        )
        return self.palette.index(pigment_appearance(mixed, self.wet))


class MarbledBuilder(LayerBuilder[MarbledCoat]):
    """Builder of a marbled coat."""

    progress_label = "marbled coat"

    @cached_property
    def lift(self) -> float:
        """Height of the middle of the coat above the bare blank, mm."""
        return self.cover_thickness + self.layer.thickness / 2

    @cached_property
    def unrolled(self) -> Unrolled:
        """The unrolled coat; drops are round in its middle."""
        start, end = self.span
        z = np.linspace(start, end, _STATIONS)
        radius = self.plan.blank.radius(z) + self.lift
        round_ = 2 * np.pi * float(radius[_STATIONS // 2])
        along = equal_area_along(z, radius, round_)
        return Unrolled(round_, tuple(z.tolist()), tuple(along.tolist()))

    @property
    def area(self) -> float:
        """Area of the coat, mm²."""
        return self.unrolled.circumference * self.unrolled.along[-1]

    @cached_property
    def placed_drops(self) -> tuple[Drop, ...]:
        """Drops in the order in which they fall."""
        layer, flat = self.layer, self.unrolled
        return tuple(
            scattered(
                layer.drops,
                flat.circumference,
                flat.along[-1],
                layer.areas(),
                range(1, len(layer.pigments) + 1),
                layer.seed,
            )
        )

    def tines(self, stroke: CombStroke) -> int:
        """Number of tines of a stroke in the coat at once.

        Parameters
        ----------
        stroke : CombStroke
        """
        return stroke.tines(self.unrolled.circumference, self.unrolled.along[-1])

    def spacing(self, stroke: CombStroke) -> float:
        """Distance from tine to tine of a stroke, square to its path, mm.

        Parameters
        ----------
        stroke : CombStroke
        """
        slope, flat = stroke.slope(), self.unrolled
        room = flat.circumference * np.sin(slope) if slope else flat.along[-1]
        return float(room) / self.tines(stroke)

    def comb_strokes(self, stroke: CombStroke) -> tuple[Stroke, ...]:
        """Convert a stroke to geometry: tines that go one way, then those that go the other way.

        Parameters
        ----------
        stroke : CombStroke
        """
        apart, tines, slope = self.spacing(stroke), self.tines(stroke), stroke.slope()
        every = 2 if stroke.alternate else 1
        return tuple(
            Stroke(
                # The first tine is half a spacing from the guide line, or from the end.
                around=-(0.5 + first) * apart * float(np.sin(slope)),
                along=(0.5 + first) * apart * float(np.cos(slope)),
                direction=slope,
                shift=stroke.reach * (1 - 2 * first),
                softness=stroke.softness,
                tines=tines // every,
                spacing=every * apart,
            )
            for first in range(every)
        )

    @cached_property
    def coat(self) -> CoatLayer:
        """The geometry layer."""
        strokes = (comb for stroke in self.layer.strokes for comb in self.comb_strokes(stroke))
        finish = Coat(
            self.layer.thickness,
            FINISH.viscosity_pa_s,
            FINISH.surface_tension_n_m,
            FINISH.open_time_s,
        )
        return CoatLayer(
            *self.span,
            finish,
            self.unrolled,
            (*self.placed_drops, *strokes),
            len(self.layer.pigments) + 1,
        )

    def lay(self, surface: Surface, palette: Palette, step: Callable[[str], None]) -> LayerResult:
        """Brush, drop and comb the coat."""
        colours = (self.layer.base, *(pigment.colour for pigment in self.layer.pigments))
        tint = _Tint(tuple(_linear(colour) for colour in colours), self.plan.finished, palette)
        coat, points = self.coat, surface.radius.size
        grid = surface.z, surface.theta
        counts = KEPT.result("drops", (coat, grid), lambda: coat.counts(surface), points=points)
        shown = tint.materials(counts)
        laid = KEPT.result(
            "coat", (coat, surface, shown), lambda: coat.apply(surface, shown), points=points
        )
        return LayerResult(laid, kind_result=MarbledResult(self._areas(laid, counts)))

    def _areas(self, surface: Surface, counts: NDArray[np.uint8]) -> tuple[float, ...]:
        """Area of the base and of each pigment, mm²."""
        flat, z = self.unrolled, surface.z[surface.between(*self.span)]
        # Length of the unrolled coat per station.
        weight = np.gradient(np.interp(z, flat.z, flat.along))
        shares = weight @ counts.sum(axis=1, dtype=float)
        return tuple((self.area * shares / shares.sum()).tolist())


def _linear(colour: str) -> tuple[float, float, float]:
    red, green, blue = srgb_to_linear(parse_hex(colour)).tolist()
    return red, green, blue
