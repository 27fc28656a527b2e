"""Options read from text: sizes, detail, choices, and the designs that are named."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from enum import StrEnum
from pathlib import Path
from typing import TypeVar

from geometry.grid import Detail
from materials.shelf import Shelf
from render.common.files import Input
from render.common.problems import RequestProblem
from render.request.shapes import Shape, shape_size
from render.request.subject import Size, Subject, check_size
from scenes.design.threads import check_threads
from scenes.design.variants import sweep
from scenes.design.variants import variants as variants_of
from scenes.files import samples, storage
from scenes.files.companion_files import CompanionFiles, file_names
from scenes.problems import article, nearest, one_of, shown

__all__ = [
    "SAMPLE",
    "choice",
    "detail_of",
    "input_files",
    "size_of",
    "subject_of",
    "subjects_of",
]

Choice = TypeVar("Choice", bound=StrEnum)

SAMPLE = "sample:"
"""Prefix of a sample's name where a file is expected."""


def size_of(text: str, *, short_side: int = 1080) -> Size:
    """Read a size such as ``1280x720``, or a shape such as ``4:5`` or ``A4``.

    Parameters
    ----------
    text : str
        Width and height, pixels, or the value of a `Shape`.
    short_side : int
        Shorter side of a picture that is given by its shape, pixels.

    Raises
    ------
    RequestProblem
        If the text is not a size, or no picture of this size can be drawn.
    """
    shapes = {_bare(shape.value): shape for shape in Shape}
    # A sign before it is no hyphen between words.
    if _bare(text) in shapes and text.lstrip()[:1].isalnum():
        return shape_size(shapes[_bare(text)], short_side)
    match = re.fullmatch(r"\s*(\d{1,9})\s*[xX×]\s*(\d{1,9})\s*", text)
    if match is None:
        raise RequestProblem(
            f"size: {shown(text)} is not a size; give width and height in pixels, such as "
            f"1280x720, or a shape: {one_of([shape.value for shape in Shape])}."
        )
    size = int(match[1]), int(match[2])
    check_size(size)
    return size


def detail_of(text: str) -> Detail:
    """Read a level of detail.

    Parameters
    ----------
    text : str
        draft, normal or fine.

    Raises
    ------
    RequestProblem
    """
    return choice("detail", text, Detail)


def subject_of(file: str, shelf: Path | None = None) -> Subject:
    """Read a design from a file or from the samples.

    Parameters
    ----------
    file : str
        Path, or ``sample:`` and a sample's name.
    shelf : Path, optional
        The builder's own shelf, instead of the one that the design names.

    Returns
    -------
    Subject

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
    return Subject(design, own or storage.shelf_for(design, file), CompanionFiles.of(file))


def input_files(file: str, subject: Subject, shelf: Path | None = None) -> Iterator[Input]:
    """List the files that a design was read from.

    Parameters
    ----------
    file : str
        Path, or ``sample:`` and a sample's name.
    subject : Subject
        What was read.
    shelf : Path, optional
        The builder's own shelf, instead of the one that the design names.

    Yields
    ------
    Input
    """
    if not file.startswith(SAMPLE):
        yield Path(file), "is the design itself"
    if shelf is not None:
        yield shelf, "is the shelf itself"
    folder = subject.beside.folder
    if folder is not None:
        names = [name for _, name in file_names(subject.design)]
        for name in (*names, *([subject.design.shelf] if subject.design.shelf else [])):
            yield folder / name, "is a file that the design uses"


def choice(field: str, text: str, options: type[Choice]) -> Choice:
    """Find an option by its value; case, spaces, hyphens and apostrophes are ignored.

    Parameters
    ----------
    field : str
        Name of the option, for the message.
    text : str
        As typed.
    options : type of StrEnum

    Raises
    ------
    RequestProblem
        If there is no such option; the message names the nearest one.
    """
    found = {_bare(option.value): option for option in options}
    if _bare(text) in found:
        return found[_bare(text)]
    values = [option.value for option in options]
    close = nearest(text, values)
    hint = f"did you mean {close}?" if close else f"give {one_of(values)}."
    raise RequestProblem(f"{field}: {shown(text)} is not {article(field)} {field}; {hint}")


def _bare(text: str) -> str:
    return re.sub(r"[\s_'’-]+", "", text.casefold())


def subjects_of(
    given: Sequence[Subject], *, variants: bool = False, sweep_spec: str | None = None
) -> list[Subject]:
    """List the designs to compare.

    Parameters
    ----------
    given : sequence of Subject
        One for each file.
    variants : bool, optional
        Compare the variants of the only file.
    sweep_spec : str, optional
        Compare values of one field of the only file, such as ``relief.gap=14,20,26``.

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
        return [replace(only, design=design) for _, design in sweep(only.design, sweep_spec)]
    if only.design.variants:
        made = variants_of(only.design)
        if len(made) == 1:
            name, reason = next(iter(only.design.variants_set_aside.items()))
            raise RequestProblem(f"compare: no variant fits this design; {shown(name)}: {reason}")
    else:
        raise RequestProblem(
            "compare: this design has no variants; give several files, or a --sweep such as "
            "relief.gap=14,20,26."
        )
    return [
        replace(only, design=design, variant=name if index else "")
        for index, (name, design) in enumerate(made)
    ]
