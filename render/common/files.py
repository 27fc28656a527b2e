"""Files written wholly or not at all, and refused in words before the long work begins."""

import os
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path

from materials.toml_text import named
from render.common.problems import DrawingProblem, RequestProblem
from scenes.files.atomic import (
    PlaceProblem,
    Unfinished,
    check_place,
    has_no_room,
    is_full,
    reason_of,
)
from scenes.problems import one_of, shown

__all__ = ["check_output", "check_suffix", "replacing", "replacing_folder"]


def check_suffix(path: Path, suffixes: Sequence[str], *, folder: bool = False) -> str:
    """Read from a name what kind of file is wanted, and check that it can be written there.

    The first thing that a command does: so what cannot be written is refused before the work.

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
        check_output(path, folder=not suffix)
        return suffix
    right = one_of([*suffixes, *(["no ending for a folder of pictures"] if folder else [])])
    given = f"ends in {shown(suffix)}" if suffix else "has no ending"
    raise RequestProblem(f"output: {named(path)} {given}, which says no kind; give {right}.")


def check_output(path: Path, *, folder: bool = False) -> Path:
    """Check that a file, or a new folder, can be written, before the work begins.

    Returns
    -------
    Path
        Where it will be: through a link, the file that it leads to is the one to replace.

    Raises
    ------
    RequestProblem
    """
    try:
        target = Path(os.path.realpath(path))
        check_place(target, folder=folder)
    except PlaceProblem as problem:
        raise RequestProblem(f"output: {named(path)} {problem}.") from None
    except ValueError:
        raise RequestProblem(f"output: {named(path)} is no name of a file; give another.") from None
    return target


@contextmanager
def replacing(path: Path) -> Iterator[Path]:
    """Give a file to write beside `path`, which it replaces in one step when all went well.

    On any failure, Ctrl-C among them, it is removed and `path` stays as it was.

    Raises
    ------
    RequestProblem
        If `path` cannot be written; at once, before anything else is done.
    DrawingProblem
        If the system refuses to write later on, because the disk is full, say.
    """
    with _unfinished(path, folder=False) as file:
        yield file


@contextmanager
def replacing_folder(path: Path) -> Iterator[Path]:
    """Give a new folder to fill beside `path`, whose name it takes when all went well.

    Raises
    ------
    RequestProblem
        If there is anything at `path` but an empty folder, or it cannot be written.
    DrawingProblem
        If the system refuses to write later on, because the disk is full, say.
    """
    with _unfinished(path, folder=True) as file:
        yield file


@contextmanager
def _unfinished(path: Path, *, folder: bool) -> Iterator[Path]:
    target = check_output(path, folder=folder)
    with ExitStack() as stack:
        try:
            unfinished = stack.enter_context(
                Unfinished(target, called=path, suffix=target.suffix, folder=folder)
            )
        except OSError as error:
            raise RequestProblem(f"output: {named(path)} {reason_of(error, target)}.") from None
        try:
            yield unfinished.path
            unfinished.put()
        except Exception as error:
            if not _is_of_writing(error, unfinished):
                raise
            raise DrawingProblem(f"output: {named(path)} {reason_of(error, target)}.") from None


def _is_of_writing(error: Exception, unfinished: Unfinished) -> bool:
    """Tell whether work failed because the system did not take what it wrote.

    Encoders lose the system's reason on the way: they raise an `OSError` without a number, or
    something of their own, while the disk is full.
    """
    if isinstance(error, OSError):
        ours = str(unfinished.path), str(unfinished.target)
        return not error.errno or is_full(error) or str(error.filename or "").startswith(ours)
    return has_no_room(unfinished.target.parent)
