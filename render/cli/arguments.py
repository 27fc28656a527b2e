"""Options that commands share: of the design, of the view and of the capture."""

import math
import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path

from cyclopts import Parameter

from materials.vision import Deficiency
from render.cli.converters import Flag, Number, Whole
from render.common.error_reporting import print_message
from render.common.files import check_no_input
from render.common.problems import RequestProblem
from render.pathtraced.engines import Engine
from render.request.capture_settings import CaptureSettings
from render.request.options import choice, input_files, subject_of
from render.request.subject import Subject
from scenes.customer.number import dry
from scenes.design.document import with_changes
from scenes.design.rod import at_wrap
from scenes.design.variants import variant
from scenes.light.lights import LightKind
from scenes.parts.view import Ground, Lean, View
from scenes.problems import DesignProblem

__all__ = [
    "CAPTURE_DEFAULTS",
    "DESIGN_DEFAULTS",
    "VIEW_DEFAULTS",
    "CaptureOptions",
    "DesignOptions",
    "ViewOptions",
    "read_capture",
    "read_subject",
]


@Parameter(name="*")
@dataclass(frozen=True, slots=True)
class DesignOptions:
    """Changes to the design, and its threads.

    Parameters
    ----------
    variant : str, optional
        One of the variants of the design, or of the wrap that is asked for.
    shelf : Path, optional
        Your own shelf of threads, in place of the one that the design names.
    dry : bool
        Without finish.
    coats : int, optional
        With so many coats of finish.
    wrap : str, optional
        Which wrap of a rod with several; the first if not given.
    """

    variant: str | None = None
    shelf: Path | None = None
    dry: Flag = False
    coats: Whole | None = None
    wrap: str | None = None


@Parameter(name="*")
@dataclass(frozen=True, slots=True)
class ViewOptions:
    """Detail, view, light and camera of a picture.

    Parameters
    ----------
    detail : str
        draft, normal or fine.
    view : str, optional
        whole wrap, whole rod, three-quarter, close, along the rod or arm's length (hyphens for
        spaces will do).
    whole : bool
        All that is wound and fitted on the rod fills the picture, not the wrap alone; in a still,
        each wrap stands enlarged beside it.
    turn : float, optional
        Turn the rod about its axis, degrees.
    light : str, optional
        soft boxes, north window, workshop lamp or low sun.
    light_turn : float, optional
        Turn the light round the rod, degrees.
    backdrop : str, optional
        Card behind the rod: dark, light, or a colour such as 5a6b70, with or without #.
    ground : str, optional
        What lies under the rod: card, workbench, slate or linen.
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
    lean : str, optional
        level, aslant, upright, or fit, which shows the wrap as large as the picture allows.
    """

    detail: str = "normal"
    view: str | None = None
    whole: Flag = False
    turn: Number | None = None
    light: str | None = None
    light_turn: Number | None = None
    backdrop: str | None = None
    ground: str | None = None
    exposure: Number | None = None
    walk: Number | None = None
    rise: Number | None = None
    zoom: Number | None = None
    along: Number | None = None
    lean: str | None = None


@Parameter(name="*")
@dataclass(frozen=True, slots=True)
class CaptureOptions:
    """Live or path-traced, and for which eyes.

    Parameters
    ----------
    photo : bool
        Path-trace it: up to a minute for each picture, and as near to a photograph as we get.
    samples : int, optional
        Paths through each pixel of a photo; more take longer and leave less noise.
    engine : str, optional
        What traces a photo: gpu, llvm or scalar; otherwise the fastest that works here.
    vision : str, optional
        Show what is seen with a colour-vision deficiency: protan, deutan or tritan.
    """

    photo: Flag = False
    samples: Whole | None = None
    engine: str | None = None
    vision: str | None = None


DESIGN_DEFAULTS = DesignOptions()
VIEW_DEFAULTS = ViewOptions()
CAPTURE_DEFAULTS = CaptureOptions()


