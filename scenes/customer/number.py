"""The design number: what is seen of a wrap, in eight letters and digits that a person can send.

Seven stand for the content; the last is a check by which a wrong or swapped letter is noticed, the
Luhn algorithm modulo 32. The alphabet leaves out I, L, O and U, which are misread (Crockford's
base 32); they are read as what they look like.
"""

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from materials.shelf import Shelf
from scenes.design.differences import canonical
from scenes.design.document import Design
from scenes.design.rod import other_wraps
from scenes.design.threads import thread_names
from scenes.files.companion_files import CompanionFiles, layer_files

__all__ = ["NUMBER_PATTERN", "SeenParts", "checked_number", "design_number", "dry", "seen_parts"]

_ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
_CONTENT = 7

NUMBER_PATTERN = r"([0-9A-Za-z]{4})\s?[-\u2010-\u2015]?\s?([0-9A-Za-z]{4})"
"""Regular expression of a design number as people and their programs pass it on."""

_UNSEEN = {
    "blank": ("mass", "balance", "reel_seat", "length", "wall", "density"),
    "fitted": ("mass",),
    "finish": ("work_time", "recoat_time", "cure_time"),
}
"""Fields that nobody sees, by table."""


_DIGEST = 8
"""Hexadecimal digits of the digest of a part."""


@dataclass(frozen=True, slots=True)
class SeenParts:
    """Digests of what is seen of the parts of a rod: equal where a part looks the same.

    Parameters
    ----------
    blank : str
        Of the blank with all that is fitted on it.
    wraps : dict of str to str
        Of each wrap, by its name.
    """

    blank: str
    wraps: dict[str, str]


def seen_parts(design: Design, shelf: Shelf, beside: CompanionFiles) -> SeenParts:
    """Digest the blank and each wrap of a design, of which `design_number` numbers the whole.

    Parameters
    ----------
    design : Design
        Its variants do not count.
    shelf : Shelf
    beside : CompanionFiles

    Raises
    ------
    DesignProblem, ShelfProblem
        If a thread or a file is missing.
    """
    bare = _bare(design)
    on_blank: set[str] = set()
    found: dict[str, str] = {}
    for rod in (bare, *other_wraps(bare)):
        alone = rod.model_copy(update={"wraps": (), "variants": ()})
        wound: set[str] = set()
        for path, name in thread_names(alone):
            (on_blank if path.startswith("blank.") else wound).add(name)
        content = [_seen_wrap(alone), _looks(wound, shelf), _contents(alone, beside)]
        found[rod.wrap_name] = _digest(content)
    return SeenParts(_digest([_seen_blank(canonical(bare.blank)), _looks(on_blank, shelf)]), found)


def _bare(design: Design) -> Design:
    """Copy a design without variants; a guide bound by a scheme says itself what is seen of it."""
    bare = design.without_variants()
    return bare.model_copy(update={"blank": bare.blank.written_out()})


