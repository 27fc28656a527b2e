"""Pictures decoded with Pillow; no other imports, so that a child process starts quickly."""

import io
import struct
import warnings

from PIL import Image, ImageCms, ImageOps, UnidentifiedImageError

from scenes.decoding.errors import DecodingError, Reason

__all__ = ["Decoded", "photograph", "png", "refuse_what_pillow_warns_of"]

Decoded = tuple[int, int, bytes]
"""Width, height, and the pixels row by row, a byte a channel."""

_PNG_MODES = ("1", "L", "LA", "P", "RGB", "RGBA")
_PHOTOGRAPH_FORMATS = ("JPEG", "PNG", "WEBP")
_PHOTOGRAPH_MODES = ("RGB", "RGBA", "P")

_BROKEN = (OSError, ValueError, SyntaxError, EOFError, OverflowError, Warning)
"""Exceptions, besides its own, that Pillow raises for damaged files."""


def refuse_what_pillow_warns_of() -> None:
    """Turn Pillow's warnings, such as of a picture far larger than its file, into errors.

    Warnings about EXIF data, which Pillow reads as TIFF, are ignored; TIFF files are not accepted.
    The filters apply to the whole process, so call this only in a process that only decodes.
    """
    warnings.simplefilter("error")
    warnings.filterwarnings("ignore", module=r"PIL\.TiffImagePlugin")


def png(data: bytes, most_side: int) -> Decoded:
    """Decode a PNG picture to sRGB and alpha, 4 bytes a pixel.

    Parameters
    ----------
    data : bytes
    most_side : int
        Most pixels along a side.

    Raises
    ------
    DecodingError
    """
    try:
        with Image.open(io.BytesIO(data), formats=("PNG",)) as opened:
            width, height = opened.size
            if max(width, height) > most_side:
                raise DecodingError(Reason.SIZE, width=width, height=height)
            if opened.mode not in _PNG_MODES:
                raise DecodingError(Reason.MODE, mode=opened.mode)
            return width, height, opened.convert("RGBA").tobytes()
    except UnidentifiedImageError:
        raise DecodingError(Reason.KIND) from None
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise DecodingError(Reason.SIZE, width=0, height=0) from None
    except _BROKEN:
        raise DecodingError(Reason.BROKEN) from None


def photograph(data: bytes, most_pixels: int) -> Decoded:
    """Decode a photograph (JPEG, PNG or WebP) to sRGB, 3 bytes a pixel, turned as EXIF says.

    Parameters
    ----------
    data : bytes
    most_pixels : int
        Most pixels in all.

    Raises
    ------
    DecodingError
    """
    try:
        with Image.open(io.BytesIO(data), formats=_PHOTOGRAPH_FORMATS) as opened:
            width, height = opened.size
            if width * height > most_pixels:
                raise DecodingError(Reason.SIZE, width=width, height=height)
            if opened.mode not in _PHOTOGRAPH_MODES:
                raise DecodingError(Reason.MODE, mode=opened.mode)
            opened.load()
            image = _upright(opened)
            profile = opened.info.get("icc_profile")
        if image.mode != "RGB":
            image = image.convert("RGBA").convert("RGB")
        image = _in_srgb(image, profile)
        return image.width, image.height, image.tobytes()
    except UnidentifiedImageError:
        raise DecodingError(Reason.KIND) from None
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise DecodingError(Reason.SIZE, width=0, height=0) from None
    except _BROKEN:
        raise DecodingError(Reason.BROKEN) from None


def _upright(image: Image.Image) -> Image.Image:
    """Turn a picture as its EXIF data say; unchanged if they cannot be read, as in browsers."""
    try:
        return ImageOps.exif_transpose(image)
    except (*_BROKEN, ArithmeticError, LookupError, TypeError, struct.error):
        return image


def _in_srgb(image: Image.Image, profile: bytes | None) -> Image.Image:
    """Convert colours to sRGB; an unusable profile is taken for sRGB, as in browsers."""
    if not profile:
        return image
    try:
        given = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        made = ImageCms.profileToProfile(image, given, ImageCms.createProfile("sRGB"))
    except (ImageCms.PyCMSError, OSError, ValueError):
        return image
    return image if made is None else made
