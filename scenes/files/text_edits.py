"""Edits of the text of a design file, which keep comments, order and layout."""

import copy
import difflib
import json
import math
import tomllib
from collections.abc import Mapping, Sequence
from typing import Any

import tomlkit
from tomlkit.items import AoT, Item

from scenes.files.toml_blocks import Block, cut, elements, inserted, rearranged
from scenes.files.toml_writing import block_text, document_text, value_text
from scenes.problems import DesignProblem

__all__ = ["rewritten"]

_LISTS = (
    ("blank", "guide_schemes"),
    ("blank", "fitted"),
    ("layers",),
    ("variants",),
    ("wraps",),
    ("agreed",),
)
"""Lists that are usually written as ``[[blocks]]``."""

_LISTS_OF_A_WRAP = ("layers", "variants")
"""Lists within each of the further wraps that may be written so."""

_TOLERANCE = 1e-9
"""Relative difference below which two numbers are equal but for conversion of units."""


def rewritten(text: str, document: Mapping[str, Any], order: Sequence[str]) -> str:
    """Change the text of a file so that it holds another document.

    Parameters
    ----------
    text : str
        Valid TOML, or nothing.
    document : dict
        New content of the file.
    order : sequence of str
        Order of the top-level fields, for those that are new.

    Returns
    -------
    str
        The text, with comments, order and layout kept wherever the content is the same.

    Raises
    ------
    DesignProblem
        If the file is written in a way that cannot be changed in place.
    """
    if not text.strip():
        return document_text(document)
    ending = "\r\n" if "\r\n" in text else "\n"
    text = text.replace("\r\n", "\n")
    try:
        document = _without_empty(document, tomllib.loads(text))
        for path in _LISTS:
            text = _with_list(text, path, document, order)
        for place, wrap in enumerate(document.get("wraps", [])):
            for key in _LISTS_OF_A_WRAP:
                text = _with_list_of_wrap(text, place, key, wrap.get(key, []))
        text = _with_tables(text, document, order)
        edited = tomlkit.parse(text)
        _merge(edited, edited.unwrap(), document)
        result = tomlkit.dumps(edited)
        kept = _same(tomllib.loads(result), document)
    except (ValueError, KeyError, IndexError, TypeError, AttributeError, RecursionError):
        # Rare layouts that tomlkit cannot edit; the file itself is untouched.
        kept = False
    if not kept:
        raise DesignProblem(
            "the file's layout cannot be changed in place; save under another name."
        )
    return result.replace("\n", ending)


def _without_empty(document: Mapping[str, Any], old: Mapping[str, Any]) -> dict[str, Any]:
    """Remove lists that have become empty, so that they are not written."""
    result = copy.deepcopy(dict(document))
    for path in _LISTS:
        if _value_at(result, path) == [] and _value_at(old, path) != []:
            del _value_at(result, path[:-1])[path[-1]]
    return result


def _value_at(document: Mapping[str, Any], path: tuple[str, ...]) -> Any:
    here: Any = document
    for key in path:
        here = here.get(key) if isinstance(here, Mapping) else None
    return here


def _with_list(
    text: str, path: tuple[str, ...], document: Mapping[str, Any], order: Sequence[str]
) -> str:
    """Insert, remove and reorder the blocks of a list; their fields are changed later."""
    blocks = cut(text)
    old, new = _value_at(tomllib.loads(text), path) or [], _value_at(document, path) or []
    if elements(blocks, path):
        return _with_entries(blocks, path, old, new)
    if old or not new or (len(path) > 1 and _value_at(tomllib.loads(text), path[:-1]) is None):
        return text
    return inserted(blocks, _place(blocks, path[0], order), block_text(path, new))


def _with_list_of_wrap(text: str, place: int, key: str, new: list[Any]) -> str:
    """Do the same with a list of blocks within one further wrap."""
    blocks, path = cut(text), ("wraps", key)
    spans = elements(blocks, path[:1])
    if place >= len(spans):
        return text
    span = spans[place]
    own = blocks[span.start : span.stop]
    written = "".join(block.text for block in own)
    old = tomllib.loads(text)["wraps"][place].get(key, [])
    if elements(own, path) and new:  # where the last entry goes, the list is removed later
        made = _with_entries(own, path, old, new)
    elif new and not old:
        made = inserted(own, len(own), block_text(path, new))
    else:
        return text
    if made == written:
        return text
    before, after = blocks[: span.start], blocks[span.stop :]
    apart = "\n" if after and not made.endswith("\n\n") else ""
    texts = [block.text for block in before], [block.text for block in after]
    return "".join([*texts[0], made, apart, *texts[1]])


def _with_entries(
    blocks: Sequence[Block], path: tuple[str, ...], old: Sequence[Any], new: Sequence[Any]
) -> str:
    """Bring the blocks of a list into the order of its new entries."""
    aligned = _aligned(old, new, moving=True)
    if aligned == list(range(len(old))):
        return "".join(block.text for block in blocks)
    texts = [block_text(path, [entry]) for entry in new]
    return rearranged(
        blocks, path, [t if a is None else a for t, a in zip(texts, aligned, strict=True)]
    )


