"""Photographs, decoded within limits: upright, in sRGB, and not too large."""

import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from materials.toml_text import named
from render.common.files import read_input
from render.common.problems import RequestProblem
from render.request.subject import Pixels
from scenes.decoding.errors import DecodingError, Reason
from scenes.decoding.pixel_kinds import pixel_kind
from scenes.decoding.process import Limits, decode
from scenes.problems import shown

__all__ = [
    "MOST_BYTES",
    "MOST_PIXELS",
    "Box",
    "box_of",
    "decode_photograph",
    "read_photograph",
]

MOST_BYTES = 60_000_000
MOST_PIXELS = 64_000_000
_GIVE = f"give {MOST_PIXELS // 1_000_000} megapixels at most"
_BROKEN = "is broken or cut short; give the photograph anew"
_CHANNELS = 3

_LIMITS = Limits(cpu_s=30.0, wall_s=120.0, memory=2_500_000_000, output=_CHANNELS * MOST_PIXELS)
"""Measured for 64 megapixels, turned and with a colour profile: 4 s of one processor core and
1.5 GB as WebP, 2 s and 0.9 GB as JPEG or PNG."""


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle in a photograph.

    Parameters
    ----------
    x, y : int
        Left and upper edge, pixels from those of the photograph.
    width, height : int
        Pixels.
    """

    x: int
    y: int
    width: int
    height: int

    def of(self, pixels: Pixels) -> Pixels:
        """Pixels of the rectangle.

        Parameters
        ----------
        pixels : (height, width, 3) uint8
            The photograph.
        """
        return pixels[self.y : self.y + self.height, self.x : self.x + self.width]

    def meets(self, other: "Box") -> bool:
        """Whether two rectangles overlap.

        Parameters
        ----------
        other : Box
        """
        return (
            self.x < other.x + other.width
            and other.x < self.x + self.width
            and self.y < other.y + other.height
            and other.y < self.y + self.height
        )


def box_of(field: str, text: str, pixels: Pixels) -> Box:
    """Read a rectangle such as ``1200,800,200,150``: left, top, width, height.

    Parameters
    ----------
    field : str
        Name of the rectangle, for the message.
    text : str
    pixels : (height, width, 3) uint8
        The photograph.

    Raises
    ------
    RequestProblem
        If the text is not a rectangle inside the photograph.
    """
    match = re.fullmatch(r"\s*(\d{1,6})\s*,\s*(\d{1,6})\s*,\s*(\d{1,6})\s*,\s*(\d{1,6})\s*", text)
    if match is None:
        raise RequestProblem(
            f"{field}: {shown(text)} is not a rectangle; give left, top, width and height in "
            "pixels, such as 1200,800,200,150."
        )
    box = Box(*(int(number) for number in match.groups()))
    high, wide = pixels.shape[:2]
    if not (box.width and box.height and box.x + box.width <= wide and box.y + box.height <= high):
        raise RequestProblem(
            f"{field}: {text.strip()} does not lie in the photograph, which is {wide}x{high} "
            "pixels; give left, top, width and height inside it."
        )
    return box


def read_photograph(path: Path, field: str = "photo") -> Pixels:
    """Read a photograph.

    Parameters
    ----------
    path : Path
        JPEG, PNG or WebP, turned by its EXIF orientation and converted to sRGB by its profile.
    field : str
        What gave the path, for a refusal.

    Returns
    -------
    (height, width, 3) uint8
        sRGB.

    Raises
    ------
    RequestProblem
        If it cannot be read, is not a colour picture, or is too large.
    """
    data = read_input(path, field, MOST_BYTES, "a JPEG, PNG or WebP file")
    return decode_photograph(data, path, field)


def decode_photograph(data: bytes, path: Path, field: str = "photo") -> Pixels:
    """Read a photograph from the bytes of its file, as `read_photograph` does.

    Parameters
    ----------
    data : bytes
    path : Path
        Name of the photograph, for the message; it is not read.
    field : str
        What gave the photograph, for the message.

    Returns
    -------
    (height, width, 3) uint8
        sRGB.

    Raises
    ------
    RequestProblem
    """
    try:
        header, block = decode("photograph", data, {"most_pixels": MOST_PIXELS}, _LIMITS)
    except DecodingError as error:
        raise RequestProblem(f"{field}: {named(path)} {_decoding_failure(error)}.") from None
    width, height = header.get("width"), header.get("height")
    if not (isinstance(width, int) and isinstance(height, int) and width > 0) or (
        width * height * _CHANNELS != len(block)
    ):
        raise RequestProblem(f"{field}: {named(path)} {_BROKEN}.")
    return np.frombuffer(block, np.uint8).reshape(height, width, _CHANNELS)


def _decoding_failure(error: DecodingError) -> str:
    """Why a photograph cannot be decoded: the end of a sentence."""
    width, height = error.number("width"), error.number("height")
    if error.reason is Reason.SIZE and width:
        return f"is {width}x{height} pixels; {_GIVE}"
    if error.reason in (Reason.SIZE, Reason.MEMORY):
        return f"is too large; {_GIVE}"
    if error.reason is Reason.MODE:
        kind = pixel_kind(error.text("mode"))
        return f"is {kind}, not in colours of a screen; give a colour photograph in RGB"
    if error.reason is Reason.KIND:
        return "is no picture that can be read; give JPEG, PNG or WebP"
    if error.reason is Reason.TIME:
        return "takes too long to read; give the photograph anew"
    if error.reason is Reason.PROCESS:
        return "cannot be read now, since no process could be started; try again"
    return _BROKEN
