"""What can be sent: kinds of file, their formats, and the sizes to choose from."""

from dataclasses import dataclass
from importlib.util import find_spec
from typing import Any

from render.page.workers.export_worker import ExportKind
from render.request.shapes import PRINTED, SHAPES_OF_POSTS, Shape, shape_size
from render.request.subject import Size

__all__ = ["EXPORT_OPTIONS", "PAPERS", "SIZES", "ExportOption", "Preset", "option_state"]


@dataclass(frozen=True, slots=True)
class Preset:
    """One size in which something can be sent.

    Parameters
    ----------
    size : (int, int), optional
        Width and height of pictures, pixels.
    frames : int
        Pictures in one turn.
    max_mb : float, optional
        Size limit of the file, megabytes.
    detail : str
        Value of a `Detail`.
    resolution : int, optional
        Pixels to an inch of pictures on paper.
    """

    size: Size | None = None
    frames: int = 60
    max_mb: float | None = None
    detail: str = "normal"
    resolution: int | None = None


SIZES = ("message", "mail", "print")
"""Names of the sizes of pictures."""

PAPERS = ("A4", "letter")
"""Names of the sizes of paper."""


@dataclass(frozen=True, slots=True)
class ExportOption:
    """Something that can be sent.

    Parameters
    ----------
    kind : ExportKind
    description : str
        One line for the page.
    formats : tuple of str
        File name extensions to choose from.
    presets : dict of str to Preset
        Sizes to choose from, by name.
    shapes : tuple of Shape
        Shapes to choose from; none where there is only one.
    signed : bool
        Whether it can carry title, builder and mark.
    """

    kind: ExportKind
    description: str
    formats: tuple[str, ...]
    presets: dict[str, Preset]
    shapes: tuple[Shape, ...] = ()
    signed: bool = False

    def size(self, preset: str, shape: str) -> Size | None:
        """Width and height of its pictures, pixels; None where it has no size.

        Parameters
        ----------
        preset : str
            Name of a preset.
        shape : str
            Value of a `Shape`; one that cannot be chosen is ignored.
        """
        size = self.presets[preset].size
        if size is None or shape not in self.shapes:
            return size
        return shape_size(Shape(shape), min(size))


def _by_size(message: Preset, mail: Preset, large: Preset) -> dict[str, Preset]:
    return dict(zip(SIZES, (message, mail, large), strict=True))


_PAPER = {paper: Preset() for paper in PAPERS}

_ONE_PICTURE = _by_size(
    Preset((1280, 720)),
    Preset((1920, 1080)),
    Preset((3840, 2160), detail="fine", resolution=PRINTED),
)

EXPORT_OPTIONS = {
    option.kind: option
    for option in (
        ExportOption(
            ExportKind.SPIN_PAGE,
            "One file in which the customer turns the rod and comes near, with no network",
            (".html",),
            _by_size(
                Preset((800, 450), 12, 2.5),
                Preset((1600, 900), 12, 4),
                Preset((1920, 1080), 12, 8),
            ),
        ),
        ExportOption(
            ExportKind.STILL,
            "One picture, as it is seen now",
            (".png",),
            _ONE_PICTURE,
            shapes=tuple(Shape),
            signed=True,
        ),
        ExportOption(
            ExportKind.PHOTOGRAPH,
            "The same picture computed as a camera takes it, path by path of light: minutes, not "
            "seconds",
            (".png",),
            _ONE_PICTURE,
            shapes=tuple(Shape),
            signed=True,
        ),
        ExportOption(
            ExportKind.TURNTABLE,
            "The rod turning once, over and over",
            (".gif", ".mp4", ".webp"),
            _by_size(
                Preset((640, 360), 40, 3),
                Preset((960, 540), 60, 10),
                Preset((1920, 1080), 60, 60),
            ),
            shapes=SHAPES_OF_POSTS,
            signed=True,
        ),
        ExportOption(
            ExportKind.COMPARISON,
            "Designs one above the other: A and B of a comparison, or variants",
            (".png", ".gif", ".mp4"),
            _by_size(
                Preset((960, 640), 40, 3),
                Preset((1280, 860), 60, 10),
                Preset((1920, 1280), 60, 60),
            ),
        ),
        ExportOption(
            ExportKind.SHEET, "Pages to build from: marks, lengths, steps", (".pdf",), _PAPER
        ),
        ExportOption(
            ExportKind.ROD_PICTURE,
            "The whole rod, with each of its wraps enlarged beside it",
            (".png",),
            _by_size(
                Preset((1440, 600)),
                Preset((2400, 1000)),
                Preset((3840, 1600), detail="fine", resolution=PRINTED),
            ),
            signed=True,
        ),
        ExportOption(
            ExportKind.ROD_SHEET,
            "Pages for the whole rod: guide places, thread and finish of all wraps, weight, cost, "
            "order of work; then the sheet of each wrap",
            (".pdf",),
            _PAPER,
        ),
        ExportOption(
            ExportKind.TEMPLATE, "The wrap unrolled at its true size, to cut out", (".pdf",), _PAPER
        ),
        ExportOption(
            ExportKind.MESH,
            "A 3D model for other programs, with its look as .glb",
            (".glb", ".stl", ".ply"),
            {detail: Preset(detail=detail) for detail in ("draft", "normal", "fine")},
        ),
    )
}
"""Everything that can be sent, by kind."""


def option_state(option: ExportOption) -> dict[str, Any]:
    """What a page is told of something that can be sent.

    Parameters
    ----------
    option : ExportOption
    """
    return {
        "kind": option.kind.value,
        "description": _description(option),
        "formats": list(option.formats),
        "sizes": list(option.presets),
        "shapes": [shape.value for shape in option.shapes],
        "signed": option.signed,
    }


def _description(option: ExportOption) -> str:
    """What is made, and whether something that it needs cannot be had here."""
    if option.kind is ExportKind.PHOTOGRAPH and find_spec("mitsuba") is None:
        return (
            f"{option.description}. Not installed here: python3 start.py installs it, on computers "
            "that there is a path tracer for"
        )
    return option.description
