"""Results of a fit as tables, sentences, a picture and a design file."""

import math
import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from rich.table import Table

from geometry.grid import Detail
from materials.toml_text import named
from render.common.files import check_output
from render.common.problems import RequestProblem
from render.common.progress import Progress
from render.output.compare import Comparison, save_comparison
from render.request.options import SAMPLE
from render.request.subject import Subject
from scenes.design.document import Design, with_changes
from scenes.design.rod import at_wrap, put_back
from scenes.figures.formatter import FigureFormatter
from scenes.files import samples, storage
from scenes.files.companion_files import copy_files
from scenes.fit.measures import MEASURES, Measured
from scenes.fit.search import Fit, Solution
from scenes.fit.trials import Trial, Trials
from scenes.fit.wishes import Wish
from scenes.fit.wording import (
    measure_in_table,
    measures_in_table,
    solution_label,
    units_of,
)
from scenes.problems import one_of

__all__ = [
    "ChangedDesign",
    "changed_design",
    "check_target",
    "fit_table",
    "measures_after_saving",
    "measures_table",
    "read_again",
    "save_changed",
    "save_picture",
    "solution_at",
    "source_of",
    "warning_lines",
]

_MAX_LABEL_WIDTH = 46
"""Width of the column of differences, characters."""

_READ_WITHIN = 1e-9
"""Relative difference of a measure that comes from writing and reading decimal numbers."""


def measures_table(measured: Measured) -> Table:
    """Table of the measures that may be wished, with their present values.

    Parameters
    ----------
    measured : Measured
        The design and its measures.
    """
    table = Table(box=None, pad_edge=False)
    for heading in ("wish", "now", "what it is"):
        table.add_column(heading, no_wrap=heading != "what it is")
    for measure in MEASURES.values():
        value = measure.of(measured)
        if value is not None:
            table.add_row(measure.name, measure.text(value, measured.design.units), measure.what)
    return table


def fit_table(found: Fit) -> Table:
    """Table of the original design and the solutions, with their measures.

    Parameters
    ----------
    found : Fit
    """
    units = units_of(found)
    trials = [found.before, *(solution.trial for solution in found.solutions)]
    measures = measures_in_table(found)
    table = Table(box=None, pad_edge=False)
    table.add_column("no.", justify="right")
    table.add_column("design", max_width=_MAX_LABEL_WIDTH)
    for measure in measures:
        unit = FigureFormatter(units).unit(measure.kind).replace("degrees", "°")
        heading = measure.name.replace("_", " ") + (f"\n{unit}" if unit else "")
        table.add_column(heading, justify="right")
    for number, trial in enumerate(trials):
        cells = [measure_in_table(measure, trial, units) for measure in measures]
        table.add_row(str(number), solution_label(found, number), *cells)
    return table


def solution_at(found: Fit, choose: int) -> Solution:
    """Solution with a number of the table.

    Parameters
    ----------
    found : Fit
    choose : int
        Number in the table, from 1.

    Raises
    ------
    RequestProblem
        If the table has no such number.
    """
    count = len(found.solutions)
    if not 1 <= choose <= count:
        there = "there is 1 design" if count == 1 else f"there are {count} designs"
        raise RequestProblem(f"choose: {choose} is not in the table; {there}, counted from 1.")
    return found.solutions[choose - 1]


def warning_lines(warned: Sequence[Sequence[str]]) -> Iterator[str]:
    """Say which solutions bring which new warnings; a heading first, if there are any.

    Parameters
    ----------
    warned : sequence of sequence of str
        New warnings of each solution.
    """
    numbers: dict[str, list[str]] = {}
    for number, warnings in enumerate(warned, 1):
        for warning in warnings:
            numbers.setdefault(warning, []).append(str(number))
    if numbers:
        yield "New warnings:"
    for warning, those in numbers.items():
        yield f"  design{'s' * (len(those) > 1)} {one_of(those, 'and')}: {warning}"


def save_picture(
    found: Fit, subject: Subject, path: Path, detail: Detail, progress: Progress
) -> Comparison:
    """Write a picture of the original design above the solutions.

    Parameters
    ----------
    found : Fit
    subject : Subject
        The original design.
    path : Path
        A PNG file.
    detail : Detail
    progress : Progress
        Advanced by `render.output.compare.steps`.

    Raises
    ------
    RequestProblem, DrawingProblem
    """
    designs = [found.before.design, *(solution.design for solution in found.solutions)]
    subjects = [
        Subject(design, subject.shelf, subject.beside) for design in designs if design is not None
    ]
    comparison = Comparison.of(subjects)
    kept = [subject.design for subject in comparison.subjects]
    numbers = [_number_in_table(design, designs) for design in kept]
    labels = [f"{number}   {_caption(found, number)}" for number in numbers]
    comparison = replace(comparison, labels=tuple(labels))
    save_comparison(comparison, path, detail=detail, progress=progress)
    return comparison


def check_target(output: Path, own: str = "") -> None:
    """Check that a design can be written to a new file, or back to its own.

    Parameters
    ----------
    output : Path
    own : str, optional
        File of the design, if it may be changed in place.

    Raises
    ------
    RequestProblem
    """
    if output.suffix.casefold() != ".toml":
        raise RequestProblem(f"output: {named(output)} is no design file; give a name in .toml.")
    check_output(output)
    if os.path.lexists(output) and not _is_same_file(output, own):
        in_place = ", or the design's own to change it in place" if own else ""
        raise RequestProblem(
            f"output: {named(output)} is there already; give another name{in_place}."
        )


