"""Edits of the builder's own shelf file, which keep its comments."""

from itertools import islice
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT

from materials.shelf import SHELF_TEXT, Shelf, ShelfProblem, table_of
from materials.thread import Thread
from materials.toml_text import named
from scenes.design.threads import check_all_threads
from scenes.files import storage
from scenes.files.neighbours import neighbours
from scenes.files.toml_writing import document_text
from scenes.problems import DesignProblem, NotWritten, printable

__all__ = [
    "ShelfNotWritten",
    "copy_shelf",
    "design_missing_thread",
    "put_thread",
    "text_of",
    "with_thread",
    "without_thread",
    "write",
]


class ShelfNotWritten(ShelfProblem, NotWritten):
    """A shelf file that this machine failed to write."""


_MOST_READ = 1000
"""Most files beside a shelf that are read to find designs that use it."""

_HEADER = """\
# My own shelf: where a name is also on the shelf that comes with Turnlight, mine counts.
# diameter in mm as laid, tex in g per km, spool in m, price of one spool.

version = 1

"""


def text_of(path: Path) -> str | None:
    """Read the text of a shelf file; None if there is no file.

    Parameters
    ----------
    path : Path

    Raises
    ------
    ShelfProblem
    """
    try:
        return storage.read(path, SHELF_TEXT) if path.exists() else None
    except DesignProblem as problem:
        raise ShelfProblem(str(problem)) from None


def write(path: Path, before: str | None, after: str | None) -> None:
    """Write or remove a shelf file, if its content is still what was read.

    Parameters
    ----------
    path : Path
        Path of the shelf file.
    before, after : str or None
        Its text as read, and its new text; None for no file.

    Raises
    ------
    ShelfProblem
        If the file has changed, the new text is not a valid shelf, or it cannot be written; the
        file is then unchanged.
    """
    if after is not None:
        Shelf.parse(after, path)
    try:
        if after is not None and before is not None:
            storage.update(path, after, before, SHELF_TEXT)
        elif after is not None:
            storage.create(after, path)
        elif before is not None:
            storage.remove(path, before, SHELF_TEXT)
    except (storage.NameTaken, storage.FileChanged):
        if text_of(path) != after:
            raise ShelfProblem(
                f"{named(path)} was changed by another program meanwhile; read it anew and try "
                "again."
            ) from None
    except NotWritten as problem:
        raise ShelfNotWritten(str(problem)) from None
    except DesignProblem as problem:
        raise ShelfProblem(str(problem)) from None


def put_thread(path: Path, thread: Thread) -> None:
    """Add a thread to a shelf file, or replace the one of the same name.

    The file is made if there is none.

    Parameters
    ----------
    path : Path
        Path of the shelf file.
    thread : Thread

    Raises
    ------
    ShelfProblem
        If the file is not a valid shelf, the thread cannot be on one, or it cannot be written.
    """
    text = text_of(path)
    write(path, text, with_thread(text, thread, path))


def with_thread(text: str | None, thread: Thread, path: Path) -> str:
    """Give the text of a shelf file with a thread added, or replaced if it has the name already.

    Parameters
    ----------
    text : str or None
        Present text; None for a new file.
    thread : Thread
    path : Path
        Path of the file, for a refusal.

    Raises
    ------
    ShelfProblem
        If the text is not a shelf, or cannot be changed in place.
    """
    row = table_of(thread)
    if text is None:
        return _HEADER + document_text({"threads": [row]})
    shelf = Shelf.parse(text, path)
    document = _edited(text, path)
    threads: Any = document["threads"]
    if thread.name in shelf:
        at = shelf.threads.index(shelf[thread.name])
        for key, value in row.items():
            if threads[at][key] != value:
                threads[at][key] = value
    elif isinstance(threads, AoT):
        # One more block at the end of the file, as a person would add it.
        return text.rstrip("\n") + "\n\n" + document_text({"threads": [row]})
    else:
        threads.append(row)
    return tomlkit.dumps(document)


def without_thread(text: str, name: str, path: Path) -> str:
    """Give the text of a shelf file without one of its threads.

    Parameters
    ----------
    text : str
        Present text.
    name : str
        Name of the thread.
    path : Path
        Path of the file, for a refusal.

    Raises
    ------
    ShelfProblem
        If the thread is not there or is the only one, or the text cannot be changed in place.
    """
    shelf = Shelf.parse(text, path)
    gone = shelf.thread(name)
    if len(shelf) == 1:
        raise ShelfProblem(
            f"'{printable(name)}' is the only thread on your own shelf; put another on it first."
        )
    document = _edited(text, path)
    threads: Any = document["threads"]
    del threads[shelf.threads.index(gone)]
    return tomlkit.dumps(document)


def design_missing_thread(path: Path, before: Shelf, after: Shelf | None) -> str:
    """Find a saved design that a change of its shelf would make invalid.

    Parameters
    ----------
    path : Path
        The shelf file; only designs beside it can name it.
    before, after : Shelf
        All threads of such a design, before and after; None if the file is removed.

    Returns
    -------
    str
        Name of the first design file that would lack its shelf or a thread; empty if there is none.
        At most `_MOST_READ` files are read.
    """
    if after is not None and all(name in after for name in before):
        return ""
    for file in islice(neighbours(path.parent, (".toml",)), _MOST_READ):
        try:
            text = storage.read(file)
            design = storage.parse(text, shelf=before) if "shelf" in text else None
        except DesignProblem:
            continue  # another kind of file, or a design that is already invalid
        if design is None or design.shelf != path.name:
            continue
        try:
            if after is not None:
                check_all_threads(design, after)
                continue
        except DesignProblem:
            pass
        return file.name
    return ""


def copy_shelf(name: str, folder: Path, to: Path) -> None:
    """Copy a shelf to another folder, beside a design that is saved there.

    Parameters
    ----------
    name : str
        File name of the shelf.
    folder, to : Path
        Folders to copy from and to.

    Raises
    ------
    DesignProblem
        If another shelf of that name is in `to`, or the copy cannot be written.
    """
    if to == folder:
        return
    text, there = storage.read(folder / name, SHELF_TEXT), to / name
    if not there.exists():
        try:
            storage.create(text, there)
            return
        except storage.NameTaken:
            pass  # by now
    if storage.read(there, SHELF_TEXT) != text:
        raise DesignProblem(
            f'another shelf called "{printable(name)}" is in that folder; save elsewhere.',
            field="shelf",
        )


def _edited(text: str, path: Path) -> tomlkit.TOMLDocument:
    try:
        return tomlkit.parse(text)
    except TOMLKitError:
        raise ShelfProblem(
            f'"{printable(str(path), 300)}" is laid out in a way that cannot be changed in place; '
            "change it in an editor."
        ) from None
