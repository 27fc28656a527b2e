"""Builder of decals, printed on the outermost layer.

A decal changes no shape. Along its edges, and where a picture is half transparent, a place gets a
look mixed from the ink and what is under it (`Appearance.over`), in a dozen steps, so that no
renderer needs code for decals. Such looks are `printed`: `scenes.stage.edges` does not treat their
edges as sides of threads. They are as sharp as the grid.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from geometry.layers.decal import Decal as DecalLayer
from geometry.surface import Surface
from materials.appearance import Appearance, foil_appearance, ink_appearance
from materials.colour import parse_hex, srgb_to_linear
from scenes.artwork.images import MOST_SIDE, read_image
from scenes.kinds.builder import LayerBuilder, LayerResult, Palette, Printed, WoundBuilder
from scenes.kinds.decal.model import Decal
from scenes.kinds.flat.room import Room, size_within
from scenes.kinds.flat.runs import VISIBLE_ANGLE
from scenes.problems import DesignProblem
from scenes.quantities import about

if TYPE_CHECKING:
    from scenes.artwork.lettering import Outline

__all__ = ["DecalBuilder"]

Array = NDArray[np.float64]
Image8 = NDArray[np.uint8]

_LEVELS = 12
"""Steps between bare and inked along an edge."""

_COLOURS = 64
"""Colours of a picture: more cannot be told apart on 20 mm of rod."""

_MOST_LOOKS = 30_000
"""Materials of one wrap, which are numbered in 16 bits."""

_SOLID = 0.06
"""Coverage below which a place is bare; above 1 minus it, a place is fully covered."""

_PER_THREAD = 8
"""Pixels across a thread where strokes are measured."""

_FINEST = 0.02
"""Least size of the pixels in which strokes are measured, mm."""

_LEAST_HEIGHT = 1.0
"""Height of capitals that can be read at all, mm, for which a margin is advised (from memory)."""

_CALIPER_STEP = 0.01
"""Step of an advised margin, mm."""

_MOST_PIXELS = 10_000_000
"""Pixels of a print: 300 mm by 30 mm as finely as any grid. Each costs 64 bytes or more, and a font
may hold letters ten thousand times as high as its capital H."""

WHITE = "#f4f3ee"


@dataclass(frozen=True, slots=True)
class _Print:
    """A print, and the looks that it makes over others.

    Parameters
    ----------
    cover : (h, w) float
        Share of each pixel that is inked.
    colour : (h, w, 3) float
        sRGB of each pixel, multiplied by its coverage.
    inks : tuple of Appearance
    hues : (n, 3) float
        sRGB of each ink; a place gets the nearest.
    scale : float
        Pixels per mm.
    palette : Palette
    path : str
        Path of the layer, for a refusal.
    """

    cover: Array
    colour: Array
    inks: tuple[Appearance, ...]
    hues: Array
    scale: float
    palette: Palette
    path: str

    def over(self, x: Array, y: Array, under: NDArray[np.int16]) -> NDArray[np.int16]:
        """Give the materials at places of the print, mm, over those under them."""
        from scipy.ndimage import map_coordinates

        at = np.stack((y, x)) * self.scale - 0.5
        share = map_coordinates(self.cover, at, order=1, mode="constant")
        share = np.clip((share - _SOLID) / (1 - 2 * _SOLID), 0, 1)
        level = np.rint(share * _LEVELS).astype(np.intp)
        inked = np.flatnonzero(level)
        colour = self._nearest(at[:, inked])
        # Fully covered places look the same over every material.
        below = np.where(level[inked] == _LEVELS, 0, under[inked])
        mixes, which = np.unique(
            np.stack((below, colour, level[inked])), axis=1, return_inverse=True
        )
        looks = self.palette.looks()
        if len(looks) + mixes.shape[1] > _MOST_LOOKS:
            raise DesignProblem.at(
                self.path,
                "too many shades lie over one another here; lay it where no other picture is",
            )
        made = under.copy()
        found = [
            self.palette.index(self.inks[ink].over(looks[on], part / _LEVELS))
            for on, ink, part in mixes.T.tolist()
        ]
        made[inked] = np.array(found, np.int16)[which.ravel()]
        return made

    def _nearest(self, at: Array) -> NDArray[np.intp]:
        """Index of the nearest ink, (m,), at covered places, (2, m) pixels."""
        if len(self.inks) == 1:
            return np.zeros(at.shape[1], np.intp)
        # Only pictures of several inks wait for it to load.
        from scipy.ndimage import map_coordinates
        from scipy.spatial import cKDTree

        share, *hue = (
            map_coordinates(channel, at, order=1, mode="constant")
            for channel in (self.cover, *np.moveaxis(self.colour, 2, 0))
        )
        _, nearest = cKDTree(self.hues).query(np.stack(hue, axis=1) / share[:, None])
        return np.asarray(nearest, np.intp)


class DecalBuilder(LayerBuilder[Decal]):
    """Builder of a decal."""

    progress_label = "decal"

    @cached_property
    def room(self) -> Room:
        """Place and room of the decal."""
        return Room(self, self.layer.runs, self.layer.at, self.layer.around)

    @cached_property
    def outline(self) -> "Outline | None":
        """Outline of the letters; None for a picture."""
        # Shaping letters takes long to load.
        from scenes.artwork.lettering import text_outline

        layer = self.layer
        if layer.text is None:
            return None
        field = f"{self.path}.font"
        font = None if layer.font is None else self.plan.beside.read(layer.font, field)
        return text_outline(layer.text, font, layer.font or "", (f"{self.path}.text", field))

    @cached_property
    def pixels(self) -> Image8 | None:
        """Pixels of the picture, sRGB with alpha; None for letters."""
        if self.layer.picture is None:
            return None
        field = f"{self.path}.picture"
        data = self.plan.beside.read(self.layer.picture, field)
        return read_image(data, self.layer.picture, field, MOST_SIDE)

    @property
    def proportions(self) -> tuple[float, float]:
        """Width and height of the print where `height` is 1."""
        if self.outline is not None:
            return self.outline.width, self.outline.height
        assert self.pixels is not None
        high, wide = self.pixels.shape[:2]
        return wide / high, 1.0

    @cached_property
    def height(self) -> float:
        """Height of capital letters, or of the picture, mm: as given, or as large as fits."""
        if self.layer.height is not None:
            return self.layer.height
        return self.largest_height

    @cached_property
    def largest_height(self) -> float:
        """Largest height at which it keeps its margin and is visible from one side, mm."""
        return size_within(self.room, *self.proportions, self.layer.margin)

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of the print, mm."""
        wide, high = self.proportions
        return wide * self.height, high * self.height

    @property
    def thread(self) -> float:
        """Diameter of the thread under it, mm."""
        before = self.plan.before(self)
        covers = [
            earlier.thread.diameter_mm for earlier in before if isinstance(earlier, WoundBuilder)
        ]
        if covers:
            return covers[-1]
        return min(thread.diameter_mm for earlier in before for thread in earlier.threads())

    def printed(self) -> Printed:
        """Its letters or its picture at true size."""
        self.prepare()
        title = self.layer.text or self.layer.picture or ""
        if self.outline is None:
            return Printed(title, self.size, pixels=self.pixels)
        contours = tuple(contour * self.height for contour in self.outline.contours)
        return Printed(title, self.size, contours, self.layer.ink or WHITE)

    def prepare(self) -> None:
        """Check that it can be read and has room.

        Raises
        ------
        DesignProblem
            If its picture or font cannot be read.
        DesignProblem
            If it is longer than the wrap.
        """
        units = self.plan.design.units
        if self.height <= 0:
            raise DesignProblem.at(
                self.path,
                f"with {about(self.layer.margin, units)} of margin there is no room for it; "
                + self._margin_advice(),
            )
        start, end = self.room.flat.reach(*self.size)
        first, last = self.span
        if start < first or end > last:
            raise DesignProblem.at(
                f"{self.path}.height",
                f"{about(self.height, units)} makes it reach from {about(start, units)} to "
                f"{about(end, units)}, beyond the wrap; "
                + (
                    f"give {about(self.largest_height, units)} or less"
                    if self.largest_height > 0
                    else "leave at out, so that it lies mid wrap"
                ),
            )

    def _margin_advice(self) -> str:
        """Advise a margin that leaves room for letters that can be read."""
        wide, high = self.proportions

        def leaves(margin: float) -> bool:
            size = wide * _LEAST_HEIGHT, high * _LEAST_HEIGHT
            fits = self.room.holds(*size, margin)
            return fits and self.room.angle_round(*size) <= VISIBLE_ANGLE

        low, high = 0.0, self.layer.margin
        if not leaves(low) and self.layer.at is not None:
            return "leave at out, so that it lies mid wrap"
        if not leaves(low):
            return "there would be none without a margin either: give the strip a wider gap"
        while high - low > _CALIPER_STEP:
            middle = (low + high) / 2
            low, high = (middle, high) if leaves(middle) else (low, middle)
        return f"give a margin of {about(low, self.plan.design.units)} or less"

    def lay(self, surface: Surface, palette: Palette, step: Callable[[str], None]) -> LayerResult:
        """Print the decal on the outermost layer."""
        self.prepare()
        printed = self._printed(surface, palette)
        layer = DecalLayer(self.room.flat, *self.size, printed, self.layer.turned)
        return LayerResult(layer.apply(surface))

    def _printed(self, surface: Surface, palette: Palette) -> _Print:
        """Make the print, as fine as the grid."""
        wet = self.plan.finished
        wide, high = self.size
        around = float(surface.radius.mean()) * 2 * np.pi / surface.theta.size
        scale = 1 / min(surface.step, around)
        if wide * high * scale**2 > _MOST_PIXELS:
            units = self.plan.design.units
            raise DesignProblem.at(
                f"{self.path}.height",
                f"{about(self.height, units)} makes it {about(wide, units)} by "
                f"{about(high, units)}, too large to print at this detail; give "
                f"{about(self.height * math.sqrt(_MOST_PIXELS / (wide * high)) / scale, units)} or "
                "less",
            )
        if self.outline is not None:
            from scenes.artwork.lettering import coverage

            colour = _linear(self.layer.ink or WHITE)
            ink = foil_appearance(colour, wet) if self.layer.foil else ink_appearance(colour, wet)
            cover = coverage(self.outline, scale * self.height)
            hue = np.array([parse_hex(self.layer.ink or WHITE)])
            inked = cover[..., None] * hue
            return _Print(cover, inked, (ink,), hue, scale, palette, self.path)
        from PIL import Image

        assert self.pixels is not None
        size = max(1, round(wide * scale)), max(1, round(high * scale))
        shown = _resized(self.pixels, size)
        flat = Image.fromarray(shown[..., :3]).quantize(_COLOURS, dither=Image.Dither.NONE)
        numbers = np.asarray(flat).astype(np.intp)
        colours = np.asarray(flat.getpalette() or [0, 0, 0]).reshape(-1, 3)[: numbers.max() + 1]
        hues = colours / 255
        inks = tuple(ink_appearance(tuple(rgb), wet) for rgb in srgb_to_linear(hues).tolist())
        cover = shown[..., 3] / 255
        inked = cover[..., None] * shown[..., :3] / 255
        return _Print(cover, inked, inks, hues, size[1] / high, palette, self.path)

    @cached_property
    def thin_share(self) -> float:
        """Share of the ink in strokes thinner than the thread beneath.

        These strokes vanish in a morphological opening by a disc of the thread's diameter.
        """
        from scipy.ndimage import distance_transform_edt

        wide, high = self.size
        pixel = max(
            _FINEST, self.thread / _PER_THREAD, high / 1500, np.sqrt(wide * high / _MOST_PIXELS)
        )
        if self.outline is not None:
            from scenes.artwork.lettering import coverage

            inked = coverage(self.outline, self.height / pixel) > 0.5
        else:
            assert self.pixels is not None
            size = tuple(max(1, round(side / pixel)) for side in self.size)
            inked = _resized(self.pixels, (size[0], size[1]))[..., 3] > 127
        inked = np.pad(inked, 1)
        half = self.thread / 2 / pixel
        core = distance_transform_edt(inked) > half
        if not inked.any():
            return 0.0
        kept = distance_transform_edt(~core) <= half + 1 if core.any() else core
        return float((inked & ~kept).sum() / inked.sum())


def _linear(colour: str) -> tuple[float, float, float]:
    red, green, blue = srgb_to_linear(parse_hex(colour)).tolist()
    return red, green, blue


def _resized(pixels: Image8, size: tuple[int, int]) -> Image8:
    """Resize a picture with premultiplied alpha, so that clear pixels lend no colour."""
    from PIL import Image

    return np.asarray(
        Image.fromarray(pixels)
        .convert("RGBa")
        .resize(
            size, Image.Resampling.BOX if size[0] < pixels.shape[1] else Image.Resampling.BICUBIC
        )
        .convert("RGBA")
    )
