"""Output files: checked before long work begins, and written completely or not at all."""

import os
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from materials.ordinary import NotOrdinaryError, read_ordinary
from materials.toml_text import named
from render.common.problems import DrawingProblem, RequestProblem
from scenes.files.atomic import PlaceProblem, WritingProblem, check_place, writing
from scenes.problems import one_of, shown

__all__ = ["Input", "check_no_input", "check_output", "check_suffix", "read_input", "replacing"]

Input = tuple[Path, str]
"""A file that a command reads, and what it is: "is the design itself", behind its name."""


def check_suffix(path: Path, suffixes: Sequence[str], *, folder: bool = False) -> str:
    """Check that a file can be written, and return its suffix, which selects its format.

    Commands call this first, so that a file that cannot be written is refused before the work.

    Parameters
    ----------
    path : Path
    suffixes : sequence of str
        Suffixes that are accepted, such as ``.png``.
    folder : bool
        Whether a name without a suffix is accepted too, for a folder of pictures.

    Returns
    -------
    str
        The suffix in lower case; empty for a folder.

    Raises
    ------
    RequestProblem
        If the suffix is not accepted, or the file cannot be written.
    """
    suffix = path.suffix.casefold()
    if suffix in suffixes or (folder and not suffix):
        check_output(path, folder=not suffix)
        return suffix
    right = one_of([*suffixes, *(["no ending for a folder of pictures"] if folder else [])])
    given = f"ends in {shown(suffix)}" if suffix else "has no ending"
    raise RequestProblem(f"output: {named(path)} {given}, which says no kind; give {right}.")


def check_output(path: Path, *, folder: bool = False) -> Path:
    """Check that a file, or a new folder, can be written.

    Parameters
    ----------
    path : Path
    folder : bool, optional
        Whether a folder is to be made instead of a file.

    Returns
    -------
    Path
        The file that will be replaced: the target, if `path` is a symbolic link.

    Raises
    ------
    RequestProblem
        If it cannot be written.
    """
    try:
        return check_place(path, folder=folder)
    except PlaceProblem as problem:
        raise RequestProblem(f"output: {named(path)} {problem}.") from None


def check_no_input(output: Path, inputs: Iterable[Input]) -> None:
    """Check that a file to be written is none of those that are read for it.

    Parameters
    ----------
    output : Path
    inputs : iterable of Input
        Files that are read; those that are not there are ignored.

    Raises
    ------
    RequestProblem
        If it is one of them, under any name.
    """
    for path, what in inputs:
        try:
            same = os.path.samefile(output, path)
        except (OSError, ValueError):
            same = False
        if same:
            raise RequestProblem(f"output: {named(output)} {what}; give another name.")


def read_input(path: Path, field: str, most: int, wanted: str) -> bytes:
    """Read a file that a command is given.

    Parameters
    ----------
    path : Path
    field : str
        Name of the argument, for a refusal.
    most : int
        Bytes that it may have.
    wanted : str
        What would be right, such as "a PNG file".

    Raises
    ------
    RequestProblem
        If it cannot be read, is no ordinary file or is too large.
    """
    try:
        data, _ = read_ordinary(path, most + 1)
    except NotOrdinaryError:
        what = "a folder" if path.is_dir() else "no ordinary file"
        reason = f"is {what}; give {wanted}"
    except (FileNotFoundError, NotADirectoryError):
        reason = f"is not there; give {wanted}"
    except PermissionError:
        reason = "may not be read; ask for the right to read it"
    except ValueError:
        reason = f"is no name of a file; give {wanted}"
    except OSError as error:
        reason = f"cannot be read ({error.strerror or 'the system refused'}); give another file"
    else:
        if len(data) <= most:
            return data
        reason = f"is larger than {most // 1_000_000} MB; give a smaller one"
    raise RequestProblem(f"{field}: {named(path)} {reason}.")


@contextmanager
def replacing(path: Path, *, folder: bool = False) -> Iterator[Path]:
    """Yield a temporary file or folder beside `path`, which replaces `path` on success.

    On any failure, including Ctrl-C, the temporary file is removed and `path` is unchanged.

    Parameters
    ----------
    path : Path
        The file or folder to replace.
    folder : bool, optional
        Whether a folder is to be made instead of a file.

    Raises
    ------
    RequestProblem
        At once, if `path` cannot be written, or a folder is wanted and `path` is not an empty one.
    DrawingProblem
        Later, if writing fails, for example because the disk is full.
    """
    try:
        with writing(path, suffix=path.suffix, folder=folder) as unfinished:
            yield unfinished.path
            unfinished.put()
    except WritingProblem as problem:
        raise DrawingProblem(f"output: {named(path)} {problem}.") from None
    except PlaceProblem as problem:
        raise RequestProblem(f"output: {named(path)} {problem}.") from None
