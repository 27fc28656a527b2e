"""Types of what is typed on the command line, with a sentence for what is not one."""

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter, Token

from scenes.problems import shown

__all__ = ["Flag", "Listed", "Number", "Output", "Pixels", "Whole"]


def _number(_: object, tokens: Sequence[Token]) -> float:
    """Read a number, so that a sentence says what is not one."""
    try:
        return float(tokens[0].value)
    except ValueError:
        raise ValueError(f"{shown(tokens[0].value)} is not a number") from None


def _whole(_: object, tokens: Sequence[Token]) -> int:
    """Read a whole number: 2.5 frames are not 2."""
    try:
        return int(tokens[0].value)
    except ValueError:
        raise ValueError(f"{shown(tokens[0].value)} is not a whole number") from None


Number = Annotated[float, Parameter(converter=_number)]
Whole = Annotated[int, Parameter(converter=_whole)]
Flag = Annotated[bool, Parameter(negative="")]

Listed = Annotated[tuple[str, ...], Parameter(negative="", show_default=False)]
"""An option that may be given again and again."""

# A leading hyphen is the beginning of a wrong size, not of another option.
Pixels = Annotated[str, Parameter(allow_leading_hyphen=True)]
Output = Annotated[Path, Parameter(name=["--output", "-o"])]
