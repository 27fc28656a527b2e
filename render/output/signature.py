"""A signature on pictures: title and builder in one corner, the builder's mark in the other."""

from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from render.output.captions import ink_of
from render.request.subject import Pixels, Subject
from scenes.artwork.images import read_image

__all__ = ["Signature"]

_MARK_FIELD = "order.mark"

_MOST_SIDE = 2000
"""Most pixels along a side of a mark."""

_HEIGHT, _WIDTH = 0.12, 0.3
"""Largest mark, as shares of the picture's shorter side."""

_MARGIN = 0.03
"""Space to the picture's edges, as a share of its shorter side."""

_TEXT = 0.6
"""Width of the text at most, as a share of the picture's."""

_LINE = 1 / 24
"""Height of the line of text, as a share of the picture's shorter side."""

_SHADE = 0.55
"""Opacity of the dark edge that lets light letters be read on a light card."""


@dataclass(frozen=True, slots=True)
class Signature:
    """What stands in the lower corners of pictures.

    Parameters
    ----------
    text : str
        In the left corner; may be empty.
    mark : (h, w, 4) uint8, optional
        In the right corner: sRGB and alpha.
    """

    text: str
    mark: NDArray[np.uint8] | None = None

    @classmethod
    def of(cls, subject: Subject) -> Self:
        """Make the signature of a design.

        Parameters
        ----------
        subject : Subject

        Raises
        ------
        DesignProblem
            If the mark is missing, or no PNG picture.
        """
        design = subject.design
        order = design.order
        text = " · ".join(part for part in (design.title, order.builder) if part)
        if order.mark is None:
            return cls(text)
        data = subject.beside.read(order.mark, _MARK_FIELD)
        return cls(text, read_image(data, order.mark, _MARK_FIELD, _MOST_SIDE))

    def on(self, pixels: Pixels) -> Pixels:
        """Sign a copy of a picture.

        Parameters
        ----------
        pixels : (height, width, 3) uint8
            sRGB.

        Returns
        -------
        (height, width, 3) uint8
        """
        picture = Image.fromarray(pixels).convert("RGBA")
        short = min(picture.size)
        margin = round(_MARGIN * short)
        if self.text:
            ink = ink_of(self.text, round(_TEXT * picture.width), round(_LINE * short))
            shade = Image.new("RGBA", ink.size, (0, 0, 0, 0))
            shade.putalpha(ink.getchannel("A").point(lambda value: round(_SHADE * value)))
            place = (margin, picture.height - margin - ink.height)
            for dx, dy in ((-1, 0), (1, 0), (0, -1), (0, 1)):
                picture.alpha_composite(shade, (place[0] + dx, place[1] + dy))
            picture.alpha_composite(ink, place)
        if self.mark is not None:
            mark = Image.fromarray(self.mark)
            scale = min(_HEIGHT * short / mark.height, _WIDTH * short / mark.width)
            size = max(1, round(scale * mark.width)), max(1, round(scale * mark.height))
            # Alpha is multiplied in first, so that transparent pixels lend no colour to the edge.
            small = mark.convert("RGBa").resize(size, Image.Resampling.LANCZOS).convert("RGBA")
            picture.alpha_composite(
                small, (picture.width - margin - size[0], picture.height - margin - size[1])
            )
        return np.array(picture.convert("RGB"))
