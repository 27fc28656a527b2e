"""Checks of the files that the page opens and overwrites: designs only."""

import os
import re
from pathlib import Path

from materials.ordinary import read_ordinary
from scenes.problems import DesignProblem, is_encodable, printable

__all__ = ["is_design", "refuse_hidden", "refuse_other", "refuse_unsendable"]

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


def refuse_hidden(path: Path, folder: Path) -> None:
    """Refuse a hidden file, or a file in a hidden folder below the document's folder.

    Parameters
    ----------
    path : Path
        Absolute.
    folder : Path
        The document's folder; hidden folders above it do not count.

    Raises
    ------
    DesignProblem
    """
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
