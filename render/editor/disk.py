"""The document's file, watched: whether another program has changed it."""

from enum import Enum
from pathlib import Path

from scenes.files import storage
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
        self.text = text
        # While time, size and number of the file stay, so does its text, as far as a look now and
        # then can tell; none is known yet, for the file may have changed since it was read.
        self._stamp: tuple[int, ...] | None = ()

    def state(self) -> DiskState:
        """Find out whether another program has changed the file."""
        stamp = _stamp(self.path)
        if stamp is None:
            return DiskState.GONE
        if stamp == self._stamp:
            return DiskState.SAME
        try:
            text = storage.read(self.path)
        except DesignProblem:
            return DiskState.CHANGED
        if text != self.text:
            return DiskState.CHANGED
        self._stamp = stamp
        return DiskState.SAME


def _stamp(path: Path) -> tuple[int, ...] | None:
    try:
        status = path.stat()
    except OSError:
        return None
    return status.st_mtime_ns, status.st_ctime_ns, status.st_size, status.st_ino
