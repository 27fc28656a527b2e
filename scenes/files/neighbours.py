"""The files of a folder that may be anybody's, such as one of downloads: listed within limits."""

import os
from collections.abc import Iterator, Sequence
from itertools import islice
from pathlib import Path

__all__ = ["neighbours"]

_MOST_ENTRIES = 20_000
"""Entries of a folder that are looked at; which ones of more, the system decides."""


def neighbours(folder: Path, endings: Sequence[str]) -> Iterator[Path]:
    """Find the ordinary files in a folder whose names end so, in alphabetical order.

    Hidden ones are left out. Only names are looked at before a file is asked for, so that whoever
    needs a few pays for a few.

    Parameters
    ----------
    folder : Path
    endings : sequence of str
        In lower case; capitals in a name do not matter.

    Yields
    ------
    Path
    """
    try:
        with os.scandir(folder) as entries:
            names = [entry.name for entry in islice(entries, _MOST_ENTRIES)]
    except OSError:
        return
    for name in sorted(names, key=str.casefold):
        if not name.startswith(".") and name.lower().endswith(tuple(endings)):
            path = folder / name
            if path.is_file():
                yield path
