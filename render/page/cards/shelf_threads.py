"""Threads of the shelf as state of the page, and threads as typed in its form."""

from collections.abc import Iterable, Mapping
from typing import Any

from materials.shelf import table_of
from materials.thread import Thread, ThreadKind
from render.editor.desk import Desk
from scenes.numerals import read_number
from scenes.problems import DesignProblem
from scenes.quantities import Units

__all__ = ["read_thread", "sentences_naming", "state_of_threads"]


def state_of_threads(desk: Desk) -> list[dict[str, Any]]:
    """Describe every thread of the shelf.

    Parameters
    ----------
    desk : Desk

    Returns
    -------
    list of dict
        As `materials.shelf.table_of`; ``own``: whether it is the builder's own; ``private``:
        whether it is, and the open design does not name it.
    """
    own, private = desk.own_threads, desk.private_threads
    return [
        table_of(thread) | {"own": thread in own, "private": thread in private}
        for thread in desk.shelf.threads
    ]


def sentences_naming(threads: Iterable[Thread], sentences: Iterable[str]) -> list[str]:
    """Select the sentences that name one of some threads.

    Parameters
    ----------
    threads : iterable of Thread
    sentences : iterable of str
    """
    names = [thread.name for thread in threads]
    return [sentence for sentence in sentences if any(name in sentence for name in names)]


def read_thread(given: Mapping[str, object]) -> Thread:
    """Read a thread from typed text.

    Parameters
    ----------
    given : mapping
        Text by the names of `materials.shelf.table_of`.

    Raises
    ------
    DesignProblem, MaterialProblem
    """
    numbers: dict[str, float] = {}
    for name in ("diameter", "tex", "spool", "price"):
        text = str(given.get(name, "")).strip()
        try:
            numbers[name] = float(read_number(text, Units.MM if name == "diameter" else None))
        except DesignProblem as problem:
            raise DesignProblem(f"{name}: {problem}", field=name) from None
    words = {name: str(given.get(name, "")).strip() for name in ("name", "size", "colour", "kind")}
    if words["kind"] not in tuple(ThreadKind):
        raise DesignProblem(f"kind: give one of {', '.join(ThreadKind)}.", field="kind")
    return Thread(
        words["name"],
        ThreadKind(words["kind"]),
        words["size"],
        words["colour"],
        diameter_mm=numbers["diameter"],
        tex=numbers["tex"],
        spool_m=numbers["spool"],
        price=numbers["price"],
    )
