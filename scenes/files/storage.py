"""Design files: read and checked; written so that comments and edits by others are kept."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from materials.shelf import Shelf, ShelfProblem
from materials.toml_limits import TomlLimits
from materials.toml_text import TextKind, TextProblem, named, parse_toml, read_text
from scenes.design.document import Design, design_from, document_of
from scenes.design.threads import check_threads
from scenes.files.atomic import PlaceProblem, WritingProblem, reason_of, write_new, writing
from scenes.files.companion_files import CompanionFiles, layer_files
from scenes.files.state_folder import locked
from scenes.problems import DesignProblem, NotWritten, shown

__all__ = [
    "DESIGN_TEXT",
    "DesignNotWritten",
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
    "text_of",
    "update",
]

DESIGN_TEXT = TextKind(
    "design",
    "give the path of a design file, or make one with turnlight new",
    "start from a sample with turnlight new",
    TomlLimits(tables=5_000, values=20_000),
)
"""Names, advice and limits of a design file, for refusals."""


class NameTaken(DesignProblem):
    """A new file has the name of an existing one."""


class FileChanged(DesignProblem):
    """A file has changed since it was read."""


class DesignNotWritten(DesignProblem, NotWritten):
    """A design file that this machine failed to write."""


def load(path: str | Path, shelf: Shelf | None = None) -> Design:
    """Read a design file, and check it, its threads and its companion files.

    Parameters
    ----------
    path : path
        Path of the design file.
    shelf : Shelf, optional
        Where its threads are looked up; `shelf_for` the design if not given.

    Raises
    ------
    DesignProblem
        With one sentence about the file, or about the most important error in it.
    """
    path = Path(path)
    design = parse(read(path), name=named(path))
    try:
        check_threads(design, shelf_for(design, path) if shelf is None else shelf)
        beside = CompanionFiles.of(path)
        for field, file in layer_files(design):
            beside.read(file, field)
    except DesignProblem as problem:
        others = [f"{named(path)}: {other}" for other in problem.others]
        raise DesignProblem(
            f"{named(path)}: {problem}", field=problem.field, others=others
        ) from None
    return design


def parse(text: str, name: str = "", shelf: Shelf | None = None) -> Design:
    """Read a design from the text of a file.

    Parameters
    ----------
    text : str
        Text of the file.
    name : str
        Name of the file, for a refusal.
    shelf : Shelf, optional
        Where its threads are looked up; not checked if not given.

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
        others = [f"{lead}{other}" for other in problem.others]
        raise DesignProblem(f"{lead}{problem}", field=problem.field, others=others) from None
    return design


def save(design: Design, path: str | Path, text: str) -> None:
    """Write a design to its file, and keep comments, order and layout.

    The file is replaced in one step, so a failure leaves it unchanged.

    Parameters
    ----------
    design : Design
    path : path
        Path of the design file.
    text : str
        Text of the file when the design was read.

    Raises
    ------
    FileChanged
        If the file has changed since.
    DesignProblem
        If the file cannot be written, or its layout cannot be changed in place.
    """
    path = Path(path)
    try:
        result = text_of(design, text)
    except DesignProblem as problem:
        raise DesignProblem(f"{named(path)}: {problem}") from None
    update(path, result, text)


def create(text: str, path: str | Path) -> None:
    """Write a new file, such as a copy of a sample; an existing file is never replaced.

    Parameters
    ----------
    text : str
    path : path

    Raises
    ------
    NameTaken
        If there is a file of that name.
    DesignProblem
        If it cannot be written.
    """
    path = Path(path)
    with _as_design_problem(path):
        if not write_new(path, text.encode("utf-8")):
            raise NameTaken(f"{named(path)} is there already; give another name.")


def text_of(design: Design, text: str) -> str:
    """Write a design as text, with the layout and comments of another text.

    Parameters
    ----------
    design : Design
    text : str
        Text of the file that the design comes from.

    Raises
    ------
    DesignProblem
        If its layout cannot be changed in place.
    """
    # Only what writes a file waits for it to load.
    from scenes.files.text_edits import rewritten

    return rewritten(text, document_of(design), tuple(Design.model_fields))


