"""The text of a TOML file divided into blocks, which can be inserted, removed and moved.

A comment directly above a header belongs to the block below it, as a reader takes it.
"""

import re
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

__all__ = ["Block", "cut", "elements", "inserted", "rearranged"]

Path = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Block:
    """A header with the comments above it and the fields below it, or the text before any header.

    Parameters
    ----------
    path : tuple of str
        Keys in the header; empty for the head of the file.
    listed : bool
        Whether the header has double brackets.
    text : str
    """

    path: Path
    listed: bool
    text: str


_TOKEN = re.compile(
    r'"""(?:[^\\]|\\.)*?"{3,5}'  # a text over several lines
    r"|'''.*?'{3,5}"
    r'|"(?:[^"\\\n]|\\.)*"'
    r"|'[^'\n]*'"
    r"|\#[^\n]*"
    r"|[\[\]\n]",
    re.DOTALL,
)


def cut(text: str) -> list[Block]:
    """Divide the text of a valid TOML file, with plain line ends, at its headers.

    Parameters
    ----------
    text : str

    Returns
    -------
    list of Block
        In order; together they make up the whole text.
    """
    headers = list(_headers(text))
    starts = [0, *(_with_comments(text, start) for start, _ in headers)]
    ends = [*starts[1:], len(text)]
    named = [((), False), *(_read_header(line) for _, line in headers)]
    return [
        Block(path, listed, text[start:end])
        for (path, listed), start, end in zip(named, starts, ends, strict=True)
    ]


def _headers(text: str) -> Iterator[tuple[int, str]]:
    """Find the position of each header's line, and its text."""
    depth, line_start, past = 0, 0, 0
    while (token := _TOKEN.search(text, past)) is not None:
        past = token.end()
        if token[0] == "\n":
            line_start = past
        elif token[0] == "]":
            depth -= 1
        elif token[0] == "[":
            if depth == 0 and not text[line_start : token.start()].strip():
                line_end = _line_end(text, token.start())
                yield line_start, text[line_start:line_end]
                past = line_end
            else:
                depth += 1


def _line_end(text: str, start: int) -> int:
    end = text.find("\n", start)
    return len(text) if end < 0 else end


def _with_comments(text: str, start: int) -> int:
    """Move the start of a block up over the comments directly above it."""
    while start > 0:
        above = text.rfind("\n", 0, start - 1) + 1
        if not text[above:start].lstrip().startswith("#"):
            break
        start = above
    return start


def _read_header(line: str) -> tuple[Path, bool]:
    table = tomllib.loads(line)
    path: list[str] = []
    listed = False
    while table and not listed:
        key, inner = next(iter(table.items()))
        path.append(key)
        listed = isinstance(inner, list)
        table = inner if isinstance(inner, dict) else {}
    return tuple(path), listed


def elements(blocks: Sequence[Block], path: Path) -> list[range]:
    """Find the blocks of each table in a list of tables, with those nested in it.

    Parameters
    ----------
    blocks : sequence of Block
        All blocks of the file.
    path : tuple of str
        Keys of the list.

    Returns
    -------
    list of range
        Positions in `blocks`, one range for each table.
    """
    found: list[range] = []
    for index, block in enumerate(blocks):
        if block.path == path and block.listed:
            found.append(range(index, index + 1))
        elif found and found[-1].stop == index and block.path[: len(path)] == path:
            found[-1] = range(found[-1].start, index + 1)
    return found


def rearranged(blocks: Sequence[Block], path: Path, order: Sequence[int | str]) -> str:
    """Reorder the tables of a list, and insert and remove some.

    Parameters
    ----------
    blocks : sequence of Block
        All blocks of the file.
    path : tuple of str
        Keys of the list; at least one of its tables is in the file.
    order : sequence of int or str
        For each table its present position, or the text of a new one.

    Returns
    -------
    str
        Text of the whole file. Tables that `order` leaves out are removed with their comments.
    """
    spans = elements(blocks, path)
    texts = ["".join(blocks[i].text for i in span) for span in spans]
    pieces = [_Piece(block.text) for block in blocks]
    filled = [
        _Piece(texts[table] if isinstance(table, int) else table, _is_moved(order, place))
        for place, table in enumerate(order)
    ]
    # Each former place in the file takes the next table; the remaining ones follow the last.
    slots = {span.start: [piece] for span, piece in zip(spans, filled, strict=False)}
    if len(filled) > len(spans):
        slots[spans[-1].start].extend(filled[len(spans) :])
    inside = {i for span in spans for i in span}
    arranged = [slots.get(i, [] if i in inside else [piece]) for i, piece in enumerate(pieces)]
    return _joined([piece for part in arranged for piece in part])


def inserted(blocks: Sequence[Block], place: int, text: str) -> str:
    """Insert a new block before another, or at the end.

    Parameters
    ----------
    blocks : sequence of Block
        All blocks of the file.
    place : int
        Position in `blocks` of the new block.
    text : str
        Text of the new block.

    Returns
    -------
    str
        Text of the whole file.
    """
    pieces = [_Piece(block.text) for block in blocks]
    return _joined([*pieces[:place], _Piece(text, loose=True), *pieces[place:]])


@dataclass(frozen=True, slots=True)
class _Piece:
    """A piece of text; a loose one gets an empty line before and after it."""

    text: str
    loose: bool = False


def _is_moved(order: Sequence[int | str], place: int) -> bool:
    here = order[place]
    before = order[place - 1] if place else -1
    return isinstance(here, str) or isinstance(before, str) or here != before + 1


def _joined(pieces: Sequence[_Piece]) -> str:
    text, loose = "", False
    for piece in pieces:
        if text and piece.text:
            end_of_line = "" if text.endswith("\n") else "\n"
            apart = (loose or piece.loose) and not text.endswith("\n\n")
            text += end_of_line + ("\n" if apart else "")
        text += piece.text
        loose = piece.loose
    return re.sub(r"\n\s*\Z", "\n", text)
