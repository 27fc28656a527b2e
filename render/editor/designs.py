"""Which files the page opens and writes over: designs, and nothing that only looks like one."""

import os
import re
from pathlib import Path

from materials.ordinary import read_ordinary
from scenes.problems import DesignProblem, is_encodable, printable

__all__ = ["is_design", "refuse_hidden", "refuse_other", "refuse_unsendable"]

_LOOKED_AT = 20_000
"""Bytes in which a design says that it is one: its version stands before its first table."""

_TABLE = re.compile(r"^\s*\[", re.MULTILINE)
_VERSION = re.compile(r"^\s*turnlight\s*=\s*\d", re.MULTILINE)


def is_design(path: Path) -> bool:
    """Whether an ordinary file says that it is a design.

    Parameters
    ----------
    path : Path
        A pipe or a device is not opened; of a large file the beginning is read.
    """
    try:
        text = read_ordinary(path, _LOOKED_AT)[0].decode("utf-8", "ignore")
    except (OSError, ValueError):
        return False
    before_tables = _TABLE.split(text, maxsplit=1)[0]
    return _VERSION.search(before_tables) is not None


def refuse_hidden(path: Path, folder: Path) -> None:
    """Refuse a name that is hidden, or leads through a hidden folder below one.

    Parameters
    ----------
    path : Path
        Absolute.
    folder : Path
        Where names are looked for first; hidden folders above it do not count.

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
    """Refuse a file that is there and is no design.

    Raises
    ------
    DesignProblem
    """
    if os.path.lexists(path) and not is_design(path):
        raise DesignProblem(
            f'"{printable(path.name)}" is there and is no design; give another name.'
        )


def refuse_unsendable(path: Path) -> None:
    """Refuse a path with bytes in it that are no text, since no browser can be told of it.

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
        part = next(one for one in path.parts if not is_encodable(one))
        raise DesignProblem(
            f'"{printable(named, 300)}" cannot be shown in a browser, because "{printable(part)}" '
            "is not written in UTF-8; rename it first."
        )
