"""Lines of text as runs of one direction and one script, in the order in which they are set.

Order follows the Unicode bidirectional algorithm [UAX9], by python-bidi; scripts are those of
[UAX24], by fontTools.
"""

import itertools
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from bidi import algorithm
from fontTools.unicodedata import script

__all__ = ["TextRun", "clusters_of", "is_plain", "normalised", "ordered", "runs_of"]

_JOINERS = "\u200c\u200d"
"""Zero-width non-joiner and joiner; they steer how letters join, and have no direction."""

_SHARED = ("Zyyy", "Zinh")
"""Scripts of characters that take the script of the letters beside them [UAX24]."""

_UNJOINED = frozenset({"Latn", "Grek", "Cyrl", "Armn", "Geor", *_SHARED})
"""Scripts whose letters stand side by side, left to right, if none is a combining mark."""


@dataclass(frozen=True, slots=True)
class TextRun:
    """Letters of one direction and one script.

    Parameters
    ----------
    text : str
        In the order in which it is read.
    level : int
        Embedding level [UAX9]: odd from right to left.
    script : str
        Four-letter code [ISO15924].
    """

    text: str
    level: int
    script: str

    @property
    def rtl(self) -> bool:
        """Whether it is set from right to left."""
        return self.level % 2 == 1


def normalised(text: str) -> str:
    """Compose letters with their accents (NFC) and drop invisible controls, except joiners.

    Parameters
    ----------
    text : str
    """
    return "".join(
        letter
        for letter in unicodedata.normalize("NFC", text)
        if letter in _JOINERS or unicodedata.category(letter) not in ("Cc", "Cf")
    )


def is_plain(text: str) -> bool:
    """Tell whether each letter is one glyph, set after the one before it.

    Parameters
    ----------
    text : str
        Normalised.
    """
    return text.isascii() or not any(
        script(letter) not in _UNJOINED
        or letter in _JOINERS
        or unicodedata.category(letter).startswith("M")
        or unicodedata.bidirectional(letter) in ("R", "AL", "AN")
        for letter in text
    )


def clusters_of(text: str) -> Iterator[str]:
    """Divide a text into letters with the marks and joiners that follow them.

    Parameters
    ----------
    text : str
        Normalised.

    Yields
    ------
    str
    """
    cluster = ""
    for letter in text:
        attached = letter in _JOINERS or unicodedata.category(letter).startswith("M")
        if cluster and not attached:
            yield cluster
            cluster = ""
        cluster += letter
    if cluster:
        yield cluster


def runs_of(text: str, direction: str | None = None) -> list[TextRun]:
    """Divide a line into runs, in the order in which they are read.

    Parameters
    ----------
    text : str
        Normalised.
    direction : str, optional
        Direction of the line, ``L`` or ``R``; by default that of its first letter that has one.

    Returns
    -------
    list of TextRun
    """
    made: list[TextRun] = []
    for (level, code), group in itertools.groupby(
        zip(text, _levels(text, direction), _scripts(text), strict=True), key=lambda one: one[1:]
    ):
        made.append(TextRun("".join(letter for letter, *_ in group), level, code))
    return made


def ordered(runs: Sequence[TextRun]) -> list[TextRun]:
    """Bring the runs of a line into the order in which they stand from left to right.

    Rule L2 of [UAX9].

    Parameters
    ----------
    runs : sequence of TextRun
        In the order in which they are read.
    """
    placed = list(runs)
    for level in range(max((run.level for run in runs), default=0), 0, -1):
        start = 0
        inside = [run.level >= level for run in placed]
        for reverse, group in itertools.groupby(inside):
            end = start + len(list(group))
            if reverse:
                placed[start:end] = placed[start:end][::-1]
            start = end
    return placed


def _levels(text: str, direction: str | None) -> list[int]:
    """Embedding levels of letters; joiners have that of the letter before them."""
    seen = "".join(letter for letter in text if letter not in _JOINERS)
    base = {"L": 0, "R": 1}.get(direction or "", algorithm.get_base_level(seen))
    storage = algorithm.get_empty_storage()
    storage["base_level"], storage["base_dir"] = base, ("L", "R")[base]
    algorithm.get_embedding_levels(seen, storage)
    algorithm.explicit_embed_and_overrides(storage)
    algorithm.resolve_weak_types(storage, False)
    algorithm.resolve_neutral_types(storage, False)
    algorithm.resolve_implicit_levels(storage, False)
    found = iter([int(letter["level"]) for letter in storage["chars"]])
    levels: list[int] = []
    for letter in text:
        levels.append((levels or [base])[-1] if letter in _JOINERS else next(found))
    # Rule L1: white space at the end stands at the end of the line.
    trailing = len(text) - len(text.rstrip())
    return levels[: len(levels) - trailing] + [base] * trailing


def _scripts(text: str) -> list[str]:
    codes = [script(letter) for letter in text]
    own = next((code for code in codes if code not in _SHARED), "Latn")
    for index, code in enumerate(codes):
        own = own if code in _SHARED else code
        codes[index] = own
    return codes
