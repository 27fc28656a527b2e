"""Files written wholly or not at all, and refused in words before the long work begins."""

import os
import secrets
import shutil
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from render.problems import RequestProblem
from scenes.problems import one_of, printable, shown

__all__ = ["check_suffix", "named", "replacing", "replacing_folder"]


def named(path: Path) -> str:
    """Name a file in a sentence."""
    return f'"{printable(str(path), 300)}"'


def check_suffix(path: Path, suffixes: Sequence[str], *, folder: bool = False) -> str:
    """Read from a name what kind of file is wanted.

    Parameters
    ----------
    path : Path
    suffixes : sequence of str
        What can be written, such as ``.png``.
    folder : bool
        Whether a name without a suffix is right too, for a folder of pictures.

    Returns
    -------
    str
        The suffix in lower case; empty for a folder.

    Raises
    ------
    RequestProblem
    """
    suffix = path.suffix.casefold()
    if suffix in suffixes or (folder and not suffix):
        return suffix
    right = one_of([*suffixes, *(["no ending for a folder of pictures"] if folder else [])])
    given = f"ends in {shown(suffix)}" if suffix else "has no ending"
    raise RequestProblem(f"output: {named(path)} {given}, which says no kind; give {right}.")


@contextmanager
def replacing(path: Path) -> Iterator[Path]:
    """Give a file to write beside `path`, which it replaces in one step when all went well.

    On any failure, Ctrl-C among them, it is removed and `path` stays as it was.

    Raises
    ------
    RequestProblem
        If `path` cannot be written; at once, before anything else is done.
    """
    # Through a link, the file that it leads to is the one to replace.
    target = Path(os.path.realpath(path))
    _check_place(path, target)
    if target.is_dir():
        raise RequestProblem(f"output: {named(path)} is a folder; give a file name in it.")
    if target.exists() and not os.access(target, os.W_OK):
        raise RequestProblem(f"output: {named(path)} may not be changed; give another name.")
    temporary = _beside(target)
    try:
        with _told(path):
            temporary.touch(exist_ok=False)
        yield temporary
        with _told(path):
            if target.exists():
                shutil.copymode(target, temporary)
            os.replace(temporary, target)
    finally:
        temporary.unlink(missing_ok=True)


@contextmanager
def replacing_folder(path: Path) -> Iterator[Path]:
    """Give a new folder to fill beside `path`, whose name it takes when all went well.

    Raises
    ------
    RequestProblem
        If there is anything at `path` but an empty folder, or it cannot be written.
    """
    target = Path(os.path.realpath(path))
    _check_place(path, target)
    if target.exists() and not target.is_dir():
        raise RequestProblem(
            f"output: {named(path)} is a file; give a new folder, or a name that ends in what you "
            "want, such as .gif."
        )
    if target.is_dir() and any(target.iterdir()):
        raise RequestProblem(
            f"output: {named(path)} is a folder with something in it; give a new one."
        )
    temporary = _beside(target)
    try:
        with _told(path):
            temporary.mkdir()
        yield temporary
        with _told(path):
            if target.is_dir():
                target.rmdir()
            os.replace(temporary, target)
    finally:
        shutil.rmtree(temporary, ignore_errors=True)


def _check_place(path: Path, target: Path) -> None:
    try:
        there = target.parent.is_dir()
    except (OSError, ValueError):
        there = False
    if not there:
        raise RequestProblem(
            f"output: the folder {named(path.parent)} is not there; make it first or give another."
        )


def _beside(target: Path) -> Path:
    return target.with_name(f".{target.stem[:60]}.{secrets.token_hex(4)}{target.suffix}")


@contextmanager
def _told(path: Path) -> Iterator[None]:
    """Put the system's refusal to write into a sentence."""
    try:
        yield
    except PermissionError:
        raise RequestProblem(
            f"output: {named(path)} cannot be written, because its folder is read-only; give "
            "another place."
        ) from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise RequestProblem(
            f"output: {named(path)} cannot be written ({printable(reason)}); give another place."
        ) from None
