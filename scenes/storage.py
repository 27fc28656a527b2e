"""Design files: read with care, written without losing a person's comments or anything else."""

import os
import re
import secrets
import shutil
import stat
import tomllib
from pathlib import Path

from materials.shelf import Shelf, ShelfProblem
from scenes.beside import Beside, file_names
from scenes.document import Design, design_from, document_of
from scenes.editing import rewritten
from scenes.problems import DesignProblem, printable, shown
from scenes.threads import check_threads

__all__ = ["create", "derive", "load", "parse", "read", "replace", "save", "shelf_for"]

LARGEST_FILE = 1_000_000
"""Bytes: a hundred times the fullest sample. A larger file is not a design."""


_ENDLESS_KEY = re.compile(r"""(?<![\w."'-])(?:[\w"'-]++[ \t]*+\.[ \t]*+){100}""")
"""A dotted key that the parser would take minutes over, its time growing with the square."""


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
    design = parse(read(path), name=_named(path))
    try:
        check_threads(design, shelf_for(design, path) if shelf is None else shelf)
        beside = Beside.of(path)
        for field, file in file_names(design):
            beside.read(file, field)
    except DesignProblem as problem:
        raise DesignProblem(f"{_named(path)}: {problem}", field=problem.field) from None
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
    if not text.strip():
        raise DesignProblem(f"{lead}the file is empty; start from a sample with turnlight new.")
    if _ENDLESS_KEY.search(text):
        raise DesignProblem(f"{lead}not a design: a key in it has a hundred parts or more.")
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise DesignProblem(f"{lead}not TOML: {_told(error)}.") from None
    except (ValueError, RecursionError):
        # Numbers of thousands of digits, or brackets nested without end.
        raise DesignProblem(
            f"{lead}not TOML that can be read: a number or a list in it is too long or too deep."
        ) from None
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
            tomllib.loads(text)
        except (ValueError, RecursionError):
            raise DesignProblem(
                f"{_named(path)} is there and is not TOML; save under another name."
            ) from None
    try:
        result = rewritten(text, document_of(design), tuple(Design.model_fields))
    except DesignProblem as problem:
        raise DesignProblem(f"{_named(path)}: {problem}") from None
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
        raise DesignProblem(f"{_named(path)} is there already; give another name.")
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


def _named(path: Path) -> str:
    return f'"{printable(str(path), 300)}"'


def _told(error: tomllib.TOMLDecodeError) -> str:
    """Turn the parser's message into the end of a sentence, with its line."""
    message = printable(str(error), 200)
    return message[:1].lower() + message[1:]


def read(path: Path) -> str:
    """Read the text of a file that may be anything.

    Raises
    ------
    DesignProblem
    """
    name = _named(path)
    try:
        status = path.stat()
        if stat.S_ISDIR(status.st_mode):
            raise DesignProblem(f"{name} is a folder; give a design file in it.")
        if not stat.S_ISREG(status.st_mode):
            raise DesignProblem(f"{name} is not an ordinary file; give a design file.")
        with path.open("rb") as file:
            content = file.read(LARGEST_FILE + 1)
    except FileNotFoundError:
        raise DesignProblem(
            f"{name} is not there; give the path of a design file, or make one with turnlight new."
        ) from None
    except DesignProblem:
        raise
    except PermissionError:
        raise DesignProblem(f"{name} may not be read; ask for the right to read it.") from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise DesignProblem(f"{name} cannot be read ({reason}); give a design file.") from None
    if len(content) > LARGEST_FILE:
        raise DesignProblem(
            f"{name} holds {status.st_size / 1e6:.3g} MB; a design is a text of 1 MB at most."
        )
    if b"\0" in content:
        raise DesignProblem(f"{name} is not a text; give a design file.")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise DesignProblem(
            f"{name} is not UTF-8 text (line {line}); save it as UTF-8 in your editor."
        ) from None


def replace(path: Path, text: str) -> None:
    """Write a file in one step: wholly, or not at all.

    Raises
    ------
    DesignProblem
    """
    name = _named(path)
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
