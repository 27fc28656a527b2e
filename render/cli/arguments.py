"""What most commands are told: which design, how it is looked at, how its picture is taken."""

import math
import re
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path

from cyclopts import Parameter

from materials.vision import Deficiency
from render.cli.converters import Flag, Number, Whole
from render.common.problems import RequestProblem
from render.output.size_limit import megabytes
from render.request.capture_settings import CaptureSettings
from render.request.options import choice, subject_of
from render.request.subject import Subject
from scenes.design.document import with_changes
from scenes.design.variants import variant
from scenes.light.lights import LightKind
from scenes.parts.view import View
from scenes.problems import DesignProblem

__all__ = [
    "AS_DESIGNED",
    "LIVE",
    "PLAIN",
    "Look",
    "Pick",
    "Taken",
    "capture_of",
    "subject_wanted",
    "weight_of",
]


@Parameter(name="*")
@dataclass(frozen=True, slots=True)
class Pick:
    """Which design, with which threads.

    Parameters
    ----------
    variant : str, optional
        One of the design's variants.
    shelf : Path, optional
        Your own shelf of threads, in place of the one that the design names.
    dry : bool
        Without finish.
    coats : int, optional
        With so many coats of finish.
    """

    variant: str | None = None
    shelf: Path | None = None
    dry: Flag = False
    coats: Whole | None = None


@Parameter(name="*")
@dataclass(frozen=True, slots=True)
class Look:
    """How it is looked at.

    Parameters
    ----------
    detail : str
        draft, normal or fine.
    view : str, optional
        whole wrap, three-quarter, close, end-on or arm's length (hyphens for spaces will do).
    turn : float, optional
        Turn the rod about its axis, degrees.
    light : str, optional
        soft boxes, north window, workshop lamp or low sun.
    light_turn : float, optional
        Turn the light round the rod, degrees.
    backdrop : str, optional
        Card behind the rod: dark, light, or a colour such as 5a6b70, with or without #.
    exposure : float, optional
        Stops of exposure, below 0 for darker: bright metal close up may want -1.
    walk : float, optional
        Walk the camera round the rod towards its tip, degrees.
    rise : float, optional
        Raise the camera over the rod, degrees.
    zoom : float, optional
        How many times larger than the view has it.
    along : float, optional
        Move the camera along the rod towards its tip, in the design's units.
    """

    detail: str = "normal"
    view: str | None = None
    turn: Number | None = None
    light: str | None = None
    light_turn: Number | None = None
    backdrop: str | None = None
    exposure: Number | None = None
    walk: Number | None = None
    rise: Number | None = None
    zoom: Number | None = None
    along: Number | None = None


@Parameter(name="*")
@dataclass(frozen=True, slots=True)
class Taken:
    """How the picture is taken.

    Parameters
    ----------
    photo : bool
        Path-trace it: a minute for each picture, and as near to a photograph as we get.
    samples : int, optional
        Paths through each pixel of a photo; more take longer and leave less noise.
    vision : str, optional
        Show what is seen with a colour-vision deficiency: protan, deutan or tritan.
    """

    photo: Flag = False
    samples: Whole | None = None
    vision: str | None = None


PLAIN = Pick()
AS_DESIGNED = Look()
LIVE = Taken()


def subject_wanted(file: str, pick: Pick, look: Look = AS_DESIGNED) -> Subject:
    """Read the design that is asked for, changed as the options ask.

    Raises
    ------
    RequestProblem, DesignProblem, ShelfProblem
    """
    subject = subject_of(file, pick.shelf)
    design = subject.design
    if pick.dry and pick.coats is not None:
        raise RequestProblem("coats: --coats and --dry are given together; keep one.")
    if pick.variant is not None:
        try:
            design = variant(design, pick.variant)
        except DesignProblem as problem:
            raise RequestProblem(f"variant: {problem}") from None
    wanted = {
        "camera.view": _value_of("view", look.view, View),
        "camera.turn": _turn("turn", look.turn),
        "camera.walk": look.walk,
        "camera.rise": look.rise,
        "camera.zoom": look.zoom,
        "camera.along": look.along,
        "light.kind": _value_of("light", look.light, LightKind),
        "light.turn": _turn("light-turn", look.light_turn),
        "light.backdrop": _backdrop(look.backdrop),
        "light.exposure": look.exposure,
        "finish.coats": 0 if pick.dry else pick.coats,
    }
    changes = {path: value for path, value in wanted.items() if value is not None}
    return replace(subject, design=with_changes(design, changes) if changes else design)


def _value_of(field: str, text: str | None, options: type[StrEnum]) -> str | None:
    return None if text is None else choice(field, text, options).value


def _backdrop(text: str | None) -> str | None:
    if text is None:
        return None
    # A bare # begins a comment in most shells, so it may be left out.
    return f"#{text}" if re.fullmatch("[0-9a-fA-F]{6}", text) else text.casefold()


def _turn(field: str, degrees: float | None) -> float | None:
    if degrees is not None and not (math.isfinite(degrees) and abs(degrees) <= 360):
        raise RequestProblem(
            f"{field}: {degrees:g} is not between -360 and 360 degrees; give a turn in degrees."
        )
    return degrees


def capture_of(taken: Taken) -> CaptureSettings:
    """Read how pictures are to be taken, and check that they can be taken so here.

    Raises
    ------
    RequestProblem
    """
    seen = None if taken.vision is None else choice("vision", taken.vision, Deficiency)
    capture = CaptureSettings(taken.photo, taken.samples, seen)
    capture.check()
    return capture


def weight_of(path: Path) -> str:
    """Say how large a file, or all of a folder, is."""
    files = [path] if path.is_file() else list(path.iterdir())
    return megabytes(sum(file.stat().st_size for file in files))
