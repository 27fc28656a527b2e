"""A document written to its file, which nobody else's changes are lost in."""

import os
from pathlib import Path

from render.editor import designs
from render.editor.disk import OverwriteRefused
from scenes.files import storage
from scenes.problems import printable

__all__ = ["refuse_taken", "write_again", "write_as"]


def write_again(path: Path, text: str, expected: str | None) -> None:
    """Write a document to its own file.

    Parameters
    ----------
    path : Path
    text : str
    expected : str or None
        What the file must hold still; None to write over anything.

    Raises
    ------
    OverwriteRefused
        If another program has changed the file.
    DesignProblem
        If it cannot be written.
    """
    try:
        if expected is None:
            storage.replace(path, text)
        else:
            storage.update(path, text, expected)
    except storage.FileChanged:
        raise OverwriteRefused(
            f'"{printable(path.name)}" was changed by another program since it was '
            "opened; read it anew, save under another name, or write over it."
        ) from None


def refuse_taken(path: Path, *, over: bool) -> None:
    """Refuse a file that is no design, and one that is there already.

    Parameters
    ----------
    path : Path
    over : bool
        Whether a design there may be overwritten.

    Raises
    ------
    OverwriteRefused, DesignProblem
    """
    designs.refuse_other(path)
    if os.path.lexists(path) and not over:
        raise OverwriteRefused(_question(path))


def write_as(path: Path, text: str, *, over: bool) -> None:
    """Write a document to another file.

    Parameters
    ----------
    path : Path
    text : str
    over : bool
        Overwrite an existing file.

    Raises
    ------
    OverwriteRefused
        If the file exists by now, and `over` is false.
    DesignProblem
        If it cannot be written.
    """
    try:
        if over:
            storage.replace(path, text)
        else:
            storage.create(text, path)
    except storage.NameTaken:
        raise OverwriteRefused(_question(path)) from None


def _question(path: Path) -> str:
    return f'"{printable(path.name)}" is there already; write over it?'
