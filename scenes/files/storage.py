"""Design files: read with care, written without losing a person's comments or anything else."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from materials.shelf import Shelf, ShelfProblem
from materials.toml_limits import TomlLimits
from materials.toml_text import TextKind, TextProblem, named, parse_toml, read_text
from scenes.design.document import Design, design_from, document_of
from scenes.design.threads import check_threads
from scenes.files.atomic import PlaceProblem, reason_of, write_new, writing
from scenes.files.companion_files import CompanionFiles, file_names
from scenes.files.state_folder import locked
from scenes.files.text_edits import rewritten
from scenes.problems import DesignProblem, shown

__all__ = [
    "DESIGN_TEXT",
    "FileChanged",
    "NameTaken",
    "create",
    "derive",
    "load",
    "parse",
    "read",
    "remove",
    "replace",
    "save",
    "shelf_for",
    "update",
]

DESIGN_TEXT = TextKind(
    "design",
    "give the path of a design file, or make one with turnlight new",
    "start from a sample with turnlight new",
    TomlLimits(tables=5_000, values=20_000),
)
"""What a design file is called in a refusal."""


class NameTaken(DesignProblem):
    """A file would be written over that is there already."""


class FileChanged(DesignProblem):
    """A file holds something else than what was read from it."""


def load(path: str | Path, shelf: Shelf | None = None) -> Design:
    """Read a design file and check all of it, its threads too, and that its files are there.

    Parameters
    ----------
    path : path
    shelf : Shelf, optional
        Where its threads are looked up; if not given, `shelf_for` the design.

    Raises
    ------
    DesignProblem
        With one sentence about the file or about the foremost thing that is wrong in it.
    """
    path = Path(path)
    design = parse(read(path), name=named(path))
    try:
        check_threads(design, shelf_for(design, path) if shelf is None else shelf)
        beside = CompanionFiles.of(path)
        for field, file in file_names(design):
            beside.read(file, field)
    except DesignProblem as problem:
        raise DesignProblem(f"{named(path)}: {problem}", field=problem.field) from None
    return design


def parse(text: str, name: str = "", shelf: Shelf | None = None) -> Design:
    """Read a design from the text of a file.

    Parameters
    ----------
    text : str
    name : str
        What the file is called in a refusal.
    shelf : Shelf, optional
        Where its threads are looked up; if not given, they are not.

    Raises
    ------
    DesignProblem
    """
    lead = f"{name}: " if name else ""
    try:
        document = parse_toml(text, DESIGN_TEXT, name)
    except TextProblem as problem:
        raise DesignProblem(str(problem)) from None
    try:
        design = design_from(document)
        if shelf is not None:
            check_threads(design, shelf)
    except DesignProblem as problem:
        raise DesignProblem(f"{lead}{problem}", field=problem.field) from None
    return design


def save(design: Design, path: str | Path, text: str) -> None:
    """Write a design to its file, changing there only what has changed.

    Comments, order and layout of the file stay. It is replaced in one step, so that a failure
    leaves it as it was.

    Parameters
    ----------
    design : Design
    path : path
    text : str
        What the file held when the design was read from it.

    Raises
    ------
    FileChanged
        If it holds something else by now.
    DesignProblem
        If the file cannot be written, or its layout cannot be changed in place.
    """
    path = Path(path)
    try:
        result = rewritten(text, document_of(design), tuple(Design.model_fields))
    except DesignProblem as problem:
        raise DesignProblem(f"{named(path)}: {problem}") from None
    update(path, result, text)


def create(text: str, path: str | Path) -> None:
    """Write a new file, such as a sample to start from; never over another.

    Raises
    ------
    NameTaken
        If there is something of that name already, or by now.
    DesignProblem
        If it cannot be written.
    """
    path = Path(path)
    with _as_design_problem(path):
        if not write_new(path, text.encode("utf-8")):
            raise NameTaken(f"{named(path)} is there already; give another name.")


def derive(design: Design, text: str, path: str | Path) -> None:
    """Write a design to a new file, in the layout and with the comments of another's text.

    Raises
    ------
    DesignProblem
        If there is something of that name already, or it cannot be written.
    """
    create(rewritten(text, document_of(design), tuple(Design.model_fields)), path)


def shelf_for(design: Design, path: str | Path) -> Shelf:
    """Put the builder's own shelf, if the design names one, over the shipped one.

    Parameters
    ----------
    design : Design
    path : path
        Of the design file: the shelf is looked for beside it and nowhere else.

    Raises
    ------
    DesignProblem
        If the shelf file is elsewhere, missing or not right.
    """
    shipped = Shelf.shipped()
    name = design.shelf
    if name is None:
        return shipped
    folder = Path(path).absolute().parent
    plain = not any(sign in name for sign in "/\\:") and name.endswith(".toml")
    if not plain or (folder / name).resolve().parent != folder.resolve():
        raise DesignProblem(
            f"shelf: {shown(name)} is not a file beside the design; give a plain name such as "
            '"my-shelf.toml".',
            field="shelf",
        )
    try:
        return shipped.with_own(Shelf.load(folder / name))
    except ShelfProblem as problem:
        raise DesignProblem(f"shelf: {problem}", field="shelf") from None


def read(path: Path, kind: TextKind = DESIGN_TEXT) -> str:
    """Read the text of a file that may be anything.

    Parameters
    ----------
    path : Path
    kind : TextKind
        What it should be, for a refusal.

    Raises
    ------
    DesignProblem
    """
    try:
        return read_text(path, kind)
    except TextProblem as problem:
        raise DesignProblem(str(problem)) from None


def replace(path: Path, text: str) -> None:
    """Write a file in one step, wholly or not at all, whatever is there.

    Raises
    ------
    DesignProblem
    """
    with _as_design_problem(path), writing(path) as unfinished, locked(unfinished.target):
        unfinished.write(text.encode("utf-8"))
        unfinished.put()


def update(path: Path, text: str, was: str, kind: TextKind = DESIGN_TEXT) -> None:
    """Write a file in one step if it still holds what was read from it; so no edit is lost.

    It is compared at the moment of replacing, while no other program of this user may replace it.
    A file that has gone is written again.

    Parameters
    ----------
    path : Path
    text : str
    was : str
        What it held when it was read.
    kind : TextKind
        What it is, for a refusal.

    Raises
    ------
    FileChanged
        If it holds something else.
    DesignProblem
        If it cannot be written.
    """
    with _as_design_problem(path), writing(path) as unfinished:
        unfinished.write(text.encode("utf-8"))
        with locked(unfinished.target):
            if os.path.lexists(unfinished.target):
                _check_unchanged(path, was, kind)
                unfinished.put()
                return
            try:
                unfinished.put_new()
            except FileExistsError:
                raise _changed(path) from None


def remove(path: Path, was: str, kind: TextKind = DESIGN_TEXT) -> None:
    """Remove a file, through a link what it leads to, if it still holds what was read from it.

    Raises
    ------
    FileChanged
    DesignProblem
        If it cannot be removed.
    """
    target = Path(os.path.realpath(path))
    try:
        with locked(target):
            if os.path.lexists(target):
                _check_unchanged(path, was, kind)
                target.unlink(missing_ok=True)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise DesignProblem(f"{named(path)} cannot be removed ({reason}).") from None


@contextmanager
def _as_design_problem(path: Path) -> Iterator[None]:
    """Put into a sentence what hinders the writing of a file."""
    try:
        yield
    except PlaceProblem as problem:
        raise DesignProblem(f"{named(path)} {problem}.") from None
    except UnicodeError as error:
        raise DesignProblem(f"{named(path)} {reason_of(error, path)}.") from None


def _check_unchanged(path: Path, was: str, kind: TextKind) -> None:
    try:
        same = read(path, kind) == was
    except DesignProblem:
        same = False
    if not same:
        raise _changed(path)


def _changed(path: Path) -> "FileChanged":
    return FileChanged(
        f"{named(path)} was changed by another program meanwhile; read it anew and try again."
    )
