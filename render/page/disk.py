"""The document's file, watched: whether another program has changed it."""

import hashlib
from enum import Enum
from pathlib import Path

from scenes import storage
from scenes.problems import DesignProblem

__all__ = ["DiskState", "FileThere", "WatchedFile"]


class FileThere(DesignProblem):
    """A file would be written over that holds something else; the message asks."""


class DiskState(Enum):
    """What has become of the document's file since it was read or saved."""

    SAME = "same"
    CHANGED = "changed"
    GONE = "gone"


class WatchedFile:
    """A file as it was when it was read or written.

    Parameters
    ----------
    path : Path
    text : str
        What it held then.
    """

    def __init__(self, path: Path, text: str) -> None:
        self.path = path
        self._digest = _digest(text)
        # While time, size and number of the file stay, so does its text.
        self._stamp = _stamp(path)

    @property
    def is_there(self) -> bool:
        """Whether there was such a file."""
        return self._stamp is not None

    def forget_stamp(self) -> None:
        """Look at the text when next asked, whatever the time of the file."""
        self._stamp = ()

    def state(self) -> DiskState:
        """Find out whether another program has changed the file."""
        stamp = _stamp(self.path)
        if stamp == self._stamp:
            return DiskState.SAME
        if stamp is None:
            return DiskState.GONE
        try:
            digest = _digest(storage.read(self.path))
        except DesignProblem:
            return DiskState.CHANGED
        if digest != self._digest:
            return DiskState.CHANGED
        self._stamp = stamp
        return DiskState.SAME


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def _stamp(path: Path) -> tuple[int, ...] | None:
    try:
        status = path.stat()
    except OSError:
        return None
    return status.st_mtime_ns, status.st_size, status.st_ino