def derive(design: Design, text: str, path: str | Path) -> None:
    """Write a design to a new file, with the layout and comments of another text.

    Parameters
    ----------
    design : Design
    text : str
        Text of the file that the design comes from.
    path : path
        Path of the new file.

    Raises
    ------
    DesignProblem
        If there is a file of that name, or it cannot be written.
    """
    create(text_of(design, text), path)


def shelf_for(design: Design, path: str | Path) -> Shelf:
    """Give the shelf of a design: the shipped one, with the builder's own over it if it names one.

    Parameters
    ----------
    design : Design
    path : path
        Path of the design file; the own shelf must be beside it.

    Raises
    ------
    DesignProblem
        If the shelf file is elsewhere, missing or not valid.
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
    """Read the text of a file, which may be any file.

    Parameters
    ----------
    path : Path
    kind : TextKind
        Expected kind, for a refusal.

    Raises
    ------
    DesignProblem
    """
    try:
        return read_text(path, kind)
    except TextProblem as problem:
        raise DesignProblem(str(problem)) from None


def replace(path: Path, text: str) -> None:
    """Write a file in one step, whole or not at all; an existing file is replaced.

    Parameters
    ----------
    path : Path
    text : str

    Raises
    ------
    DesignProblem
    """
    with _as_design_problem(path), writing(path) as unfinished, locked(unfinished.target):
        unfinished.write(text.encode("utf-8"))
        unfinished.put()


def update(path: Path, text: str, expected: str, kind: TextKind = DESIGN_TEXT) -> None:
    """Replace a file in one step if it has not changed since it was read, so that no edit is lost.

    The comparison is made under a lock, immediately before the file is replaced. A file that has
    been removed is written again.

    Parameters
    ----------
    path : Path
    text : str
        New text.
    expected : str
        Text of the file when it was read.
    kind : TextKind
        Kind of the file, for a refusal.

    Raises
    ------
    FileChanged
        If the file has another text.
    DesignProblem
        If it cannot be written.
    """
    with _as_design_problem(path, in_place=True), writing(path) as unfinished:
        unfinished.write(text.encode("utf-8"))
        with locked(unfinished.target):
            if os.path.lexists(unfinished.target):
                _check_unchanged(path, expected, kind)
                unfinished.put()
                return
            try:
                unfinished.put_new()
            except FileExistsError:
                raise _changed(path) from None


def remove(path: Path, expected: str, kind: TextKind = DESIGN_TEXT) -> None:
    """Remove a file if it has not changed since it was read; for a link, the file it leads to.

    Parameters
    ----------
    path : Path
    expected : str
        Text of the file when it was read.
    kind : TextKind
        Kind of the file, for a refusal.

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
                _check_unchanged(path, expected, kind)
                target.unlink(missing_ok=True)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise DesignProblem(f"{named(path)} cannot be removed ({reason}).") from None


@contextmanager
def _as_design_problem(path: Path, *, in_place: bool = False) -> Iterator[None]:
    """Turn errors of writing a file into a `DesignProblem`.

    Parameters
    ----------
    path : Path
    in_place : bool
        Whether it is this file that is to be changed, so that no other name can be given.
    """
    try:
        yield
    except PlaceProblem as problem:
        sentence = str(problem)
        if in_place:
            for advice in ("give another name", "give another place"):
                sentence = sentence.replace(advice, "work on a copy of it elsewhere")
        refused = DesignNotWritten if isinstance(problem, WritingProblem) else DesignProblem
        raise refused(f"{named(path)} {sentence}.") from None
    except UnicodeError as error:
        raise DesignProblem(f"{named(path)} {reason_of(error, path)}.") from None


def _check_unchanged(path: Path, expected: str, kind: TextKind) -> None:
    try:
        same = read(path, kind) == expected
    except DesignProblem:
        same = False
    if not same:
        raise _changed(path)


def _changed(path: Path) -> "FileChanged":
    return FileChanged(
        f"{named(path)} was changed by another program meanwhile; read it anew and try again."
    )
