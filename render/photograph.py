"""A builder's photograph, read with care: upright, in sRGB, and no larger than fits."""

import io
import re
import warnings
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image, ImageCms, ImageOps, UnidentifiedImageError

from render.files import named
from render.problems import RequestProblem
from render.subject import Pixels
from scenes.problems import shown

__all__ = ["MOST_BYTES", "MOST_PIXELS", "Box", "box_of", "decode_photograph", "read_photograph"]

_FORMATS = ("JPEG", "PNG", "WEBP")
MOST_BYTES = 60_000_000
MOST_PIXELS = 64_000_000
_GIVE = f"give {MOST_PIXELS // 1_000_000} megapixels at most"
_COLOURED = ("RGB", "RGBA", "P")


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
    if path.is_dir():
        raise RequestProblem(f"photo: {named(path)} is a folder; give a photograph.")
    try:
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
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
        with warnings.catch_warnings():
            # What Pillow warns of, such as a picture far larger than its file, is refused.
            warnings.simplefilter("error")
            return _decoded(data, path)
    except RequestProblem:
        raise
    except UnidentifiedImageError:
        raise RequestProblem(
            f"photo: {named(path)} is no picture that can be read; give JPEG, PNG or WebP."
        ) from None
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise RequestProblem(f"photo: {named(path)} is too large; {_GIVE}.") from None
    except (OSError, ValueError, SyntaxError, EOFError, Warning):
        raise RequestProblem(
            f"photo: {named(path)} is broken or cut short; give the photograph anew."
        ) from None


def _decoded(data: bytes, path: Path) -> Pixels:
    with Image.open(io.BytesIO(data), formats=_FORMATS) as opened:
        wide, high = opened.size
        if wide * high > MOST_PIXELS:
            raise RequestProblem(f"photo: {named(path)} is {wide}x{high} pixels; {_GIVE}.")
        if opened.mode not in _COLOURED:
            raise RequestProblem(
                f"photo: {named(path)} is {opened.mode}, not in colours of a screen; give a colour "
                "photograph in RGB."
            )
        image = ImageOps.exif_transpose(opened)
        profile = opened.info.get("icc_profile")
        if image.mode != "RGB":
            image = image.convert("RGBA").convert("RGB")
    return np.asarray(_in_srgb(image, profile))


def _in_srgb(image: Image.Image, profile: bytes | None) -> Image.Image:
    """Take colours to sRGB; a profile that cannot be used is taken for sRGB, as browsers do."""
    if not profile:
        return image
    try:
        given = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        made = ImageCms.profileToProfile(image, given, ImageCms.createProfile("sRGB"))
    except (ImageCms.PyCMSError, OSError, ValueError):
        return image
    return image if made is None else made
