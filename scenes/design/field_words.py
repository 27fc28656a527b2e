"""Fields of a design in words: "strip width of the relief", where a file says relief.strip_width.

Paper and page say words. The command line says words too, with the path in brackets behind them, by
which a builder finds the field in his file; files for machines say paths.
"""

import re
from collections.abc import Sequence
from functools import cache, lru_cache

from scenes.design.document import Design
from scenes.design.layers import LAYER_KINDS
from scenes.parts.annotations import models_in
from scenes.parts.part import Part

__all__ = ["entry_label", "in_words", "in_words_with_paths", "label_of"]

_LABELS = {"around": "round the blank", "at_once": "threads together"}
"""Names of fields that are no words of the trade."""

_IN_SENTENCES = {**_LABELS, "from": "start", "to": "end"}

_OWNERS = {"placement": "wrap"} | {
    str(model.role): kind
    for kind, model in LAYER_KINDS.items()
    if kind.startswith(f"{model.role} ")
}
"""Names of parts that are no words by themselves: a layer that its file calls "woven" is a woven
panel."""

_SINGULAR = {"fitted": "fitting", "wraps": "further wrap"}

_PATH = re.compile(r"(?<![\w./\\-])[a-z][\w-]*(?:\.(?:\d+|[a-z][a-z_]*))+(?![\w/\\]|\.\w)")
_FILE = re.compile(r'"[^"]*": ')
_BRACKET = re.compile(rf" \({_PATH.pattern}\)")
_NAME = re.compile(r"(?<![\w./\\-])[a-z]+(?:_[a-z]+)+(?![\w/\\]|\.\w)")


def label_of(key: str) -> str:
    """Name of a field in words, such as "strip width".

    Parameters
    ----------
    key : str
        Name in the file.
    """
    return _LABELS.get(key, key.replace("_", " "))


@lru_cache(maxsize=4096)
def in_words(sentence: str) -> str:
    """Put words in place of the paths of fields in a sentence.

    A path in brackets is left out, since the words stand before it. File names stay.

    Parameters
    ----------
    sentence : str
    """
    bare = _BRACKET.sub(lambda found: "" if _words_of(found[0][2:-1]) else found[0], sentence)
    made = _PATH.sub(_replaced, bare)
    made = _NAME.sub(lambda found: _label_or_name(found[0]), made)
    start = _PATH.match(bare)
    return made[:1].upper() + made[1:] if start and _words_of(start[0]) else made


@lru_cache(maxsize=4096)
def in_words_with_paths(sentence: str) -> str:
    """Put words before the paths of fields in a sentence, and the paths in brackets.

    The path of the field that the sentence begins with stands at its end, so that what is wrong
    and what would be right is read first.

    Parameters
    ----------
    sentence : str
    """
    named_file = _FILE.match(sentence)
    file = named_file[0] if named_file else ""
    sentence = sentence.removeprefix(file)
    start = _PATH.match(sentence)
    lead = start[0] if start and _words_of(start[0]) else ""

    def named(found: re.Match[str]) -> str:
        words = found[0] if _is_code(found) else _replaced(found)
        return words if words == found[0] or found[0] == lead else f"{words} ({found[0]})"

    made = _PATH.sub(named, sentence)
    made = _NAME.sub(lambda found: found[0] if _is_code(found) else _label_or_name(found[0]), made)
    if not lead:
        return file + made
    made = made[:1].upper() + made[1:]
    if f"({lead})" in made:
        return file + made
    body, end = (made[:-1], made[-1]) if made[-1] in ".?!" else (made, "")
    return f"{file}{body} ({lead}){end}"


def _is_code(found: re.Match[str]) -> bool:
    """Whether a name or path stands as it is typed: in brackets or quotes, or before a =."""
    before, after = found.string[: found.start()], found.string[found.end() :]
    is_enclosed = (before[-1:], after[:1]) in (("(", ")"), ('"', '"'))
    return is_enclosed or after.lstrip().startswith("=")


def _label_or_name(name: str) -> str:
    return label_of(name) if name in _keys() else name


def _replaced(found: re.Match[str]) -> str:
    words = _words_of(found[0])
    before = found.string[: found.start()]
    has_article = re.match(r"the |(?:further )?\S+ \d", words) or re.search(
        r"\b(?:the|a|an|its) $", before
    )
    return f"the {words}" if words and before and not has_article else words or found[0]


def _words_of(path: str) -> str:
    """Words of a path; empty if it is none."""
    owner, *steps = path.split(".")
    names = [step for step in steps if not step.isdecimal()]
    if not (names or owner in _keys()) or any(name not in _keys() for name in names):
        return ""
    parts: list[str] = []
    for step in (owner, *steps):
        if not step.isdecimal():
            parts.append(step)
            continue
        parts[-1] = _entry(parts[-1], step)
    first, *inner = parts
    words = [_IN_SENTENCES.get(part, part.replace("_", " ")) for part in reversed(inner)]
    if first != "bench" or not words:
        words.append(_owner(first))
    return " of ".join(words)


def entry_label(steps: Sequence[str]) -> str:
    """Name of an entry of a list, such as "station 2" for ``stations``, ``1``.

    Parameters
    ----------
    steps : sequence of str
        Part of a path: names in the file, and positions.
    """
    words: list[str] = []
    for step in steps:
        if step.isdecimal() and words:
            words[-1] = _entry(words[-1], step)
        else:
            words.append(label_of(step))
    return ", ".join(words)


def _entry(listed: str, position: str) -> str:
    """An entry of a list; people count from 1."""
    return f"{_SINGULAR.get(listed, listed.removesuffix('s'))} {int(position) + 1}"


def _owner(name: str) -> str:
    words = _OWNERS.get(name, name.replace("_", " "))
    return words if words[-1].isdecimal() else f"the {words}"


@cache
def _keys() -> frozenset[str]:
    """Names of all fields that a design file may have."""
    found: set[str] = set()
    seen: set[type[Part]] = set()
    waiting: list[type[Part]] = [Design]
    while waiting:
        model = waiting.pop()
        if model in seen:
            continue
        seen.add(model)
        for name, info in model.model_fields.items():
            found.add(info.alias or name)
            waiting += models_in(info.annotation)
    return frozenset(found)
