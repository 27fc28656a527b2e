"""One palette for every frame of a GIF, and dithering that stays put.

Error diffusion would send each small change of a frame over the rest of the picture, so that still
places swarm. Here each pixel is moved by an amount that depends on its place alone, then takes the
nearest colour: what does not change from frame to frame stays the same, to the eye and to the
file's compression.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Self

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy.spatial import cKDTree

__all__ = ["Palette"]

Pixels = NDArray[np.uint8]

COLOURS = 255
"""Of the 256 that a GIF holds, one is left to mean "as in the frame before"."""

_CELLS = 64
"""Cells of the look-up table along each of red, green and blue."""

_SAMPLE = 400_000
"""Pixels, about, that the palette is made from."""

_PACK = np.array((1 << 16, 1 << 8, 1), np.uint32)

_REACH = 0.5
"""Greatest shift of the dither, as a share of the distance between neighbouring colours."""


@dataclass(frozen=True)
class Palette:
    """Colours that frames are reduced to.

    Parameters
    ----------
    colours : (n, 3) uint8
        sRGB, no two the same.
    """

    colours: NDArray[np.uint8]

    @classmethod
    def of(cls, frames: list[Pixels]) -> Self:
        """Choose the colours that serve several frames best.

        A region of colour space counts by the root of its pixels, or a wide dark background would
        take the colours that a narrow bright trim needs.
        """
        pixels = np.concatenate([frame.reshape(-1, 3) for frame in frames]).astype(np.uint32)
        found, counts = np.unique(pixels @ _PACK, return_counts=True)
        red, green, blue = (found >> 16, (found >> 8) & 255, found & 255)
        region = (red >> 3 << 10) | (green >> 3 << 5) | blue >> 3
        weight = counts / np.sqrt(np.bincount(region, counts)[region])
        times = np.maximum(1, np.rint(_SAMPLE * weight / weight.sum()).astype(np.intp))
        sample = np.stack((red, green, blue), axis=1).astype(np.uint8).repeat(times, axis=0)
        chosen = Image.fromarray(sample[None]).quantize(COLOURS, Image.Quantize.MEDIANCUT, kmeans=2)
        data = chosen.getpalette("RGB")
        assert data is not None
        return cls(np.unique(np.array(data, np.uint8).reshape(-1, 3), axis=0)[:COLOURS])

    @property
    def data(self) -> bytes:
        """The colours as red, green, blue, red, green, ..."""
        return self.colours.tobytes()

    def image(self, pixels: Pixels) -> Image.Image:
        """Reduce a frame.

        Parameters
        ----------
        pixels : (height, width, 3) uint8
            sRGB.

        Returns
        -------
        Image
            Of mode P.
        """
        height, width, _ = pixels.shape
        cells = pixels // (256 // _CELLS)
        near = self._spread[cells[..., 0], cells[..., 1], cells[..., 2]]
        shift = (_pattern(height, width)[..., None] * near[..., None]).astype(np.float32)
        moved = np.clip(np.rint(pixels + shift), 0, 255).astype(np.uint8) // (256 // _CELLS)
        image = Image.fromarray(self._nearest[moved[..., 0], moved[..., 1], moved[..., 2]])
        image.putpalette(self.data, "RGB")
        return image

    @cached_property
    def _looked_up(self) -> NDArray[np.intp]:
        """Indices of the two colours nearest to the middle of each cell, nearer first."""
        middle = (np.arange(_CELLS) + 0.5) * (256 / _CELLS) - 0.5
        grid = np.stack(np.meshgrid(middle, middle, middle, indexing="ij"), axis=-1)
        _, index = cKDTree(self.colours.astype(np.float64)).query(grid.reshape(-1, 3), k=2)
        # A palette of one colour has no second one: the tree answers with one beyond the last.
        np.minimum(index, len(self.colours) - 1, out=index)
        return index.reshape(*grid.shape[:3], 2)

    @cached_property
    def _nearest(self) -> NDArray[np.uint8]:
        return self._looked_up[..., 0].astype(np.uint8)

    @cached_property
    def _spread(self) -> NDArray[np.float32]:
        """How far a pixel of each cell is shifted at most: half way to the colour beyond."""
        first, second = self.colours[self._looked_up].astype(np.float64).transpose(3, 0, 1, 2, 4)
        apart = np.linalg.norm(first - second, axis=-1) / np.sqrt(3)
        return (_REACH * apart).astype(np.float32)


def _pattern(height: int, width: int) -> NDArray[np.float32]:
    """Threshold of each pixel, -1 to 1, without clumps or rows.

    Interleaved gradient noise: Jimenez 2014, "Next generation post processing in Call of Duty:
    Advanced Warfare", SIGGRAPH course.
    """
    y, x = np.mgrid[0:height, 0:width]
    return (2 * ((52.9829189 * ((0.06711056 * x + 0.00583715 * y) % 1)) % 1) - 1).astype(np.float32)
