"""Text files in TOML, read with care: designs and shelves may be a stranger's, or anything at all.

Every limit that is cheap to check stands before the parser, which takes time that grows with the
square of some of what it reads.
"""

import re
import stat
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from materials.ordinary import NotOrdinaryError, read_ordinary
from materials.problems import printable
from materials.toml_limits import TomlLimits, beyond_limits

__all__ = [
    "LARGEST_FILE",
    "TextKind",
    "TextProblem",
    "decimal_comma_in",
    "named",
    "parse_toml",
    "parse_value",
    "parse_value_or_words",
    "read_text",
]

LARGEST_FILE = 1_000_000
"""Bytes: a hundred times the fullest sample. A larger file is neither a design nor a shelf."""

_VALUE_LIMITS = TomlLimits(tables=5_000, values=20_000)
"""How much may be in one typed value: as much as in a whole design."""


class TextProblem(ValueError):
    """A file that is not the text it should be; the message is one sentence."""


_DECIMAL_COMMA = re.compile(r"(?<![\w.-])([\w.-]+)\s*=\s*([-+]?\d{1,9}),(\d{1,9})(?![\d.])")
"""A number with a decimal comma, as much of the world writes it; a list has a bracket before it.

A name is only looked for where one begins, so that a long word is read once, not from each letter.
"""


@dataclass(frozen=True, slots=True)
class TextKind:
    """What a text file is, for a refusal.

    Parameters
    ----------
    noun : str
        "design" or "shelf".
    missing : str
        What to do where there is no such file.
    empty : str
        What to do where there is nothing in it.
    limits : TomlLimits
        How much may be in it.
    """

    noun: str
    missing: str
    empty: str
    limits: TomlLimits


def named(path: str | Path) -> str:
    """Name a file in a sentence.

    Parameters
    ----------
    path : str or Path
        Path of the file.
    """
    return f'"{printable(str(path), 300)}"'


def read_text(path: Path, kind: TextKind) -> str:
    """Read the text of a file that may be anything.

    Parameters
    ----------
    path : Path
        Path of the file.
    kind : TextKind
        What the file should be.

    Returns
    -------
    str
        Without a byte order mark; line ends as they are.

    Raises
    ------
    TextProblem
        If there is no such file, it is not an ordinary one, is too large or is not UTF-8 text.
    """
    name, give = named(path), f"give a {kind.noun} file"
    try:
        if stat.S_ISDIR(path.stat().st_mode):
            raise TextProblem(f"{name} is a folder; {give} in it.")
        content, size = read_ordinary(path, LARGEST_FILE + 1)
    except FileNotFoundError:
        raise TextProblem(f"{name} is not there; {kind.missing}.") from None
    except PermissionError:
        raise TextProblem(f"{name} may not be read; ask for the right to read it.") from None
    except NotOrdinaryError:
        raise TextProblem(f"{name} is not an ordinary file; {give}.") from None
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise TextProblem(f"{name} cannot be read ({reason}); {give}.") from None
    except TextProblem:
        raise
    except ValueError:
        raise TextProblem(f"{name} is no name of a file; {give}.") from None
    if len(content) > LARGEST_FILE:
        raise TextProblem(
            f"{name} holds {size / 1e6:.3g} MB; a {kind.noun} is a text of 1 MB at most."
        )
    if b"\0" in content:
        raise TextProblem(f"{name} is not a text; {give}.")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise TextProblem(
            f"{name} is not UTF-8 text (line {line}); save it as UTF-8 in your editor."
        ) from None


def parse_toml(text: str, kind: TextKind, name: str = "") -> dict[str, Any]:
    """Parse TOML that may be made to take long.

    Parameters
    ----------
    text : str
        Whole text of the file.
    kind : TextKind
        What the file should be.
    name : str
        Name of the file in an error.

    Raises
    ------
    TextProblem
    """
    lead = f"{name}: " if name else ""
    if not text.strip():
        raise TextProblem(f"{lead}the file is empty; {kind.empty}.")
    beyond = beyond_limits(text, kind.limits)
    if beyond:
        raise TextProblem(f"{lead}not a {kind.noun}: {beyond}.")
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        comma = _decimal_comma(text, str(error))
        if comma:
            raise TextProblem(f"{lead}{comma}") from None
        message = printable(str(error), 200)
        raise TextProblem(f"{lead}not TOML: {message[:1].lower()}{message[1:]}.") from None
    except (ValueError, RecursionError):
        # Numbers of thousands of digits, or brackets nested without end.
        raise TextProblem(
            f"{lead}not TOML that can be read: a number or a list in it is too long or too deep."
        ) from None


def _decimal_comma(text: str, message: str) -> str:
    """Say what is right where a number in the refused line has a decimal comma; else empty."""
    at = re.search(r"at line (\d+)", message)
    lines = text.splitlines()
    if at is None or not 1 <= int(at[1]) <= len(lines):
        return ""
    sentence = decimal_comma_in(lines[int(at[1]) - 1])
    return sentence and f"line {at[1]}: {sentence}"


def decimal_comma_in(line: str) -> str:
    """Say what is right where a number in a text has a decimal comma.

    Parameters
    ----------
    line : str
        One line of a file, or a value as it is typed.

    Returns
    -------
    str
        A sentence; empty if no named number has one.
    """
    found = _DECIMAL_COMMA.search(line)
    if found is None:
        return ""
    name, whole, rest = (printable(part, 60) for part in found.groups())
    return (
        f"{name} = {whole},{rest} has a comma in its number; give a decimal point, "
        f"{name} = {whole}.{rest}."
    )


def parse_value(text: str) -> Any:
    """Parse one value that is typed as it stands in a file, such as ``25.4`` or ``[1, 2]``.

    Parameters
    ----------
    text : str
        Text as it is typed.

    Raises
    ------
    TextProblem
        If it is no value, or a value with more behind it.
    """
    try:
        if not beyond_limits(text, _VALUE_LIMITS):
            found = tomllib.loads(f"value = {text}")
            if len(found) == 1:
                return found["value"]
    except (ValueError, RecursionError):
        pass
    raise TextProblem(
        decimal_comma_in(text) or f'"{printable(text)}" is not a value as in a design file.'
    )


def parse_value_or_words(text: str) -> Any:
    """Parse a value, or return the text itself where it is no value: quotes may be left out.

    Parameters
    ----------
    text : str
        Text as it is typed.
    """
    try:
        return parse_value(text)
    except TextProblem:
        return text
