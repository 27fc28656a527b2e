"""The builder's own shelf file: threads put on it and taken off, its comments kept."""

from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT

from materials.shelf import Shelf, ShelfProblem
from materials.thread import Thread
from scenes import storage
from scenes.problems import DesignProblem, printable
from scenes.writing import written

__all__ = ["carry", "drop", "put", "without"]

_HEAD = """\
# My own shelf: where a name is also on the shelf that comes with Turnlight, mine counts.
# diameter in mm as laid, tex in g per km, spool in m, price of one spool.

version = 1

"""


def put(path: Path, thread: Thread) -> None:
    """Put a thread on a shelf file, in place of one of the same name; make the file if need be.

    Raises
    ------
    ShelfProblem
        If the file is not a shelf, the thread cannot be on one, or it cannot be written.
    """
    row: dict[str, Any] = {
        "name": thread.name,
        "kind": thread.kind.value,
        "size": thread.size,
        "colour": thread.colour,
        "diameter": thread.diameter_mm,
        "tex": thread.tex,
        "spool": thread.spool_m,
        "price": thread.price,
    }
    if not path.exists():
        _write(path, _HEAD + written({"threads": [row]}))
        return
    text, at = _found(path, thread.name)
    document = _edited(text, path)
    threads: Any = document["threads"]
    if at is not None:
        for key, value in row.items():
            if threads[at][key] != value:
                threads[at][key] = value
    elif isinstance(threads, AoT):
        # As a person would: one more block at the end of the file.
        _write(path, text.rstrip("\n") + "\n\n" + written({"threads": [row]}))
        return
    else:
        threads.append(row)
    _write(path, tomlkit.dumps(document))


def drop(path: Path, name: str) -> None:
    """Take a thread off a shelf file.

    Raises
    ------
    ShelfProblem
        If it is not there, or is the only one.
    """
    without(path, name)
    text, at = _found(path, name)
    document = _edited(text, path)
    threads: Any = document["threads"]
    del threads[at]
    _write(path, tomlkit.dumps(document))


def without(path: Path, name: str) -> Shelf:
    """Read a shelf file as it would be without one of its threads.

    Raises
    ------
    ShelfProblem
        If the thread is not there, or is the only one.
    """
    shelf = Shelf.load(path)
    gone = shelf.thread(name)
    left = [thread for thread in shelf.threads if thread is not gone]
    if not left:
        raise ShelfProblem(
            f"'{printable(name)}' is the only thread on your own shelf; put another on it first."
        )
    return Shelf(left)


def carry(name: str, folder: Path, to: Path) -> None:
    """Let a shelf stand beside a design in another folder too.

    Raises
    ------
    DesignProblem
        If another shelf of that name is there, or it cannot be written.
    """
    if to == folder:
        return
    text, there = storage.read(folder / name), to / name
    if not there.exists():
        storage.create(text, there)
    elif storage.read(there) != text:
        raise DesignProblem(
            f'another shelf called "{printable(name)}" is in that folder; save elsewhere.',
            field="shelf",
        )


def _found(path: Path, name: str) -> tuple[str, int | None]:
    """Read a shelf file, and where in it a thread is."""
    shelf = Shelf.load(path)
    text = _told(lambda: storage.read(path))
    at = shelf.threads.index(shelf[name]) if name in shelf else None
    return text, at


def _edited(text: str, path: Path) -> tomlkit.TOMLDocument:
    try:
        return tomlkit.parse(text)
    except TOMLKitError:
        raise ShelfProblem(
            f'"{printable(str(path), 300)}" is laid out in a way that cannot be changed in place; '
            "change it in an editor."
        ) from None


def _write(path: Path, text: str) -> None:
    Shelf.parse(text, path)
    _told(lambda: storage.replace(path, text))


def _told(do: Any) -> Any:
    """Let what storage refuses be a shelf's refusal."""
    try:
        return do()
    except DesignProblem as problem:
        raise ShelfProblem(str(problem)) from None
