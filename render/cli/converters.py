"""Types of command-line options, with one sentence for each wrong value."""

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter, Token

from scenes.problems import not_a_number, shown

__all__ = ["Flag", "Listed", "Number", "Output", "Pixels", "Whole"]


def _number(_: object, tokens: Sequence[Token]) -> float:
    """Read a number; the error is one sentence."""
    try:
        return float(tokens[0].value)
    except ValueError:
        raise ValueError(not_a_number(tokens[0].value)) from None


def _whole(_: object, tokens: Sequence[Token]) -> int:
    """Read a whole number; 2.5 is refused, not rounded."""
    try:
        return int(tokens[0].value)
    except ValueError:
        raise ValueError(f"{shown(tokens[0].value)} is not a whole number") from None


Number = Annotated[float, Parameter(converter=_number)]
Whole = Annotated[int, Parameter(converter=_whole)]
Flag = Annotated[bool, Parameter(negative="")]

Listed = Annotated[tuple[str, ...], Parameter(negative="", show_default=False)]
"""An option that may be given several times."""

# A size such as -5x5 is read as a wrong size, not as an option.
Pixels = Annotated[str, Parameter(allow_leading_hyphen=True)]
Output = Annotated[Path, Parameter(name=["--output", "-o"])]
