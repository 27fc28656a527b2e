"""Words and numbers as they are typed on the command line."""

import math
import re
from collections.abc import Sequence
from dataclasses import replace
from enum import StrEnum
from pathlib import Path
from typing import TypeVar

from geometry.grid import Detail
from materials.lamps import Lamp
from materials.shelf import Shelf
from materials.vision import Deficiency
from render.common.problems import RequestProblem
from render.request.capture_settings import Manner
from render.request.subject import Size, Subject, check_size
from scenes.design.document import with_changes
from scenes.design.threads import check_threads
from scenes.design.variants import sweep, variant
from scenes.design.variants import variants as variants_of
from scenes.files import samples, storage
from scenes.files.companion_files import Beside
from scenes.light.lights import LightKind
from scenes.parts.view import View
from scenes.problems import DesignProblem, nearest, one_of, shown

__all__ = [
    "SAMPLE",
    "adjusted",
    "detail_of",
    "lamp_of",
    "manner_of",
    "size_of",
    "subject_of",
    "subjects_of",
]

Choice = TypeVar("Choice", bound=StrEnum)

SAMPLE = "sample:"
"""What stands before the name of a sample in place of a file."""


def size_of(text: str) -> Size:
    """Read a size such as ``1280x720``.

    Raises
    ------
    RequestProblem
    """
    match = re.fullmatch(r"\s*(\d{1,9})\s*[xX×]\s*(\d{1,9})\s*", text)
    if match is None:
        raise RequestProblem(
            f"size: {shown(text)} is not a size; give width and height in pixels, such as 1280x720."
        )
    size = int(match[1]), int(match[2])
    check_size(size)
    return size


def detail_of(text: str) -> Detail:
    """Read how much detail is wanted.

    Raises
    ------
    RequestProblem
    """
    return _choice("detail", text, Detail)


def lamp_of(text: str) -> Lamp:
    """Read what light a photograph was taken in.

    Raises
    ------
    RequestProblem
    """
    return _choice("lamp", text, Lamp)


def manner_of(
    *, photo: bool = False, samples: int | None = None, vision: str | None = None
) -> Manner:
    """Read how pictures are to be taken, and check that they can be taken so here.

    Raises
    ------
    RequestProblem
    """
    seen = None if vision is None else _choice("vision", vision, Deficiency)
    manner = Manner(photo, samples, seen)
    manner.check()
    return manner


def subject_of(file: str, shelf: Path | None = None) -> Subject:
    """Read a design, from a file or from the samples.

    Parameters
    ----------
    file : str
        Path, or ``sample:`` and a sample's name.
    shelf : Path, optional
        The builder's own shelf, in place of the one that the design names.

    Raises
    ------
    DesignProblem, ShelfProblem
    """
    own = None if shelf is None else Shelf.shipped().with_own(Shelf.load(shelf))
    if file.startswith(SAMPLE):
        design = samples.load(file.removeprefix(SAMPLE))
        used = own or Shelf.shipped()
        check_threads(design, used)
        return Subject(design, used)
    design = storage.load(file, own)
    return Subject(design, own or storage.shelf_for(design, file), Beside.of(file))


def adjusted(
    subject: Subject,
    *,
    variant_name: str | None = None,
    view: str | None = None,
    turn: float | None = None,
    light: str | None = None,
    light_turn: float | None = None,
    backdrop: str | None = None,
    exposure: float | None = None,
    walk: float | None = None,
    rise: float | None = None,
    zoom: float | None = None,
    along: float | None = None,
    dry: bool = False,
    coats: int | None = None,
) -> Subject:
    """Change a design as the options of the command line ask.

    Parameters
    ----------
    subject : Subject
    variant_name : str, optional
        One of the design's variants, in its place.
    view, light : str, optional
    turn, light_turn : float, optional
        Degrees.
    backdrop : str, optional
        ``dark``, ``light`` or six hex digits, with or without ``#``.
    exposure : float, optional
        Stops, below 0 for darker.
    walk, rise, zoom, along : float, optional
        From where the view is seen: degrees, a factor, and the design's own units.
    dry : bool
        Leave the finish out.
    coats : int, optional
        Coats of finish.

    Raises
    ------
    RequestProblem, DesignProblem
    """
    design = subject.design
    if dry and coats is not None:
        raise RequestProblem("coats: --coats and --dry are given together; keep one.")
    if variant_name is not None:
        try:
            design = variant(design, variant_name)
        except DesignProblem as problem:
            raise RequestProblem(f"variant: {problem}") from None
    changes: dict[str, object] = {}
    if view is not None:
        changes["camera.view"] = _choice("view", view, View).value
    if turn is not None:
        changes["camera.turn"] = _turn("turn", turn)
    for name, value in (("walk", walk), ("rise", rise), ("zoom", zoom), ("along", along)):
        if value is not None:
            changes[f"camera.{name}"] = value
    if light is not None:
        changes["light.kind"] = _choice("light", light, LightKind).value
    if light_turn is not None:
        changes["light.turn"] = _turn("light-turn", light_turn)
    if backdrop is not None:
        # A bare # begins a comment in most shells, so it may be left out.
        hexed = re.fullmatch("[0-9a-fA-F]{6}", backdrop)
        changes["light.backdrop"] = f"#{backdrop}" if hexed else backdrop.casefold()
    if exposure is not None:
        changes["light.exposure"] = exposure
    if dry:
        changes["finish.coats"] = 0
    if coats is not None:
        changes["finish.coats"] = coats
    return replace(subject, design=with_changes(design, changes) if changes else design)


def _choice(field: str, text: str, options: type[Choice]) -> Choice:
    """Find the option that is meant; capitals, spaces, hyphens and apostrophes do not matter."""
    found = {_bare(option.value): option for option in options}
    if _bare(text) in found:
        return found[_bare(text)]
    values = [option.value for option in options]
    close = nearest(text, values)
    hint = f"did you mean {close}?" if close else f"give {one_of(values)}."
    raise RequestProblem(f"{field}: {shown(text)} is not a {field}; {hint}")


def _bare(text: str) -> str:
    return re.sub(r"[\s_'’-]+", "", text.casefold())


def _turn(field: str, degrees: float) -> float:
    if not (math.isfinite(degrees) and abs(degrees) <= 360):
        raise RequestProblem(
            f"{field}: {degrees:g} is not between -360 and 360 degrees; give a turn in degrees."
        )
    return degrees


def subjects_of(
    given: Sequence[Subject], *, variants: bool = False, sweep_spec: str | None = None
) -> list[Subject]:
    """List the designs that a comparison is of.

    Parameters
    ----------
    given : sequence of Subject
        One for each file.
    variants : bool
        Compare the variants of one file.
    sweep_spec : str, optional
        Compare the values of one field, such as ``relief.gap=14,20,26``.

    Raises
    ------
    RequestProblem, DesignProblem
    """
    if variants and sweep_spec is not None:
        raise RequestProblem("compare: --variants and --sweep are given together; keep one.")
    if len(given) > 1:
        if variants or sweep_spec is not None:
            option = "--variants" if variants else "--sweep"
            raise RequestProblem(
                f"compare: {option} is of one design and {len(given)} files are given; keep one."
            )
        return list(given)
    only = given[0]
    if sweep_spec is not None:
        made = sweep(only.design, sweep_spec)
    elif only.design.variants:
        made = variants_of(only.design)
    else:
        raise RequestProblem(
            "compare: this design has no variants; give several files, or a --sweep such as "
            "relief.gap=14,20,26."
        )
    return [replace(only, design=design) for _, design in made]
