"""Nested tables written as TOML in the layout that a person would choose."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import tomlkit
from tomlkit.items import SingleKey, String, StringType

__all__ = ["block_text", "document_text", "value_text"]

_WIDEST = 76
"""Most characters of a list in one line; a longer one has one entry a line."""


def document_text(document: Mapping[str, Any]) -> str:
    """Write a whole document.

    Parameters
    ----------
    document : dict
        Nested tables; lists of tables at the top are written as ``[[blocks]]``.
    """
    top = {key: value for key, value in document.items() if not _is_block(value)}
    blocks = [block_text((key,), value) for key, value in document.items() if _is_block(value)]
    return "\n".join(["".join(_lines(top)), *blocks]) if top else "\n".join(blocks)


def block_text(path: tuple[str, ...], value: Mapping[str, Any] | Sequence[Any]) -> str:
    """Write a table, or a list of tables, under its own header.

    Tables inside are written inline, except those that always have their own block: the fittings of
    a blank, the changes of a variant, and what stands in a further wrap.

    Parameters
    ----------
    path : tuple of str
        Keys in the header.
    value : dict or list of dict
        A table, or the tables of a list.
    """
    if not isinstance(value, Mapping):
        return "\n".join(_table(f"[[{_header(path)}]]", path, table) for table in value)
    return _table(f"[{_header(path)}]", path, value)


_BLOCKS = ("guide_schemes", "fitted", "changes")


def _table(header: str, path: tuple[str, ...], table: Mapping[str, Any]) -> str:
    blocks = [
        key
        for key, value in table.items()
        if value and (key in _BLOCKS or (path == ("wraps",) and _is_block(value)))
    ]
    below = [block_text((*path, key), table[key]) for key in blocks]
    plain = {key: value for key, value in table.items() if key not in blocks}
    return "\n".join([f"{header}\n" + "".join(_lines(plain)), *below])


def _lines(table: Mapping[str, Any]) -> Iterator[str]:
    for key, value in table.items():
        yield f"{SingleKey(key).as_string()} = {value_text(value)}\n"


def value_text(value: Any) -> str:
    """Write a value in one line, or a long list with one entry a line.

    Parameters
    ----------
    value : str, number, bool, list or dict
    """
    line = inline_text(value)
    if len(line) <= _WIDEST or not isinstance(value, list):
        return line
    return "[\n" + "".join(f"  {inline_text(item)},\n" for item in value) + "]"


def inline_text(value: Any) -> str:
    """Write a value in one line, or a text of several lines as such.

    Parameters
    ----------
    value : str, number, bool, list or dict
    """
    if isinstance(value, Mapping):
        pairs = (
            f"{SingleKey(key).as_string()} = {inline_text(item)}" for key, item in value.items()
        )
        return "{ " + ", ".join(pairs) + " }" if value else "{}"
    if isinstance(value, list):
        entries = ", ".join(inline_text(item) for item in value)
        return f"[ {entries} ]" if value and isinstance(value[0], Mapping) else f"[{entries}]"
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    if isinstance(value, str) and "\n" in value:
        # The first line end after the quotes does not count: the text starts on its own line.
        raw = String.from_raw(value, StringType.MLB).as_string()
        return raw if value.startswith("\n") else raw.replace('"""', '"""\n', 1)
    return str(tomlkit.item(value).as_string())


def _header(path: tuple[str, ...]) -> str:
    return ".".join(SingleKey(key).as_string() for key in path)


def _is_block(value: object) -> bool:
    return isinstance(value, Mapping) or (
        isinstance(value, list) and bool(value) and isinstance(value[0], Mapping)
    )
