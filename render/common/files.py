"""Output files: checked before long work begins, and written completely or not at all."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from materials.toml_text import named
from render.common.problems import DrawingProblem, RequestProblem
from scenes.files.atomic import PlaceProblem, WritingProblem, check_place, writing
from scenes.problems import one_of, shown

__all__ = ["check_output", "check_suffix", "replacing"]


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
