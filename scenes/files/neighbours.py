"""Bounded listing of a folder, which may be large, such as one of downloads."""

import os
from collections.abc import Iterator, Sequence
from itertools import islice
from pathlib import Path

__all__ = ["neighbours"]

_MOST_ENTRIES = 20_000
"""Most entries of a folder that are read; of more, the system decides which."""


def neighbours(folder: Path, endings: Sequence[str]) -> Iterator[Path]:
    """Find the ordinary files in a folder with some endings, in alphabetical order.

    Hidden files are left out. Each file is examined only when the iterator reaches it, so a caller
    that needs a few files pays for a few.

    Parameters
    ----------
    folder : Path
    endings : sequence of str
        In lower case; compared without regard to case.

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
