"""Limits on the text of a TOML file, checked before it is parsed.

The parser's time grows with the square of the parts of one key, and what comes after it takes a
while over each value. One pass over the text, in time that grows with its length alone, finds how
much is in it.
"""

import re
from dataclasses import dataclass

__all__ = ["TomlLimits", "beyond_limits"]

_TEXT_OR_COMMENT = re.compile(
    r'"""(?:[^"\\]|\\.|"(?!""))*+(?:"{3,5})?'
    r"|'''(?:[^']|'(?!''))*+(?:'{3,5})?"
    r'|"(?:[^"\\\n]|\\.)*+"?'
    r"|'[^'\n]*+'?"
    r"|\#[^\n]*+",
    re.DOTALL,
)
"""A text in quotes, or a comment. One that is never closed runs to the end of the line or file:
otherwise the search would begin anew at each of its characters."""

_IN_QUOTES = '"'
"""What stands for a text in quotes once it has been taken out."""

_KEY_PART = r'[\w"-]++'
_BLOCK = re.compile(r"^[ \t]*+\[\[", re.MULTILINE)
_BRACKETS = re.compile(r"[\[\]{}]")


@dataclass(frozen=True, slots=True)
class TomlLimits:
    """How much may be in a file.

    Parameters
    ----------
    tables : int
        Tables and lists, in braces, brackets or double brackets.
    values : int
        Fields of tables and entries of lists: equals signs and commas.
    parts : int
        Of one key between dots, such as 2 of ``relief.gap``.
    depth : int
        Lists and inline tables within one another.
    text : int
        Characters of one text in quotes, as it is written.
    word : int
        Characters of one key or number.
    """

    tables: int
    values: int
    parts: int = 16
    depth: int = 16
    text: int = 64_000
    word: int = 200


def beyond_limits(text: str, limits: TomlLimits) -> str:
    """Find what a text has too much of.

    Parameters
    ----------
    text : str
        Not parsed yet: anything at all.
    limits : TomlLimits
        Limits of the file.

    Returns
    -------
    str
        The end of a sentence, such as "it has more than 10000 tables and lists"; empty if the
        text is within its limits.
    """
    longest = 0

    def taken_out(match: re.Match[str]) -> str:
        nonlocal longest
        if match[0][0] == "#":
            return ""
        longest = max(longest, len(match[0]))
        return _IN_QUOTES

    bare = _TEXT_OR_COMMENT.sub(taken_out, text)
    if longest > limits.text:
        return f"a text in it has more than {limits.text} characters"
    # The two brackets of a [[block]] begin one table.
    if bare.count("[") - len(_BLOCK.findall(bare)) + bare.count("{") > limits.tables:
        return f"it has more than {limits.tables} tables and lists"
    if bare.count("=") + bare.count(",") > limits.values:
        return f"it has more than {limits.values} values"
    dotted = rf'(?<![\w."-])(?:{_KEY_PART}[ \t]*+\.[ \t]*+){{{limits.parts}}}'
    if re.search(dotted, bare):
        return f"a key in it has more than {limits.parts} parts"
    if any(len(word) > limits.word for word in re.findall(r"[\w.+-]++", bare)):
        return f"a key or a number in it has more than {limits.word} characters"
    if _is_deeper(bare, limits.depth):
        return f"lists or tables in it lie more than {limits.depth} within one another"
    return ""


def _is_deeper(bare: str, most: int) -> bool:
    depth = 0
    for found in _BRACKETS.finditer(bare):
        if found[0] in "[{":
            depth += 1
            if depth > most:
                return True
        elif found[0] in "]}":
            depth = max(0, depth - 1)
    return False
