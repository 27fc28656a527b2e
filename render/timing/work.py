"""The work of making a file, and the time that it takes one processor core.

The constants are processor seconds, measured on two cores at 2.5 GHz without a graphics processor.
The model is coarse on purpose: a share for building the wrap, by points of its grid; one for
drawing, by pixels and pictures; one for encoding, by pixels of the film; one for paths of light. It
says how much longer one file takes than another. How fast a machine is, `render.timing.kept_times`
finds out.
"""

from dataclasses import dataclass

__all__ = ["BUILD", "Work", "modelled_seconds"]

BUILD = 0.55
"""Seconds to build a million points of the grid."""

_BEGIN = 1.5
"""Seconds to load what draws, and to put one design on the stage."""

_FRAME = 0.2
"""Seconds of a picture of any size."""

_MEGAPIXEL = 1.1
"""Seconds to draw a million pixels of a picture, with four samples each."""

_ENCODED = {".gif": 0.9, ".mp4": 0.5, ".webp": 0.8}
"""Seconds to encode a million pixels; less for what is not listed."""

_ENCODED_ELSE = 0.2

_LIMITED = 1.6
"""Times the encoding, where a film is fitted to a size limit."""

_PACKED = 8.0
"""Seconds to pack a design for a browser."""

_PATHS = 0.6
"""Seconds to trace a million paths of light."""

_PHOTO = 6.0
"""Seconds to prepare a path-traced picture."""

_SHEET = 4.0
"""Seconds of a wrap's bench sheet, beside building it for its picture."""

_TEMPLATE = 0.2
"""Seconds of a template, for which nothing is built."""

_ARTWORK = 0.6
"""Seconds of artwork at its true size, for which nothing is built."""

_MESH = 0.6
"""Seconds to write a million points of a mesh."""

_USUAL_POINTS = 1.5
"""Points of a wrap where they are not known, millions."""


@dataclass(frozen=True, slots=True)
class Work:
    """What is to be made, as far as its time depends on it.

    Parameters
    ----------
    kind : str
        Kind of file, such as ``still``; after a colon what else tells such files apart.
    ending : str
        File name extension.
    size : (int, int), optional
        Width and height of a picture, pixels.
    frames : int
        Pictures of each design.
    detail : str
        Value of a `Detail`.
    designs : int
        Designs that are shown.
    limited : bool
        Whether the file has a size limit.
    paper : str
        Paper size of printed pages.
    paths : int
        Paths of light through a pixel; 0 if the picture is drawn live.
    sheets : int
        Bench sheets in the file: of the rod, and of each of its wraps.
    points : float, optional
        Points of the grids of a design, millions. Works that differ in it alone are the same.
    estimate : float, optional
        Seconds that it takes one core, from who has planned its many parts; no model is asked then.
        Works that differ in it alone are the same.
    """

    kind: str
    ending: str
    size: tuple[int, int] | None = None
    frames: int = 1
    detail: str = "normal"
    designs: int = 1
    limited: bool = False
    paper: str = ""
    paths: int = 0
    sheets: int = 1
    points: float | None = None
    estimate: float | None = None

    @property
    def key(self) -> str:
        """Name of all works that take about as long on one machine."""
        size = "x".join(map(str, self.size)) if self.size else self.paper
        parts = (self.kind, self.ending, size, self.frames, self.detail, self.designs)
        more = [f"{self.paths} paths"] if self.paths else []
        more += [f"{self.sheets} sheets"] if self.sheets > 1 else []
        return " ".join(map(str, (*parts, *more)))

    @property
    def group(self) -> str:
        """Works whose times have about the same ratio on any two machines."""
        if self.estimate is not None:
            return self.kind.partition(":")[0]
        if self.paths:
            return "photographs"
        return "pictures" if self.size else "papers and meshes"


def modelled_seconds(work: Work) -> float:
    """Seconds that some work takes one core like those on which the constants were measured.

    Parameters
    ----------
    work : Work
    """
    if work.estimate is not None:
        return work.estimate
    points = _USUAL_POINTS if work.points is None else work.points
    building = work.designs * BUILD * points
    if work.size is None:
        by_kind = {
            "template": _TEMPLATE,
            "printed artwork": _ARTWORK,
            "bench sheet": building + work.sheets * _SHEET,
        }
        return by_kind.get(work.kind, building + _MESH * points)
    pixels = work.size[0] * work.size[1] / 1e6
    pictures = work.frames * work.designs
    seconds = building + work.designs * _BEGIN
    if work.paths:
        seconds += _PHOTO + pictures * pixels * work.paths * _PATHS
    else:
        seconds += pictures * (_FRAME + _MEGAPIXEL * pixels)
    if work.ending == ".html":
        seconds += work.designs * _PACKED
    encoding = _ENCODED.get(work.ending, _ENCODED_ELSE) * pixels * pictures
    return seconds + encoding * (_LIMITED if work.limited and work.frames > 1 else 1.0)