def read_subject(
    file: str,
    design_options: DesignOptions,
    view_options: ViewOptions = VIEW_DEFAULTS,
    *,
    output: Path | None = None,
) -> Subject:
    """Read a design and change it as the options ask.

    Parameters
    ----------
    file : str
        Path, or ``sample:`` and a sample's name.
    design_options : DesignOptions
    view_options : ViewOptions, optional
    output : Path, optional
        File that the command writes, which must be none that the design is read from.

    Raises
    ------
    RequestProblem, DesignProblem, ShelfProblem
    """
    subject = subject_of(file, design_options.shelf)
    if output is not None:
        check_no_input(output, input_files(file, subject, design_options.shelf))
    design = subject.design
    if design_options.dry and design_options.coats is not None:
        raise RequestProblem("coats: --coats and --dry are given together; keep one.")
    if design_options.wrap is not None:
        try:
            design = at_wrap(design, design_options.wrap)
        except DesignProblem as problem:
            raise RequestProblem(f"wrap: {problem}") from None
    if design_options.variant is not None:
        try:
            design = variant(design, design_options.variant)
        except DesignProblem as problem:
            raise RequestProblem(f"variant: {problem}") from None
    if view_options.whole and view_options.view is not None:
        raise RequestProblem("view: --view and --whole are given together; keep one.")
    view = View.WHOLE_ROD.value if view_options.whole else view_options.view
    wanted = {
        "camera.view": _value_of("view", view, View),
        "camera.turn": _turn("turn", view_options.turn),
        "camera.walk": view_options.walk,
        "camera.rise": view_options.rise,
        "camera.zoom": view_options.zoom,
        "camera.along": view_options.along,
        "camera.lean": _value_of("lean", view_options.lean, Lean),
        "light.kind": _value_of("light", view_options.light, LightKind),
        "light.turn": _turn("light-turn", view_options.light_turn),
        "light.backdrop": _backdrop(view_options.backdrop),
        "light.ground": _ground(view_options),
        "light.exposure": view_options.exposure,
        "light.hold_highlights": None if view_options.exposure is None else False,
        "finish.coats": 0 if design_options.dry else design_options.coats,
    }
    changes = {path: value for path, value in wanted.items() if value is not None}
    if changes:
        with _naming_options(changes):
            design = with_changes(design, changes)
    if design_options.dry:
        design = dry(design)
    return replace(subject, design=design)


@contextmanager
def _naming_options(changes: Iterable[str]) -> Iterator[None]:
    """Name the option in a refusal, not the field that it sets."""
    try:
        yield
    except DesignProblem as problem:
        path, sentence = problem.field, str(problem)
        if path not in changes or not sentence.startswith(f"{path}: "):
            raise
        raise RequestProblem(path.rpartition(".")[2] + sentence.removeprefix(path)) from None


def _value_of(field: str, text: str | None, options: type[StrEnum]) -> str | None:
    return None if text is None else choice(field, text, options).value


def _backdrop(text: str | None) -> str | None:
    if text is None:
        return None
    # A bare # begins a comment in most shells, so it may be left out.
    return f"#{text}" if re.fullmatch("[0-9a-fA-F]{6}", text) else text.casefold()


def _ground(view_options: ViewOptions) -> str | None:
    """The ground asked for; card where a colour of card is."""
    ground = _value_of("ground", view_options.ground, Ground)
    if view_options.backdrop is None:
        return ground
    if ground not in (None, Ground.CARD.value):
        raise RequestProblem(
            f"ground: {ground} has colours of its own, and --backdrop gives that of card; keep one."
        )
    return Ground.CARD.value


def _turn(field: str, degrees: float | None) -> float | None:
    if degrees is not None and not (math.isfinite(degrees) and abs(degrees) <= 360):
        raise RequestProblem(
            f"{field}: {degrees:g} is not between -360 and 360 degrees; give a turn in degrees."
        )
    return degrees


def read_capture(capture_options: CaptureOptions) -> CaptureSettings:
    """Read the capture settings, and check that this machine can take such pictures.

    Parameters
    ----------
    capture_options : CaptureOptions

    Raises
    ------
    RequestProblem
        If an option is wrong, or the photo extra is not installed.
    """
    vision = (
        None
        if capture_options.vision is None
        else choice("vision", capture_options.vision, Deficiency)
    )
    engine = (
        None if capture_options.engine is None else choice("engine", capture_options.engine, Engine)
    )
    capture = CaptureSettings(capture_options.photo, capture_options.samples, vision, engine)
    capture.prepare(print_message)
    return capture
