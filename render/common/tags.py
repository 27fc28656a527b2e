"""Metadata of every picture: title and hash of the design."""

from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Self
from xml.sax.saxutils import escape

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from scenes.design.document import Design
from scenes.design.variants import design_hash

__all__ = ["SOFTWARE", "Tag", "save_png"]

SOFTWARE = "Turnlight"

_PERCEPTUAL = b"\x00"


@dataclass(frozen=True, slots=True)
class Tag:
    """Title and hash of the design that a file shows.

    Parameters
    ----------
    title : str
        Of the design; of a comparison, of the first.
    design : str
        `scenes.design.variants.design_hash`; of a comparison, all hashes, separated by spaces.
    capture : str
        Description of unusual capture settings, else empty
        (`render.request.capture_settings.CaptureSettings.description`).
    """

    title: str
    design: str
    capture: str = ""

    @classmethod
    def of(cls, *designs: Design, capture: str = "") -> Self:
        """Make the tag of a file that shows one or more designs.

        Parameters
        ----------
        designs : Design
        capture : str, optional
            Description of unusual capture settings.
        """
        return cls(designs[0].title, " ".join(design_hash(design) for design in designs), capture)

    @property
    def line(self) -> str:
        """The tag on one line."""
        parts = [self.title, f"design {self.design}", self.capture, SOFTWARE]
        return " | ".join(part for part in parts if part)

    def png(self) -> PngInfo:
        """Text chunks and the sRGB chunk of a PNG [PNG3], section 11.3."""
        info = PngInfo()
        info.add(b"sRGB", _PERCEPTUAL)
        info.add_itxt("Title", self.title)
        info.add_text("Design", self.design)
        if self.capture:
            info.add_text("Description", self.capture)
        info.add_text("Software", SOFTWARE)
        return info

    def xmp(self) -> bytes:
        """XMP packet [ISO16684-1], for file formats that hold one."""
        title, design, capture = (escape(text) for text in (self.title, self.design, self.capture))
        described = f"<dc:description>{_alt(capture)}</dc:description>" if capture else ""
        return (
            '<x:xmpmeta xmlns:x="adobe:ns:meta/">'
            '<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
            '<rdf:Description xmlns:dc="http://purl.org/dc/elements/1.1/" '
            'xmlns:xmp="http://ns.adobe.com/xap/1.0/">'
            f"<dc:title>{_alt(title)}</dc:title>{described}"
            f"<dc:identifier>{design}</dc:identifier>"
            f"<xmp:CreatorTool>{SOFTWARE}</xmp:CreatorTool>"
            "</rdf:Description></rdf:RDF></x:xmpmeta>"
        ).encode()


def _alt(text: str) -> str:
    return f'<rdf:Alt><rdf:li xml:lang="x-default">{text}</rdf:li></rdf:Alt>'


def save_png(
    pixels: NDArray[np.uint8], path: Path | BinaryIO, tag: Tag, *, resolution: int | None = None
) -> None:
    """Write a picture as PNG.

    Parameters
    ----------
    pixels : (height, width, 3) uint8
        sRGB.
    path : Path or binary file
        Written in place; `render.common.files.replacing` gives a temporary file.
    tag : Tag
    resolution : int, optional
        Pixels to an inch on paper, for the pHYs chunk [PNG3], section 11.3; none by default.
    """
    printed = {} if resolution is None else {"dpi": (resolution, resolution)}
    Image.fromarray(pixels).save(path, format="PNG", pnginfo=tag.png(), optimize=False, **printed)
