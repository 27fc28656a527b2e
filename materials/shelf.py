"""The shelf: threads by name, from the file shipped here and from the builder's own file."""

import difflib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Annotated, Any, Self

import numpy as np
from numpy.typing import ArrayLike
from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError
from pydantic_core import ErrorDetails

from materials.colour import format_hex, linear_to_lab, parse_hex
from materials.difference import delta_e_2000
from materials.problems import MaterialProblem, shown
from materials.thread import Thread, ThreadKind
from materials.toml_limits import TomlLimits
from materials.toml_text import TextKind, TextProblem, named, parse_toml, read_text

__all__ = ["SHELF_TEXT", "Shelf", "ShelfProblem", "table_of"]

SHELF_TEXT = TextKind(
    "shelf",
    "give the path of a shelf file",
    "give one [[threads]] table or more",
    TomlLimits(tables=10_000, values=100_000),
)
"""What a shelf file is called in a refusal."""


class ShelfProblem(MaterialProblem):
    """One sentence about a shelf file or a thread that is not on the shelf."""


@dataclass(frozen=True, slots=True, eq=False)
class Shelf(Mapping[str, Thread]):
    """Threads by name, in the order of the file; capitals and spacing in a name do not matter.

    Parameters
    ----------
    threads : iterable of Thread
        In the order of the file.

    Raises
    ------
    ShelfProblem
        If two threads have one name.
    """

    threads: tuple[Thread, ...]
    _by_key: dict[str, Thread] = field(init=False, repr=False)

    def __init__(self, threads: Iterable[Thread]) -> None:
        by_key: dict[str, Thread] = {}
        for thread in threads:
            key = _key(thread.name)
            if key in by_key:
                raise ShelfProblem(
                    f'The name "{thread.name}" is on the shelf twice; each thread needs its own.'
                )
            by_key[key] = thread
        object.__setattr__(self, "threads", tuple(by_key.values()))
        object.__setattr__(self, "_by_key", by_key)

    @classmethod
    def shipped(cls) -> Self:
        """Read the shelf that comes with Turnlight, all of it invented.

        Returns
        -------
        Shelf
        """
        return cls(_shipped_threads())

    @classmethod
    def load(cls, path: str | Path) -> Self:
        """Read the builder's own shelf file, in the form of the shipped ``shelf.toml``.

        Parameters
        ----------
        path : str or Path
            TOML, UTF-8, at most 1 MB.

        Returns
        -------
        Shelf

        Raises
        ------
        ShelfProblem
            If the file cannot be read or holds anything that a shelf cannot; one sentence with
            the file, the field, its value and what would be right.
        """
        try:
            text = read_text(Path(path), SHELF_TEXT)
        except TextProblem as problem:
            raise ShelfProblem(str(problem)) from None
        return cls.parse(text, path)

    @classmethod
    def parse(cls, text: str, path: str | Path) -> Self:
        """Read a shelf from the text of a file, which need not have been written yet.

        Parameters
        ----------
        text : str
            Whole text of the file.
        path : str or Path
            Name of the file in an error.

        Raises
        ------
        ShelfProblem
        """
        return cls(_parse(text, named(path)))

    def __getitem__(self, name: str) -> Thread:
        """Give the thread of that name; KeyError when there is none, as any mapping."""
        return self._by_key[_key(name)]

    def __iter__(self) -> Iterator[str]:
        """Go through the names as they are written."""
        return (thread.name for thread in self.threads)

    def __len__(self) -> int:
        """Count the threads."""
        return len(self.threads)

    def thread(self, name: str) -> Thread:
        """Find a thread by its name.

        Parameters
        ----------
        name : str
            Capitals and spacing do not matter.

        Returns
        -------
        Thread

        Raises
        ------
        ShelfProblem
            If there is none; the message gives similar names.
        """
        found = self._by_key.get(_key(name))
        if found is not None:
            return found
        near = difflib.get_close_matches(_key(name), self._by_key, n=3)
        names = [f'"{self._by_key[key].name}"' for key in near] or [
            f'"{thread.name}"' for thread in self.threads[:3]
        ]
        lead = "nearest are" if len(near) > 1 else "nearest is"
        if not near:
            lead = f"it has {len(self)}, such as"
        tail = f"; {lead} {', '.join(names)}." if names else ", which is empty."
        raise ShelfProblem(f"There is no thread {shown(name)} on the shelf{tail}")

    def with_own(self, own: "Shelf") -> "Shelf":
        """Lay the builder's own shelf over this one.

        Parameters
        ----------
        own : Shelf
            Wins where a name is on both.

        Returns
        -------
        Shelf
            This shelf's threads in their places, then the builder's other ones.
        """
        return Shelf((self._by_key | own._by_key).values())

    def nearest(
        self, linear_rgb: ArrayLike, kind: ThreadKind | None = None, n: int = 3
    ) -> tuple[Thread, ...]:
        """Find the threads whose colour is nearest.

        Parameters
        ----------
        linear_rgb : array_like, shape (3,)
            The colour looked for.
        kind : ThreadKind, optional
            Only threads of this kind; any kind when left out.
        n : int
            How many at most, 1 or more.

        Returns
        -------
        tuple of Thread, length up to `n`
            Nearest first, by the colour difference CIEDE2000 (`materials.difference`). Equals
            stay in shelf order.

        Raises
        ------
        ShelfProblem
            If the colour is not three finite numbers, or `n` is less than 1.
        """
        wanted = np.asarray(linear_rgb, dtype=np.float64)
        if wanted.shape != (3,) or not np.isfinite(wanted).all():
            raise ShelfProblem(
                f"The colour looked for is {np.array2string(wanted, threshold=6)}, "
                "but should be three finite numbers of linear RGB."
            )
        if n < 1:
            raise ShelfProblem(f"The number of threads looked for is {n}, but should be 1 or more.")
        pool = [t for t in self.threads if kind is None or t.kind is kind]
        if not pool:
            return ()
        labs = linear_to_lab([t.linear_rgb for t in pool])
        order = np.argsort(delta_e_2000(labs, linear_to_lab(wanted)), kind="stable")
        return tuple(pool[i] for i in order[:n])


