"""A design file changed in place: what a person wrote stays, but for what has changed."""

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
from scenes.files.toml_writing import block, laid_out, written
from scenes.problems import DesignProblem

__all__ = ["rewritten"]

_LISTS = (("blank", "fitted"), ("layers",), ("variants",))
"""Lists that are usually written as ``[[blocks]]``."""

_TOLERANCE = 1e-9
"""Relative difference of two numbers that is the rounding of a change of units."""


def rewritten(text: str, document: Mapping[str, Any], order: Sequence[str]) -> str:
    """Change the text of a file so that it holds another document.

    Parameters
    ----------
    text : str
        Valid TOML, or nothing.
    document : dict
        What the file shall hold.
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
        return written(document)
    ending = "\r\n" if "\r\n" in text else "\n"
    text = text.replace("\r\n", "\n")
    try:
        document = _without_empty(document, tomllib.loads(text))
        for path in _LISTS:
            text = _with_list(text, path, document, order)
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
    """Leave out lists that have become empty, rather than write that they are."""
    result = copy.deepcopy(dict(document))
    for path in _LISTS:
        if _inside(result, path) == [] and _inside(old, path) != []:
            del _inside(result, path[:-1])[path[-1]]
    return result


def _inside(document: Mapping[str, Any], path: tuple[str, ...]) -> Any:
    here: Any = document
    for key in path:
        here = here.get(key) if isinstance(here, Mapping) else None
    return here


def _with_list(
    text: str, path: tuple[str, ...], document: Mapping[str, Any], order: Sequence[str]
) -> str:
    """Put the right number of a list's blocks in the right order; their fields come later."""
    blocks = cut(text)
    old, new = _inside(tomllib.loads(text), path) or [], _inside(document, path) or []
    if elements(blocks, path):
        aligned = _aligned(old, new, moving=True)
        if aligned == list(range(len(old))):
            return text
        texts = [block(path, [one]) for one in new]
        return rearranged(
            blocks, path, [t if a is None else a for t, a in zip(texts, aligned, strict=True)]
        )
    if old or not new or (len(path) > 1 and _inside(tomllib.loads(text), path[:-1]) is None):
        return text
    return inserted(blocks, _place(blocks, path[0], order), block(path, new))


def _with_tables(text: str, document: Mapping[str, Any], order: Sequence[str]) -> str:
    """Add and take out top-level tables, with the comments above them."""
    old = tomllib.loads(text)
    for key, value in old.items():
        blocks = cut(text)
        if key not in document and isinstance(value, dict):
            gone = [one for one in blocks if one.path[:1] == (key,)]
            text = "".join(one.text for one in blocks if one not in gone)
    for key, value in document.items():
        if key not in old and isinstance(value, Mapping):
            blocks = cut(text)
            text = inserted(blocks, _place(blocks, key, order), block((key,), value))
    return text


def _place(blocks: Sequence[Block], key: str, order: Sequence[str]) -> int:
    """Find the first block that stands later in a document than the field."""
    later = order[order.index(key) + 1 :] if key in order else []
    return next(
        (i for i, one in enumerate(blocks) if one.path[:1] and one.path[0] in later), len(blocks)
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
    kept = [one for one in aligned if one is not None]
    array = here[key]
    plain = all(isinstance(one, Mapping) for one in [*old, *new])
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
    return tomlkit.value(laid_out(value))


def _aligned(old: Sequence[Any], new: Sequence[Any], *, moving: bool) -> list[int | None]:
    """Find for each new entry the old one that it came from.

    Equal entries first, in order, then those of the same kind that have most in common; only
    `moving` ones may have changed their order.
    """
    found: list[int | None] = [None] * len(new)
    matcher = difflib.SequenceMatcher(
        None, [_print(one) for one in old], [_print(one) for one in new], autojunk=False
    )
    for start, other, size in matcher.get_matching_blocks():
        for step in range(size):
            found[other + step] = start + step
    pairs = (
        (-_in_common(one, entry), abs(place - index), place, index)
        for place, one in enumerate(old)
        for index, entry in enumerate(new)
        if place not in found and found[index] is None and _kind(one) == _kind(entry)
    )
    for _, _, place, index in sorted(pairs):
        free = place not in found and found[index] is None
        if free and (moving or not _crosses(found, index, place)):
            found[index] = place
    return found


def _crosses(found: Sequence[int | None], index: int, place: int) -> bool:
    """Tell whether an entry would change sides with one that has been found."""
    return any(
        one is not None and (one > place) != (other > index) for other, one in enumerate(found)
    )


def _kind(entry: Any) -> Any:
    return entry.get("kind") if isinstance(entry, Mapping) else type(entry)


def _in_common(one: Any, other: Any) -> int:
    """Count the fields that are the same; a name is worth more than all the rest."""
    if not (isinstance(one, Mapping) and isinstance(other, Mapping)):
        return 0
    same = [key for key in one.keys() & other.keys() if _same(one[key], other[key])]
    return len(same) + 100 * ("name" in same)


def _print(value: Any) -> str:
    """Write a value so that two are written alike if they are the same."""
    return json.dumps(_rounded(value), sort_keys=True, default=str)


def _rounded(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _rounded(one) for key, one in value.items()}
    if isinstance(value, list):
        return [_rounded(one) for one in value]
    if isinstance(value, int | float) and not isinstance(value, bool):
        return f"{float(value):.9g}"
    return value


def _same(one: Any, other: Any) -> bool:
    """Compare two contents, numbers but for rounding."""
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return one.keys() == other.keys() and all(_same(one[key], other[key]) for key in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(_same, one, other))
    if isinstance(one, bool) or isinstance(other, bool):
        return one is other
    if isinstance(one, int | float) and isinstance(other, int | float):
        return math.isclose(one, other, rel_tol=_TOLERANCE, abs_tol=1e-12)
    return bool(one == other)