def _digest(content: object) -> str:
    text = json.dumps(content, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()[:_DIGEST]


def _looks(names: Iterable[str], shelf: Shelf) -> list[list[Any]]:
    """What is seen of some threads."""
    return [
        [name, thread.kind.value, thread.colour, thread.diameter_mm]
        for name in sorted(set(names))
        for thread in (shelf.thread(name),)
    ]


def _contents(design: Design, beside: CompanionFiles) -> list[list[str]]:
    """Names and digests of the files of its layers."""
    return [
        [name, hashlib.sha256(beside.read(name, field)).hexdigest()]
        for field, name in _files(design)
    ]


def design_number(design: Design, shelf: Shelf, beside: CompanionFiles) -> str:
    """Number a design by what is seen of its wraps.

    Blank, places, layers and finish count, with the looks of the threads and the content of
    pictures, charts and fonts. Titles, notes, names of layers, light, view and the bench do not.

    Parameters
    ----------
    design : Design
        Its variants do not count.
    shelf : Shelf
        Where its threads are.
    beside : CompanionFiles
        Where its files are.

    Returns
    -------
    str
        Such as ``7K3Q-9XMA``.

    Raises
    ------
    DesignProblem, ShelfProblem
        If a thread or a file is missing.
    """
    bare = _bare(design)
    content: dict[str, Any] = {
        "blank": _seen_blank(canonical(bare.blank)),
        # The number of a rod is the same from whichever of its wraps it is asked for.
        **({"wraps": _seen_wraps(bare)} if bare.wraps else _seen_wrap(bare)),
        "threads": _looks((name for _, name in thread_names(bare)), shelf),
        "files": _contents(bare, beside),
    }
    text = json.dumps(content, sort_keys=True, separators=(",", ":"))
    value = int.from_bytes(hashlib.sha256(text.encode()).digest(), "big")
    codes = [(value >> (5 * place)) & 31 for place in range(_CONTENT)]
    letters = "".join(_ALPHABET[code] for code in [*codes, _check(codes)])
    return f"{letters[:4]}-{letters[4:]}"


def _files(design: Design) -> Iterable[tuple[str, str]]:
    """The files of its layers; those of a rod in an order of their own, whatever wrap is first."""
    files = layer_files(design)
    return sorted(files, key=lambda pair: pair[1]) if design.wraps else files


def dry(design: Design) -> Design:
    """Copy a design without any finish, as it may be shown.

    Parameters
    ----------
    design : Design
    """
    wraps = tuple(
        wrap
        if wrap.finish is None
        else wrap.model_copy(update={"finish": wrap.finish.model_copy(update={"coats": 0})})
        for wrap in design.wraps
    )
    finish = design.finish.model_copy(update={"coats": 0})
    return design.model_copy(update={"finish": finish} | ({"wraps": wraps} if wraps else {}))


def checked_number(text: str) -> str | None:
    """Read a design number.

    Parameters
    ----------
    text : str
        Eight letters and digits, in either case.

    Returns
    -------
    str or None
        As `design_number` writes it; None if a letter of it is wrong.
    """
    plain = text.upper().translate(str.maketrans("OIL", "011"))
    letters = [letter for letter in plain if letter.isalnum()]
    if len(letters) != _CONTENT + 1 or any(letter not in _ALPHABET for letter in letters):
        return None
    codes = [_ALPHABET.index(letter) for letter in letters]
    if codes[-1] != _check(codes[:-1]):
        return None
    return f"{''.join(letters[:4])}-{''.join(letters[4:])}"


def _seen_wraps(design: Design) -> list[dict[str, Any]]:
    """All wraps of a rod, from butt to tip."""
    rods = sorted((design, *other_wraps(design)), key=lambda rod: rod.placement.start)
    return [_seen_wrap(rod) for rod in rods]


def _seen_wrap(design: Design) -> dict[str, Any]:
    return {
        "placement": canonical(design.placement),
        "layers": [
            {"kind": layer.kind}
            | {name: value for name, value in canonical(layer).items() if name != "name"}
            for layer in design.layers
        ],
        "finish": _seen(canonical(design.finish), "finish"),
    }


def _seen_blank(blank: dict[str, Any]) -> dict[str, Any]:
    seen = _seen(blank, "blank")
    if "fitted" in seen:
        seen["fitted"] = [_seen(fitting, "fitted") for fitting in seen["fitted"]]
    return seen


def _seen(table: dict[str, Any], name: str) -> dict[str, Any]:
    return {key: value for key, value in table.items() if key not in _UNSEEN[name]}


def _check(codes: list[int]) -> int:
    """The check of some codes, by the Luhn algorithm modulo the size of the alphabet."""
    size, total, factor = len(_ALPHABET), 0, 2
    for code in reversed(codes):
        addend = factor * code
        total += addend // size + addend % size
        factor = 3 - factor
    return (size - total % size) % size
