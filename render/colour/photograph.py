"""A builder's photograph, read with care: upright, in sRGB, and no larger than fits."""

import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from materials.ordinary import NotOrdinaryError, read_ordinary
from materials.toml_text import named
from render.common.problems import RequestProblem
from render.request.subject import Pixels
from scenes.decoding.errors import DecodingError, Reason
from scenes.decoding.pixel_kinds import pixel_kind
from scenes.decoding.process import Limits, decode
from scenes.problems import shown

__all__ = ["MOST_BYTES", "MOST_PIXELS", "Box", "box_of", "decode_photograph", "read_photograph"]

MOST_BYTES = 60_000_000
MOST_PIXELS = 64_000_000
_GIVE = f"give {MOST_PIXELS // 1_000_000} megapixels at most"
_BROKEN = "is broken or cut short; give the photograph anew"
_CHANNELS = 3

_LIMITS = Limits(cpu_s=30.0, wall_s=120.0, memory=2_500_000_000, output=_CHANNELS * MOST_PIXELS)
"""By measurement 64 megapixels, turned and with a profile, take 4 s of one processor core and
1.5 GB as WebP, 2 s and 0.9 GB as JPEG or PNG."""


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle of a photograph, pixels from its left and upper edge."""

    x: int
    y: int
    width: int
    height: int

    def of(self, pixels: Pixels) -> Pixels:
        """Cut it out of a photograph."""
        return pixels[self.y : self.y + self.height, self.x : self.x + self.width]

    def meets(self, other: "Box") -> bool:
        """Tell whether it lies over another."""
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
        What a refusal calls it.
    text : str
    pixels : (h, w, 3) uint8
        The photograph that it must lie in.

    Raises
    ------
    RequestProblem
    """
    match = re.fullmatch(r"\s*(\d{1,6})\s*,\s*(\d{1,6})\s*,\s*(\d{1,6})\s*,\s*(\d{1,6})\s*", text)
    if match is None:
        raise RequestProblem(
            f"{field}: {shown(text)} is not a rectangle; give left, top, width and height in "
            "pixels, such as 1200,800,200,150."
        )
    box = Box(*(int(one) for one in match.groups()))
    high, wide = pixels.shape[:2]
    if not (box.width and box.height and box.x + box.width <= wide and box.y + box.height <= high):
        raise RequestProblem(
            f"{field}: {text.strip()} does not lie in the photograph, which is {wide}x{high} "
            "pixels; give left, top, width and height inside it."
        )
    return box


def read_photograph(path: Path) -> Pixels:
    """Read a photograph.

    Parameters
    ----------
    path : Path
        JPEG, PNG or WebP. It is turned as its EXIF data say, and taken to sRGB by its profile.

    Returns
    -------
    (h, w, 3) uint8
        sRGB.

    Raises
    ------
    RequestProblem
        If it is none, is too large, has no colours, or cannot be read.
    """
    try:
        data, _ = read_ordinary(path, MOST_BYTES + 1)
    except NotOrdinaryError:
        what = "a folder" if path.is_dir() else "no ordinary file"
        raise RequestProblem(f"photo: {named(path)} is {what}; give a photograph.") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "not a path"
        raise RequestProblem(f"photo: {named(path)} cannot be read ({reason}).") from None
    return decode_photograph(data, path)


def decode_photograph(data: bytes, path: Path) -> Pixels:
    """Read a photograph from the bytes of its file, as `read_photograph` does.

    Parameters
    ----------
    data : bytes
    path : Path
        What a refusal calls it; nothing is read from there.

    Returns
    -------
    (h, w, 3) uint8
        sRGB.

    Raises
    ------
    RequestProblem
    """
    if len(data) > MOST_BYTES:
        raise RequestProblem(
            f"photo: {named(path)} is larger than {MOST_BYTES // 1_000_000} MB; give a smaller one."
        )
    try:
        header, block = decode("photograph", data, {"most_pixels": MOST_PIXELS}, _LIMITS)
    except DecodingError as error:
        raise RequestProblem(f"photo: {named(path)} {_told(error)}.") from None
    width, height = header.get("width"), header.get("height")
    if not (isinstance(width, int) and isinstance(height, int) and width > 0) or (
        width * height * _CHANNELS != len(block)
    ):
        raise RequestProblem(f"photo: {named(path)} {_BROKEN}.")
    return np.frombuffer(block, np.uint8).reshape(height, width, _CHANNELS)


def _told(error: DecodingError) -> str:
    """Say what is wrong with a photograph: the end of a sentence."""
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
