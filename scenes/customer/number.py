"""The design number: what is seen of a wrap, in eight letters and digits that a person can send.

Seven stand for the content; the last is a check by which a wrong or swapped letter is noticed, the
Luhn algorithm modulo 32. The alphabet leaves out I, L, O and U, which are misread (Crockford's
base 32); they are read as what they look like.
"""

import hashlib
import json
from typing import Any

from materials.shelf import Shelf
from scenes.design.differences import canonical
from scenes.design.document import Design
from scenes.design.threads import thread_names
from scenes.files.companion_files import CompanionFiles, layer_files

__all__ = ["NUMBER_PATTERN", "checked_number", "design_number", "dry"]

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


def design_number(design: Design, shelf: Shelf, beside: CompanionFiles) -> str:
    """Number a design by what is seen of its wrap.

    Blank, place, layers and finish count, with the looks of the threads and the content of
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
    bare = design.without_variants()
    content: dict[str, Any] = {
        "blank": _seen_blank(canonical(bare.blank)),
        "placement": canonical(bare.placement),
        "layers": [
            {"kind": layer.kind}
            | {name: value for name, value in canonical(layer).items() if name != "name"}
            for layer in bare.layers
        ],
        "finish": _seen(canonical(bare.finish), "finish"),
        "threads": [
            [name, thread.kind.value, thread.colour, thread.diameter_mm]
            for name in sorted({name for _, name in thread_names(bare)})
            for thread in (shelf.thread(name),)
        ],
        "files": [
            [name, hashlib.sha256(beside.read(name, field)).hexdigest()]
            for field, name in layer_files(bare)
        ],
    }
    text = json.dumps(content, sort_keys=True, separators=(",", ":"))
    value = int.from_bytes(hashlib.sha256(text.encode()).digest(), "big")
    codes = [(value >> (5 * place)) & 31 for place in range(_CONTENT)]
    letters = "".join(_ALPHABET[code] for code in [*codes, _check(codes)])
    return f"{letters[:4]}-{letters[4:]}"


def dry(design: Design) -> Design:
    """Copy a design without its finish, as it may be shown.

    Parameters
    ----------
    design : Design
    """
    finish = design.finish.model_copy(update={"coats": 0})
    return design.model_copy(update={"finish": finish})


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
