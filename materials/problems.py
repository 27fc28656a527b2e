"""The error that the materials raise when a person's input is wrong, and how values are shown."""

import re
from collections.abc import Mapping, Sequence

__all__ = [
    "LONGEST_SHOWN",
    "MaterialProblem",
    "is_encodable",
    "not_a_number",
    "printable",
    "shown",
]

LONGEST_SHOWN = 60
"""A longer value is cut in a sentence: enough to recognise it by."""


_DECIMAL_COMMA = re.compile(r"\s*([-+]?\d{0,12}),(\d{1,12}(?:\s*[^\W\d]{1,12})?)\s*")
"""A number with a decimal comma, and perhaps a unit."""


class MaterialProblem(ValueError):
    """One sentence for the person at the bench: the field, its value, what would be right."""


def printable(text: str, longest: int = LONGEST_SHOWN) -> str:
    """Cut a text short and escape what would not print.

    Parameters
    ----------
    text : str
        Any text.
    longest : int
        Characters that are kept.
    """
    cut = text[:longest]
    plain = "".join(
        letter if letter.isprintable() else letter.encode("unicode_escape").decode("ascii")
        for letter in cut
    )
    return plain + ("…" if len(text) > len(cut) else "")


def shown(value: object) -> str:
    """Write a value as it stands in the file: short, on one line, nothing unprintable.

    Parameters
    ----------
    value : object
        Any value that TOML can hold.
    """
    if isinstance(value, str):
        return f'"{printable(value)}"'
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value) if abs(value) < 10**20 else "a number of more than 20 digits"
    if isinstance(value, float):
        return repr(value)
    if value is None:
        return "nothing"
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, Sequence):
        return "an empty list" if not value else "a list"
    return printable(str(value))


def not_a_number(given: object) -> str:
    """Say that a value is not a number, and how it is written if it only has a decimal comma.

    Parameters
    ----------
    given : object
        Value as it was given.

    Returns
    -------
    str
        A clause that begins with the value.
    """
    comma = _DECIMAL_COMMA.fullmatch(given) if isinstance(given, str) else None
    if comma is None:
        return f"{shown(given)} is not a number"
    point = f"{comma[1] or '0'}.{comma[2]}"
    return f"{shown(given)} has a comma in its number and should be {point}"


def is_encodable(text: str) -> bool:
    """Whether a text can be written as UTF-8.

    A file's name may hold bytes that are no text, which Python keeps as single surrogates (PEP
    383): they can be shown by `printable`, and neither saved nor sent.

    Parameters
    ----------
    text : str
        Any text.
    """
    try:
        text.encode()
    except UnicodeEncodeError:
        return False
    return True
