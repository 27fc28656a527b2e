"""The document's file, watched: whether another program has changed it."""

from enum import Enum
from pathlib import Path

from scenes.files import storage
from scenes.problems import DesignProblem

__all__ = ["DiskState", "OverwriteRefused", "WatchedFile"]


class OverwriteRefused(DesignProblem):
    """Saving would overwrite a file with other content; the message asks for confirmation."""


class DiskState(Enum):
    """State of the document's file compared with when it was read or saved."""

    SAME = "same"
    CHANGED = "changed"
    GONE = "gone"


class WatchedFile:
    """A file as it was when it was read or written.

    Parameters
    ----------
    path : Path
    text : str
        Its content then.
    """

    def __init__(self, path: Path, text: str) -> None:
        self.path = path
        self.text = text
        # While times, size and inode stay the same the text is taken to be the same. They are not
        # known yet, because the file may have changed since it was read.
        self._stamp: tuple[int, ...] | None = ()

    def state(self) -> DiskState:
        """Return whether another program has changed or removed the file."""
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
