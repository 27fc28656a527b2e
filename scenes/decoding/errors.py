"""Why a file could not be decoded; the caller puts it into a sentence."""

from enum import StrEnum

__all__ = ["DecodingError", "Reason"]


class Reason(StrEnum):
    """What is wrong with a file."""

    KIND = "kind"
    """It is of another kind than what was asked for."""
    SIZE = "size"
    """A picture with too many pixels; details: ``width``, ``height``, 0 where unknown."""
    MODE = "mode"
    """A picture with pixels of another kind; details: ``mode``."""
    BROKEN = "broken"
    LETTERS = "letters"
    """A font without some of the letters; details: ``letters``."""
    POINTS = "points"
    """Outlines of more points than are drawn."""
    TIME = "time"
    """Decoding was stopped because it took too long."""
    MEMORY = "memory"
    """Decoding was stopped because it needed too much memory, or gave too much."""
    PROCESS = "process"
    """No child process could be started; nothing is known of the file."""


class DecodingError(Exception):
    """A file that could not be decoded.

    Parameters
    ----------
    reason : Reason
    details : str or int
        By name, as the reason has them.
    """

    def __init__(self, reason: Reason, /, **details: str | int) -> None:
        super().__init__(reason.value)
        self.reason = reason
        self.details = details

    def number(self, name: str) -> int:
        """Return a detail that is a whole number; 0 if it is none."""
        value = self.details.get(name)
        return value if isinstance(value, int) else 0

    def text(self, name: str) -> str:
        """Return a detail that is a text; empty if it is none."""
        value = self.details.get(name)
        return value if isinstance(value, str) else ""
