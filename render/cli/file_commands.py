"""Commands that list the samples, and start a design file: from one of them, or for a blank."""

import os
import shlex
import subprocess
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

from cyclopts import Parameter

from materials.shelf import Shelf
from materials.toml_text import TextKind, named
from render.cli.converters import Listed
from render.cli.streams import print_line, print_sentence, print_table
from render.common.problems import RequestProblem
from render.request.options import SAMPLE
from scenes.files import samples as shipped
from scenes.files import storage
from scenes.files.storage import DESIGN_TEXT
from scenes.problems import DesignProblem, shown
from scenes.quantities import Units
from scenes.starting.answers import field_at_fault, read_answers
from scenes.starting.first_design import first_text, remarks
from scenes.starting.readings import FIELD as READINGS_FIELD
from scenes.starting.readings import line_of_station

__all__ = ["new", "samples"]


def samples() -> None:
    """List the sample designs."""
    from rich.table import Table

    table = Table(box=None, pad_edge=False)
    for heading in ("name", "title", "what it shows"):
        table.add_column(heading, no_wrap=heading == "name")
    for name in shipped.names():
        table.add_row(name, shipped.load(name).title, shipped.summary(name))
    print_table(table)


READINGS = TextKind(
    "list of readings",
    "give a text with a distance from the butt and a diameter in each line",
    "give a distance from the butt and a diameter in each line",
    DESIGN_TEXT.limits,
)
"""Names and advice of a file of readings, for refusals."""


def new(
    file: Path,
    /,
    *,
    from_: Annotated[str | None, Parameter(name="--from")] = None,
    readings: Path | None = None,
    ends: str | None = None,
    grips: str | None = None,
    wrap: str | None = None,
    title: str | None = None,
    customer: str = "",
    rod: str = "",
    units: str = "mm",
    thread: Listed = (),
) -> None:
    """Start a design file of your own, for the blank that you measured or from a sample.

    For a blank give --readings, --wrap and --ends or --grips; the wrap is fitted to the blank.

    Parameters
    ----------
    file : Path
        The file to make; one that holds anything is never overwritten.
    from_ : str, optional
        A sample's name, such as half-scale: the whole sample with its comments. `turnlight
        samples` lists them.
    readings : Path, optional
        A text of your caliper readings: a distance from the butt and a diameter in each line.
    ends : str, optional
        Where the wrap begins and ends, from the butt: 290,410. Between two grips it may be left
        out.
    grips : str, optional
        Where the grip before the wrap ends and the one after it begins: 190,420. The wrap's cover
        and finish keep clear of them. With one grip alone: 190, or ,420.
    wrap : str, optional
        The kind of wrap, such as "open diamonds"; a wrong one is answered by a list of them.
    title : str, optional
        The title of the design.
    customer, rod : str
        The customer's name, and the number of the rod.
    units : str
        Units of all lengths: mm or in.
    thread : str
        A thread in place of the kind's own, in their order; repeat it for the next.
    """
    given = {"readings": readings, "ends": ends, "wrap": wrap}
    missing = [
        name for name, value in given.items() if value is None and (name != "ends" or not grips)
    ]
    if from_ is not None:
        extra = next((name for name, one in {**given, "grips": grips}.items() if one), None)
        if extra is not None:
            raise RequestProblem(
                f"--{extra} does not go with --from; a sample comes whole, or a wrap is fitted to "
                "your readings."
            )
        _create(shipped.text(from_.removeprefix(SAMPLE)), file)
        message = f"{named(file)} is there, from the sample {from_}"
    else:
        if missing:
            raise RequestProblem(
                "--from is missing: a sample's name, such as half-scale (turnlight samples lists "
                "them); or --readings, --ends and --wrap for the blank that you measured; see "
                "turnlight new --help."
                if len(missing) == len(given)
                else f"--{missing[0]} is missing: give --readings, --ends and --wrap together; see "
                "turnlight new --help."
            )
        answers = {
            "title": title or file.stem,
            "customer": customer,
            "rod": rod,
            "units": units,
            "readings": storage.read(readings, READINGS) if readings else "",
            "wrap": wrap or "",
            "threads": list(thread),
            **_two("ends", ends, ("from", "to"), "290,410"),
            **_two("grips", grips, ("below", "above"), "190,420"),
        }
        try:
            read = read_answers(answers)
            text = first_text(read, Shelf.shipped())
        except DesignProblem as problem:
            raise (
                _of_reading(problem, answers, readings) or _as_typed(problem, ends, grips)
            ) from None
        _create(text, file)
        made = storage.parse(text)
        for remark in remarks(read, made):
            print_line(remark)
        for warning in made.warnings:
            print_sentence(warning, "warning: ")
        message = f"{named(file)} is there, fitted to your readings"
    # Control characters are typed differently in every shell.
    if str(file).isprintable():
        message += f": turnlight check {_shell_word(file)} shows its numbers"
    print_line(f"{message}.")


def _of_reading(
    problem: DesignProblem, answers: Mapping[str, Any], file: Path | None
) -> Exception | None:
    """Refuse a reading under its file and its line; None if something else is refused."""
    sentence = str(problem).removeprefix(f"{problem.field}: ")
    if file is None:
        return None
    if problem.field == READINGS_FIELD:
        return RequestProblem(f"--readings {named(file)}: {sentence}")
    if not problem.field.startswith("blank.stations."):
        return None
    line = line_of_station(str(answers["readings"]), Units(answers["units"]), problem.field)
    sentence = sentence.replace("the station before it", "the reading before it")
    sentence = sentence.replace("the station before", "the reading before")
    at = "" if line is None else f", line {line}"
    return RequestProblem(f"--readings {named(file)}{at}: {sentence}")


def _as_typed(problem: DesignProblem, ends: str | None, grips: str | None) -> Exception:
    """Refuse places under the option and the value with which they were typed."""
    place = field_at_fault(problem.field) if problem.field else ""
    option, value = ("grips", grips) if place in ("below", "above") else ("", None)
    if place in ("from", "to"):
        option, value = ("ends", ends) if ends else ("grips", grips)
    if value is None:
        return problem
    sentence = str(problem).removeprefix(f"{problem.field}: ")
    return RequestProblem(f"--{option} {shown(value)}: {sentence}")


def _create(text: str, file: Path) -> None:
    """Write a design to a new file, or to one that is empty."""
    try:
        storage.create(text, file)
    except storage.NameTaken:
        blank = _text_of_blank(file)
        if blank is None:
            raise
        storage.update(file, text, blank)


def _text_of_blank(file: Path) -> str | None:
    """Text of a file with nothing but white space in it; None for any other."""
    try:
        text = storage.read(file)
    except DesignProblem:
        return None
    return None if text.strip() else text


def _two(option: str, text: str | None, names: tuple[str, str], like: str) -> dict[str, str]:
    """Two lengths, between which a comma or a semicolon stands."""
    if text is None:
        return {}
    parts = text.split(";") if ";" in text else text.split(",")
    if len(parts) != 2:
        raise RequestProblem(
            f"--{option}: {shown(text)} is not two lengths; give them like {like}."
        )
    return dict(zip(names, (part.strip() for part in parts), strict=True))


def _shell_word(file: Path) -> str:
    """Quote a file's name for the shell, so that the command takes it for a file."""
    name = str(file)
    if name.startswith(("-", SAMPLE)):
        name = os.path.join(os.curdir, name)
    return subprocess.list2cmdline([name]) if os.name == "nt" else shlex.quote(name)
