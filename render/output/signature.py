"""A signature on pictures: title and builder in one corner, the builder's mark in another."""

from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from render.common.progress import Progress
from render.request.subject import Pixels, Subject
from scenes.artwork.images import read_image

__all__ = ["PlacedSignature", "Signature"]

_MARK_FIELD = "order.mark"

_MOST_SIDE = 2000
"""Most pixels along a side of a mark."""

_HEIGHT, _WIDTH = 0.12, 0.3
"""Largest mark, as shares of the picture's shorter side."""

_MARGIN = 0.03
"""Space to the picture's edges, as a share of its shorter side."""

_TEXT = 0.45
"""Width of the text at most, as a share of the picture's."""

_LINE = 1 / 24
"""Height of a line of text, as a share of the picture's shorter side."""

_SMALLEST = 0.6
"""Share of that height down to which long lines are made smaller; still longer ones are cut."""

_LIGHT, _DARK = (226, 223, 216), (24, 25, 28)
"""Colours of letters on a dark and on a light ground, sRGB."""

_SHADE = 0.4
"""Opacity of the edge of letters, in the other colour."""

_Corner = tuple[bool, bool]
"""Whether a corner is on the right, and whether it is below."""

# In this order where all are as plain.
_CORNERS: tuple[_Corner, ...] = ((False, True), (True, True), (False, False), (True, False))


@dataclass(frozen=True, slots=True)
class Signature:
    """What stands in the corners of pictures.

    Parameters
    ----------
    lines : tuple of str
        Of text; may be empty.
    mark : (h, w, 4) uint8, optional
        sRGB and alpha.
    """

    lines: tuple[str, ...]
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
        lines = tuple(line for line in (design.title, order.builder) if line)
        if order.mark is None:
            return cls(lines)
        data = subject.beside.read(order.mark, _MARK_FIELD)
        return cls(lines, read_image(data, order.mark, _MARK_FIELD, _MOST_SIDE))

    def note_missing(self, what: object, progress: Progress) -> None:
        """Say which letters no font has.

        Parameters
        ----------
        what : object
            What is signed, such as a path.
        progress : Progress
        """
        from render.output.captions import missing_letters
        from scenes.artwork.typesetting import missing_sentence

        missing = missing_letters(self.lines)
        if missing:
            progress.note(missing_sentence(str(what), missing))

    def placed(self, pixels: Pixels) -> "PlacedSignature":
        """Place it in the plainest corners of a picture.

        Parameters
        ----------
        pixels : (height, width, 3) uint8
            sRGB.
        """
        height, width = pixels.shape[:2]
        short = min(width, height)
        margin = round(_MARGIN * short)
        free = list(_CORNERS)
        parts = []
        if self.lines:
            letters = _letters(self.lines, round(_TEXT * width), _LINE * short)
            corner, place = _plainest(pixels, letters.size, margin, free)
            free.remove(corner)
            right, below = place[0] + letters.width, place[1] + letters.height
            ground = pixels[place[1] : below, place[0] : right].mean()
            parts.append((_coloured(letters, light=ground < 128), place))
        if self.mark is not None:
            mark = _scaled(Image.fromarray(self.mark), short)
            _, place = _plainest(pixels, mark.size, margin, free)
            parts.append((mark, place))
        return PlacedSignature(tuple(parts))


@dataclass(frozen=True, slots=True)
class PlacedSignature:
    """A signature with its places in pictures of one size.

    Parameters
    ----------
    parts : tuple of (Image, (int, int))
        RGBA, and pixels from the left and upper edges.
    """

    parts: tuple[tuple[Image.Image, tuple[int, int]], ...]

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
        for part, place in self.parts:
            picture.alpha_composite(part, place)
        return np.array(picture.convert("RGB"))


def _plainest(
    pixels: Pixels, size: tuple[int, int], margin: int, corners: list[_Corner]
) -> tuple[_Corner, tuple[int, int]]:
    """The corner whose ground varies least under something, and the place there."""
    height, width = pixels.shape[:2]

    def place(corner: _Corner) -> tuple[int, int]:
        right, below = corner
        x = width - margin - size[0] if right else margin
        y = height - margin - size[1] if below else margin
        return max(x, 0), max(y, 0)

    def unrest(corner: _Corner) -> int:
        x, y = place(corner)
        # Steps of 2 levels, so that grain does not decide.
        return int(pixels[y : y + size[1], x : x + size[0]].std(axis=(0, 1)).mean() / 2)

    corner = min(corners, key=unrest)
    return corner, place(corner)


def _letters(lines: tuple[str, ...], width: int, height: float) -> Image.Image:
    """Lines of text one above the other, as a mask with room for their edge."""
    from render.output.captions import ink_of

    drawn = []
    for line in lines:
        natural = ink_of(line, 20 * width, round(height)).width
        smaller = min(1.0, max(_SMALLEST, width / max(natural, 1)))
        drawn.append(ink_of(line, width, round(smaller * height)))
    gap = round(0.35 * height)
    size = max(one.width for one in drawn), sum(one.height + gap for one in drawn) - gap
    mask = Image.new("L", (size[0] + 2, size[1] + 2), 0)
    down = 1
    for one in drawn:
        mask.paste(one.getchannel("A"), (1, down))
        down += one.height + gap
    return mask


def _coloured(mask: Image.Image, *, light: bool) -> Image.Image:
    """Letters in a colour that is read on the ground, with an edge in the other one."""
    ink, edge = (_LIGHT, _DARK) if light else (_DARK, _LIGHT)
    made = Image.new("RGBA", mask.size, (*edge, 0))
    soft = np.asarray(mask, np.float32)
    wide = np.zeros_like(soft)
    for shift, axis in ((1, 0), (-1, 0), (1, 1), (-1, 1)):
        wide = np.maximum(wide, np.roll(soft, shift, axis))
    made.putalpha(Image.fromarray((_SHADE * wide).astype(np.uint8)))
    letters = Image.new("RGBA", mask.size, (*ink, 0))
    letters.putalpha(mask)
    made.alpha_composite(letters)
    return made


def _scaled(mark: Image.Image, short: int) -> Image.Image:
    scale = min(_HEIGHT * short / mark.height, _WIDTH * short / mark.width)
    size = max(1, round(scale * mark.width)), max(1, round(scale * mark.height))
    # Alpha is multiplied in first, so that transparent pixels lend no colour to the edge.
    return mark.convert("RGBa").resize(size, Image.Resampling.LANCZOS).convert("RGBA")
