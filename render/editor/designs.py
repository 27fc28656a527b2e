"""Checks of the files that the page opens and overwrites, and of those that guests name."""

import os
import re
from collections.abc import Iterable
from pathlib import Path

from materials.ordinary import read_ordinary
from scenes.artwork.shipped import shipped_names
from scenes.design.document import Design
from scenes.files.companion_files import file_names
from scenes.problems import DesignProblem, is_encodable, printable

__all__ = [
    "absolute_path",
    "is_design",
    "refuse_files_of_no_design",
    "refuse_other",
    "refuse_unsendable",
]

_BYTES_READ = 20_000
"""Bytes read to recognise a design: its version stands before its first table."""

_TABLE = re.compile(r"^\s*\[", re.MULTILINE)
_VERSION = re.compile(r"^\s*turnlight\s*=\s*\d", re.MULTILINE)


def is_design(path: Path) -> bool:
    """Return whether a file declares itself a design.

    Parameters
    ----------
    path : Path
        Pipes and devices are not opened; only the beginning of a large file is read.
    """
    try:
        text = read_ordinary(path, _BYTES_READ)[0].decode("utf-8", "ignore")
    except (OSError, ValueError):
        return False
    before_tables = _TABLE.split(text, maxsplit=1)[0]
    return _VERSION.search(before_tables) is not None


def absolute_path(path: Path, folder: Path, within: Path | None) -> Path:
    """Make a path absolute, and refuse it if the page may not use it.

    Parameters
    ----------
    path : Path
    folder : Path
        The document's folder, in which relative paths are resolved.
    within : Path or None
        Folder that the page is confined to; None if there is none.

    Raises
    ------
    DesignProblem
        If it is no file name, is hidden, cannot be shown in a browser, or is not in `within`.
    """
    try:
        path = Path(os.path.abspath(folder / path.expanduser()))
        os.path.realpath(path)
    except (RuntimeError, ValueError):  # unknown user's home, or no valid file name
        raise DesignProblem(
            f'"{printable(str(path), 300)}" is no name of a file; give another.'
        ) from None
    refuse_unsendable(path)
    _refuse_hidden(path, folder)
    if within is not None:
        root = Path(os.path.realpath(within))
        if root not in Path(os.path.realpath(path)).parents:
            raise DesignProblem(
                f'"{printable(str(path), 300)}" is not in the folder that this page may '
                f'reach, "{printable(str(root), 300)}"; give a name in it.'
            )
    return path


def _refuse_hidden(path: Path, folder: Path) -> None:
    """Refuse a hidden file, or a file in a hidden folder below `folder`."""
    parts = path.relative_to(folder).parts if folder in path.parents else (path.name,)
    if any(part.startswith(".") for part in parts):
        raise DesignProblem(
            f'"{printable(path.name)}" is in a hidden place; give a name without a dot in front.'
        )


def refuse_other(path: Path) -> None:
    """Refuse an existing file that is no design.

    Parameters
    ----------
    path : Path

    Raises
    ------
    DesignProblem
    """
    if os.path.lexists(path) and not is_design(path):
        raise DesignProblem(
            f'"{printable(path.name)}" is there and is no design; give another name.'
        )


def refuse_unsendable(path: Path) -> None:
    """Refuse a path with bytes that are no text, since it cannot be sent to a browser.

    Parameters
    ----------
    path : Path
        Absolute.

    Raises
    ------
    DesignProblem
    """
    named = str(path)
    if not is_encodable(named):
        part = next(item for item in path.parts if not is_encodable(item))
        raise DesignProblem(
            f'"{printable(named, 300)}" cannot be shown in a browser, because "{printable(part)}" '
            "is not written in UTF-8; rename it first."
        )


def refuse_files_of_no_design(given: Design, designs: Iterable[Design]) -> None:
    """Refuse a guest's design if it names files that neither came with Turnlight nor are known.

    Parameters
    ----------
    given : Design
    designs : iterable of Design
        Whose files the guest may name.

    Raises
    ------
    DesignProblem
    """
    known = {name for design in designs for _, name in file_names(design)}
    for field, name in file_names(given):
        if name not in known and name not in shipped_names():
            raise DesignProblem(
                f"{field}: a guest cannot name other files; choose one that came with Turnlight.",
                field=field,
            )
