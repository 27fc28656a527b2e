"""Design files: read with care, written without losing a person's comments or anything else."""

import os
import secrets
import shutil
from pathlib import Path

from materials.shelf import Shelf, ShelfProblem
from materials.toml_text import TextKind, TextProblem, named, parse_toml, read_text
from scenes.beside import Beside, file_names
from scenes.document import Design, design_from, document_of
from scenes.editing import rewritten
from scenes.problems import DesignProblem, shown
from scenes.threads import check_threads

__all__ = ["create", "derive", "load", "parse", "read", "replace", "save", "shelf_for"]

DESIGN_TEXT = TextKind(
    "design",
    "give the path of a design file, or make one with turnlight new",
    "start from a sample with turnlight new",
)
"""What a design file is called in a refusal."""


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
        beside = Beside.of(path)
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


def save(design: Design, path: str | Path) -> None:
    """Write a design to a file, changing there only what has changed.

    Comments, order and layout of an existing design file stay. The file is replaced in one step,
    so that a failure leaves it as it was.

    Raises
    ------
    DesignProblem
        If the file cannot be written, or what is there is not TOML.
    """
    path = Path(path)
    text = ""
    if path.exists():
        text = read(path)
        try:
            if text.strip():
                parse_toml(text, DESIGN_TEXT)
        except TextProblem:
            raise DesignProblem(
                f"{named(path)} is there and is not TOML; save under another name."
            ) from None
    try:
        result = rewritten(text, document_of(design), tuple(Design.model_fields))
    except DesignProblem as problem:
        raise DesignProblem(f"{named(path)}: {problem}") from None
    replace(path, result)


def create(text: str, path: str | Path) -> None:
    """Write a new file, such as a sample to start from.

    Raises
    ------
    DesignProblem
        If there is something of that name already, or it cannot be written.
    """
    path = Path(path)
    if os.path.lexists(path):
        raise DesignProblem(f"{named(path)} is there already; give another name.")
    replace(path, text)


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
    """Write a file in one step: wholly, or not at all.

    Raises
    ------
    DesignProblem
    """
    name = named(path)
    try:
        # Through a link, the file that it leads to is the one to replace.
        target = Path(os.path.realpath(path))
        if target.is_dir():
            raise DesignProblem(f"{name} is a folder; give a file name in it.")
        if target.exists() and not os.access(target, os.W_OK):
            raise DesignProblem(f"{name} may not be changed; save under another name.")
        if not target.parent.is_dir():
            raise DesignProblem(f"{name}: its folder is not there; make the folder first.")
        temporary = target.with_name(f".{target.name[:80]}.{secrets.token_hex(4)}.tmp")
        try:
            with temporary.open("xb") as file:
                file.write(text.encode("utf-8"))
                file.flush()
                os.fsync(file.fileno())
            if target.exists():
                shutil.copymode(target, temporary)
            os.replace(temporary, target)
        finally:
            temporary.unlink(missing_ok=True)
    except PermissionError:
        raise DesignProblem(
            f"{name} cannot be written, because its folder is read-only; save elsewhere."
        ) from None
    except (OSError, ValueError) as error:
        if isinstance(error, DesignProblem):
            raise
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise DesignProblem(f"{name} cannot be written ({reason}); save elsewhere.") from None