def source_of(file: str) -> str:
    """Read the text of a design file, whose comments and layout are kept when saving.

    Parameters
    ----------
    file : str
        Path, or ``sample:`` and a sample's name.

    Raises
    ------
    DesignProblem
    """
    if file.startswith(SAMPLE):
        return samples.text(file.removeprefix(SAMPLE))
    return storage.read(Path(file))


@dataclass(frozen=True, slots=True)
class ChangedDesign:
    """A changed design as the text of its file.

    Parameters
    ----------
    design : Design
        With its variants.
    text : str
        Text of the file, with the comments and layout of the original one.
    set_aside : tuple of str
        Names of variants that do not fit any more; they stay in the file.
    """

    design: Design
    text: str
    set_aside: tuple[str, ...]


def changed_design(
    subject: Subject, changes: Mapping[str, Any], source: str, wrap: str | None = None
) -> ChangedDesign:
    """Change a design, and write it as text.

    Parameters
    ----------
    subject : Subject
        The original design, with its variants.
    changes : mapping of str to object
        Value by path.
    source : str
        Text of its file, as read by `source_of`.
    wrap : str, optional
        Name of the wrap that it is seen from, if it is not the first.

    Raises
    ------
    DesignProblem
        If it cannot be written as text.
    """
    design = with_changes(subject.design, changes)
    before = subject.design.variants_set_aside
    set_aside = tuple(name for name in design.variants_set_aside if name not in before)
    document = design if wrap is None else put_back(storage.parse(source), wrap, design)
    return ChangedDesign(design, storage.text_of(document, source), set_aside)


def read_again(
    found: Fit, number: int, subject: Subject, source: str, wrap: str | None = None
) -> ChangedDesign:
    """Write a solution as text, read it back, and check that it is the design that was found.

    Parameters
    ----------
    found : Fit
    number : int
        Number of the solution in the table, from 1.
    subject : Subject
        The original design, with its variants.
    source : str
        Text of its file, as read by `source_of`.
    wrap : str, optional
        Name of the wrap that it is seen from, if it is not the first.

    Raises
    ------
    RequestProblem
        If a measure of the design that is read differs from that of the one found.
    DesignProblem
        If it cannot be written as text.
    """
    solution = found.solutions[number - 1]
    changed = changed_design(subject, solution.trial.changes, source, wrap)
    read = storage.parse(changed.text, shelf=subject.shelf)
    again = at_wrap(read, changed.design.wrap_name).without_variants()
    if again != solution.design:
        trial = _read(again, subject)
        for measure in measures_in_table(found):
            before, after = solution.trial.value(measure), trial.value(measure)
            if not _reads_same(before, after):
                units = again.units
                was, now = (
                    "nothing" if value is None else measure.text(value, units)
                    for value in (before, after)
                )
                raise RequestProblem(
                    f"fit: design {number} has {measure.name} {was}, but its file would read as "
                    f"{now}; nothing is written: give other wishes, or change the fields by hand "
                    "with turnlight change."
                )
    return changed


def _read(design: Design, subject: Subject) -> Trial:
    return Trials(design, subject.shelf, {}, beside=subject.beside).evaluate({})


def _reads_same(before: float | None, after: float | None) -> bool:
    if before is None or after is None:
        return before is after
    return math.isclose(before, after, rel_tol=_READ_WITHIN, abs_tol=_READ_WITHIN)


def save_changed(
    changed: ChangedDesign, subject: Subject, file: str, source: str, output: Path
) -> Design:
    """Write a changed design to a file.

    Parameters
    ----------
    changed : ChangedDesign
    subject : Subject
        The original design.
    file : str
        Its path, or ``sample:`` and a sample's name.
    source : str
        Text of `file`, as read by `source_of`.
    output : Path

    Returns
    -------
    Design
        Read back from `output`, seen from the same wrap.

    Raises
    ------
    DesignProblem
        If it cannot be written.
    """
    if _is_same_file(output, file):
        storage.update(output, changed.text, source)
    else:
        if not file.startswith(SAMPLE):
            copy_files(changed.design, Path(file).absolute().parent, output.absolute().parent)
        storage.create(changed.text, output)
    return at_wrap(storage.load(output, subject.shelf), changed.design.wrap_name)


def measures_after_saving(design: Design, subject: Subject, wishes: Sequence[Wish]) -> str:
    """The wished measures of a saved design, in words.

    Parameters
    ----------
    design : Design
        As read back from its file.
    subject : Subject
        The original design, for its shelf and files.
    wishes : sequence of Wish
        Whose measures are listed.
    """
    trial = _read(design.without_variants(), subject)
    read = [(wish.measure, trial.value(wish.measure)) for wish in wishes]
    return one_of(
        (
            f"{measure.name.replace('_', ' ')} {measure.text(value, design.units)}"
            for measure, value in read
            if value is not None
        ),
        "and",
    )


def _is_same_file(output: Path, file: str) -> bool:
    if file.startswith(SAMPLE):
        return False
    try:
        return output.samefile(file)
    except OSError:
        return False


def _caption(found: Fit, number: int) -> str:
    label = solution_label(found, number)
    if number == 0 or not found.request.wishes:
        return label
    units = units_of(found)
    trial = found.solutions[number - 1].trial
    measures = dict.fromkeys(wish.measure for wish in found.request.wishes)
    read = [(measure, trial.value(measure)) for measure in measures]
    measures_text = ", ".join(
        f"{measure.name.replace('_', ' ')} {measure.text(value, units)}"
        for measure, value in read
        if value is not None
    )
    return f"{label}:  {measures_text}"


def _number_in_table(design: Design, designs: Sequence[Design | None]) -> int:
    """Number of a design in the table; light and camera are ignored."""
    return next(
        number
        for number, other in enumerate(designs)
        if other is not None
        and design == other.model_copy(update={"light": design.light, "camera": design.camera})
    )
