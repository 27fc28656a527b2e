"""One palette for all frames of a GIF, with ordered dithering.

Error diffusion spreads each small change of a frame over the rest of the picture, so that
unchanged parts flicker. Here each pixel is shifted by an amount that depends on its position only,
then replaced by the nearest colour. Parts that do not change from frame to frame stay the same and
compress well.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Self

import numpy as np
from numpy.typing import NDArray
from PIL import Image

__all__ = ["Palette"]

Pixels = NDArray[np.uint8]

COLOURS = 255
"""Number of colours: of the 256 of a GIF, one means "as in the frame before"."""

_CELLS = 64
"""Cells of the look-up table along each of red, green and blue."""

_SAMPLE = 400_000
"""Approximate number of pixels that the palette is computed from."""

_BLOCK = 1 << 16
"""Pixels of a frame that are reduced at once."""

_PACK = np.array((1 << 16, 1 << 8, 1), np.uint32)
"""Factors that pack red, green and blue into one number."""

_MAX_SHIFT = 0.5
"""Maximum shift of the dither, as a share of the distance between neighbouring colours."""


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
        """Choose the colours that suit several frames best.

        A region of colour space is weighted by the square root of its pixels. Otherwise a large
        dark background would take the colours that a narrow bright trim needs.

        Parameters
        ----------
        frames : list of (height, width, 3) uint8
            sRGB.
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
        """Reduce a frame to the palette.

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
        thresholds = _thresholds(height, width)
        reduced = np.empty((height, width), np.uint8)
        # Some rows at a time, so that what is between them fits a core's own cache.
        rows = max(1, _BLOCK // width)
        for first in range(0, height, rows):
            part = slice(first, first + rows)
            channels = [pixels[part, :, number] for number in range(3)]
            shift = self._shift.ravel()[_cells(channels)]
            shift *= thresholds[part]
            moved = [np.rint(channel + shift) for channel in channels]
            for channel in moved:
                np.clip(channel, 0, 255, out=channel)
            reduced[part] = self._nearest.ravel()[_cells([one.astype(np.uint8) for one in moved])]
        image = Image.fromarray(reduced)
        image.putpalette(self.data, "RGB")
        return image

    @cached_property
    def _two_nearest(self) -> NDArray[np.intp]:
        """Indices of the two colours nearest to the middle of each cell, nearer first."""
        from scipy.spatial import cKDTree

        middle = (np.arange(_CELLS) + 0.5) * (256 / _CELLS) - 0.5
        grid = np.stack(np.meshgrid(middle, middle, middle, indexing="ij"), axis=-1)
        _, index = cKDTree(self.colours.astype(np.float64)).query(grid.reshape(-1, 3), k=2)
        # A palette of one colour has no second one: the tree answers with one beyond the last.
        np.minimum(index, len(self.colours) - 1, out=index)
        return index.reshape(*grid.shape[:3], 2)

    @cached_property
    def _nearest(self) -> NDArray[np.uint8]:
        return self._two_nearest[..., 0].astype(np.uint8)

    @cached_property
    def _shift(self) -> NDArray[np.float32]:
        """Maximum shift of a pixel of each cell: half way to the second nearest colour."""
        first, second = self.colours[self._two_nearest].astype(np.float64).transpose(3, 0, 1, 2, 4)
        apart = np.linalg.norm(first - second, axis=-1) / np.sqrt(3)
        return (_MAX_SHIFT * apart).astype(np.float32)


def _cells(channels: Sequence[Pixels]) -> NDArray[np.int32]:
    """Numbers of the cells of the look-up table that colours lie in."""
    red, green, blue = (channel // (256 // _CELLS) for channel in channels)
    cells = red.astype(np.int32)
    for further in (green, blue):
        cells *= _CELLS
        cells += further
    return cells


@lru_cache(maxsize=2)
def _thresholds(height: int, width: int) -> NDArray[np.float32]:
    """Dither threshold of each pixel, -1 to 1, without clusters or lines.

    Interleaved gradient noise [Jimenez2014].
    """
    y, x = np.mgrid[0:height, 0:width]
    return (2 * ((52.9829189 * ((0.06711056 * x + 0.00583715 * y) % 1)) % 1) - 1).astype(np.float32)
