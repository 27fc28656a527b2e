"""Files written wholly or not at all, and refused in words before the long work begins."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from materials.toml_text import named
from render.common.problems import DrawingProblem, RequestProblem
from scenes.files.atomic import PlaceProblem, WritingProblem, check_place, writing
from scenes.problems import one_of, shown

__all__ = ["check_output", "check_suffix", "replacing"]


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
        return check_place(path, folder=folder)
    except PlaceProblem as problem:
        raise RequestProblem(f"output: {named(path)} {problem}.") from None


@contextmanager
def replacing(path: Path, *, folder: bool = False) -> Iterator[Path]:
    """Give a file, or a new folder, beside `path`, whose place it takes when all went well.

    On any failure, Ctrl-C among them, it is removed and `path` stays as it was.

    Raises
    ------
    RequestProblem
        If `path` cannot be written, or a folder is wanted where there is anything but an empty one;
        at once, before anything else is done.
    DrawingProblem
        If the system refuses to write later on, because the disk is full, say.
    """
    try:
        with writing(path, suffix=path.suffix, folder=folder) as unfinished:
            yield unfinished.path
            unfinished.put()
    except WritingProblem as problem:
        raise DrawingProblem(f"output: {named(path)} {problem}.") from None
    except PlaceProblem as problem:
        raise RequestProblem(f"output: {named(path)} {problem}.") from None
