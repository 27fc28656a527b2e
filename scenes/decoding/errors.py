"""Reasons why a file could not be decoded; the caller words them."""

from enum import StrEnum

__all__ = ["DecodingError", "Reason"]


class Reason(StrEnum):
    """What is wrong with a file."""

    KIND = "kind"
    """It is not of the requested kind."""
    SIZE = "size"
    """A picture with too many pixels; details: ``width``, ``height``, 0 where unknown."""
    MODE = "mode"
    """A picture with unsupported pixels; details: ``mode``."""
    BROKEN = "broken"
    LETTERS = "letters"
    """A font that lacks some letters; details: ``letters``."""
    POINTS = "points"
    """Outlines with too many points."""
    TIME = "time"
    """Decoding took too long."""
    MEMORY = "memory"
    """Decoding needed too much memory, or its answer was too large."""
    PROCESS = "process"
    """No child process could be started; nothing is known of the file."""


class DecodingError(Exception):
    """A file that could not be decoded.

    Parameters
    ----------
    reason : Reason
    details : str or int
        By name, as described at the reason.
    """

    def __init__(self, reason: Reason, /, **details: str | int) -> None:
        super().__init__(reason.value)
        self.reason = reason
        self.details = details

    def number(self, name: str) -> int:
        """Return a detail that is a whole number; 0 if there is none.

        Parameters
        ----------
        name : str
        """
        value = self.details.get(name)
        return value if isinstance(value, int) else 0

    def text(self, name: str) -> str:
        """Return a detail that is a text; empty if there is none.

        Parameters
        ----------
        name : str
        """
        value = self.details.get(name)
        return value if isinstance(value, str) else ""