def _with_tables(text: str, document: Mapping[str, Any], order: Sequence[str]) -> str:
    """Add and remove top-level tables, with the comments above them."""
    old = tomllib.loads(text)
    for key, value in old.items():
        blocks = cut(text)
        if key not in document and isinstance(value, dict):
            gone = [part for part in blocks if part.path[:1] == (key,)]
            text = "".join(part.text for part in blocks if part not in gone)
    for key, value in document.items():
        if key not in old and isinstance(value, Mapping):
            blocks = cut(text)
            text = inserted(blocks, _place(blocks, key, order), block_text((key,), value))
    return text


def _place(blocks: Sequence[Block], key: str, order: Sequence[str]) -> int:
    """Find the position of the first block that follows a field in the order of a document."""
    later = order[order.index(key) + 1 :] if key in order else []
    return next(
        (i for i, part in enumerate(blocks) if part.path[:1] and part.path[0] in later), len(blocks)
    )


def _merge(here: Any, old: Mapping[str, Any], new: Mapping[str, Any]) -> None:
    """Change a table of tomlkit's from one content to another."""
    for key in old:
        if key not in new:
            del here[key]
    for key, value in new.items():
        if key not in old:
            here[key] = _item(value)
        elif _same(old[key], value):
            continue
        elif isinstance(value, Mapping) and isinstance(old[key], Mapping):
            _merge(here[key], old[key], value)
        elif isinstance(value, list) and isinstance(old[key], list):
            _merge_list(here, key, old[key], value)
        else:
            here[key] = _item(value)


def _merge_list(here: Any, key: str, old: list[Any], new: list[Any]) -> None:
    aligned = _aligned(old, new, moving=False)
    kept = [item for item in aligned if item is not None]
    array = here[key]
    plain = all(isinstance(item, Mapping) for item in [*old, *new])
    if not plain or (isinstance(array, AoT) and len(kept) < len(aligned)):
        del here[key]
        here[key] = _item(new)
        return
    for index in reversed(range(len(old))):
        if index not in kept:
            del array[index]
    for index, (source, value) in enumerate(zip(aligned, new, strict=True)):
        if source is None:
            array.insert(index, _item(value))
        else:
            _merge(array[index], old[source], value)


def _item(value: Any) -> Item:
    return tomlkit.value(value_text(value))


def _aligned(old: Sequence[Any], new: Sequence[Any], *, moving: bool) -> list[int | None]:
    """Match each new entry to the position of the old entry that it came from, if any.

    Equal entries are matched first, in order; then those of one kind with most in common. Their
    order may differ only if `moving`.
    """
    found: list[int | None] = [None] * len(new)
    matcher = difflib.SequenceMatcher(
        None, [_fingerprint(was) for was in old], [_fingerprint(was) for was in new], autojunk=False
    )
    for start, other, size in matcher.get_matching_blocks():
        for step in range(size):
            found[other + step] = start + step
    pairs = (
        (-_in_common(was, entry), abs(place - index), place, index)
        for place, was in enumerate(old)
        for index, entry in enumerate(new)
        if place not in found and found[index] is None and _kind(was) == _kind(entry)
    )
    for _, _, place, index in sorted(pairs):
        free = place not in found and found[index] is None
        if free and (moving or not _crosses(found, index, place)):
            found[index] = place
    return found


def _crosses(found: Sequence[int | None], index: int, place: int) -> bool:
    """Tell whether a match would be out of order with those already found."""
    return any(
        one is not None and (one > place) != (other > index) for other, one in enumerate(found)
    )


def _kind(entry: Any) -> Any:
    return entry.get("kind") if isinstance(entry, Mapping) else type(entry)


def _in_common(first: Any, second: Any) -> int:
    """Count the equal fields; the name counts for more than all others together."""
    if not (isinstance(first, Mapping) and isinstance(second, Mapping)):
        return 0
    same = [key for key in first.keys() & second.keys() if _same(first[key], second[key])]
    return len(same) + 100 * ("name" in same)


def _fingerprint(value: Any) -> str:
    """Write a value as text that is equal for equal values."""
    return json.dumps(_rounded(value), sort_keys=True, default=str)


def _rounded(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _rounded(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_rounded(item) for item in value]
    if isinstance(value, int | float) and not isinstance(value, bool):
        return f"{float(value):.9g}"
    return value


def _same(first: Any, second: Any) -> bool:
    """Compare two values, numbers within `_TOLERANCE`."""
    if isinstance(first, Mapping) and isinstance(second, Mapping):
        return first.keys() == second.keys() and all(
            _same(first[key], second[key]) for key in first
        )
    if isinstance(first, list) and isinstance(second, list):
        return len(first) == len(second) and all(map(_same, first, second))
    if isinstance(first, bool) or isinstance(second, bool):
        return first is second
    if isinstance(first, int | float) and isinstance(second, int | float):
        return math.isclose(first, second, rel_tol=_TOLERANCE, abs_tol=1e-12)
    return bool(first == second)