@cache
def _shipped_threads() -> tuple[Thread, ...]:
    text = resources.files("materials").joinpath("shelf.toml").read_text(encoding="utf-8")
    return _parse(text, "The shipped shelf")


def _key(name: str) -> str:
    return " ".join(name.split()).casefold()


# --- the file -------------------------------------------------------------------------------


def _printable(text: str) -> str:
    text = text.strip()
    if not text or not text.isprintable():
        raise ValueError
    return text


def _colour(text: str) -> str:
    return format_hex(parse_hex(text))


class _Row(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)

    name: Annotated[str, Field(max_length=80), AfterValidator(_printable)]
    kind: Annotated[ThreadKind, Field(strict=False)]
    size: Annotated[str, Field(max_length=8), AfterValidator(_printable)]
    colour: Annotated[str, AfterValidator(_colour)]
    diameter: Annotated[float, Field(ge=0.03, le=3)]
    tex: Annotated[float, Field(ge=1, le=5000)]
    spool: Annotated[float, Field(ge=1, le=100_000)]
    price: Annotated[float, Field(ge=0, le=1_000_000)]
    left: Annotated[float, Field(ge=0, le=100_000)] | None = None


class _File(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)

    version: Annotated[int, Field(ge=1, le=1)] = 1
    threads: Annotated[list[_Row], Field(min_length=1)]


_RIGHT = {
    "version": "1",
    "threads": "one [[threads]] table or more",
    "name": "a name in quotes, at most 80 characters",
    "kind": '"metallic", "NCP nylon" or "nylon"',
    "size": 'a letter or two in quotes, such as "A" or "D"',
    "colour": '"#rgb" or "#rrggbb" in quotes, such as "#1f7fe8"',
    "diameter": "a number of mm from 0.03 to 3",
    "tex": "a number of g per km from 1 to 5000",
    "spool": "a number of metres from 1 to 100000",
    "price": "a number from 0 to 1000000",
    "left": "a number of metres from 0 to 100000",
}


def table_of(thread: Thread) -> dict[str, str | float]:
    """Table of a thread as in a shelf file, without how much of it is left.

    Parameters
    ----------
    thread : Thread
        One of a shelf, or to be put on one.

    Returns
    -------
    dict
        ``name``, ``kind``, ``size``, ``colour``, ``diameter`` (mm), ``tex`` (g per km), ``spool``
        (m), ``price``.
    """
    return {
        "name": thread.name,
        "kind": thread.kind.value,
        "size": thread.size,
        "colour": thread.colour,
        "diameter": thread.diameter_mm,
        "tex": thread.tex,
        "spool": thread.spool_m,
        "price": thread.price,
    }


def _parse(text: str, file: str) -> tuple[Thread, ...]:
    try:
        document = parse_toml(text, SHELF_TEXT, file)
    except TextProblem as problem:
        raise ShelfProblem(str(problem)) from None
    try:
        rows = _File.model_validate(document).threads
    except ValidationError as error:
        details = error.errors(include_url=False, include_context=False)
        raise ShelfProblem(f"{file}: {_sentence(details, document)}") from None
    seen: dict[str, int] = {}
    for i, row in enumerate(rows, start=1):
        if (before := seen.setdefault(_key(row.name), i)) != i:
            raise ShelfProblem(
                f'{file}: name of thread {i} is "{row.name}", the same as of thread {before}, '
                "but each thread should have its own."
            )
    return tuple(
        Thread(
            row.name,
            row.kind,
            row.size,
            row.colour,
            diameter_mm=row.diameter,
            tex=row.tex,
            spool_m=row.spool,
            price=row.price,
            left_m=row.left,
        )
        for row in rows
    )


def _sentence(errors: list[ErrorDetails], document: dict[str, Any]) -> str:
    """Describe the first mistake; a misspelt field before the gap that it leaves."""
    first = errors[0]
    if first["type"] == "missing":
        siblings = (e for e in errors if e["loc"][:-1] == first["loc"][:-1])
        first = next((e for e in siblings if e["type"] == "extra_forbidden"), first)
    loc = first["loc"]
    of = ""
    if len(loc) > 1:
        index = int(loc[1])
        table = document["threads"][index]
        name = table.get("name") if isinstance(table, dict) else None
        of = f" of thread {index + 1}" + (f" ({shown(name)})" if isinstance(name, str) else "")
    if len(loc) == 2:
        return f"thread {int(loc[1]) + 1} is {shown(first['input'])}, but should be a table."
    key = str(loc[-1])
    if first["type"] == "extra_forbidden":
        known = list((_Row if of else _File).model_fields)
        near = difflib.get_close_matches(key.casefold(), known, n=1)
        hint = f'did you mean "{near[0]}"?' if near else f"the fields are {', '.join(known)}."
        return f"{shown(key)}{of} is not a field; {hint}"
    if first["type"] == "missing":
        return f"{key}{of} is missing, but should be {_RIGHT[key]}."
    return f"{key}{of} is {shown(first['input'])}, but should be {_RIGHT[key]}."
