"""A temporary folder of the page, removed when its program ends in any way.

A killed program cannot remove its folder. Each folder therefore holds a lock while its program
runs, and the next program that starts removes unlocked folders of the same user.
"""

import os
import shutil
import stat
import tempfile
import time
from contextlib import suppress
from pathlib import Path

from filelock import FileLock, Timeout

from materials.toml_text import named
from render.common.problems import RequestProblem
from scenes.files.atomic import reason_of

__all__ = ["Scratch"]

_PREFIX = "turnlight-"
_LOCK = "in-use.lock"

_NEW = 60.0
"""Age, s, below which a folder may be unlocked only because its program is just starting."""


class Scratch:
    """A temporary folder.

    Raises
    ------
    RequestProblem
        If it cannot be made.
    """

    def __init__(self) -> None:
        _sweep(Path(tempfile.gettempdir()))
        try:
            self.path = Path(tempfile.mkdtemp(prefix=_PREFIX))
            self._lock = FileLock(self.path / _LOCK, is_singleton=False)
            self._lock.acquire(timeout=0)
        except (OSError, Timeout) as error:
            place = Path(tempfile.gettempdir())
            raise RequestProblem(
                f"the temporary folder {named(place)}, which TMPDIR names, "
                f"{reason_of(error, place / _LOCK)}."
            ) from None

    def close(self) -> None:
        """Remove the folder and its content."""
        self._lock.release()
        shutil.rmtree(self.path, ignore_errors=True)


def _sweep(place: Path) -> None:
    """Remove folders of killed programs."""
    try:
        left = [path for path in place.glob(f"{_PREFIX}*") if _is_ours(path)]
    except OSError:
        return
    for path in left:
        lock = FileLock(path / _LOCK, is_singleton=False)
        with suppress(OSError, Timeout, NotImplementedError):
            lock.acquire(timeout=0)
            try:
                shutil.rmtree(path, ignore_errors=True)
            finally:
                lock.release()


def _is_ours(path: Path) -> bool:
    """Whether a path is such a folder of this user and not a new one; links are not followed."""
    try:
        folder, lock = path.lstat(), (path / _LOCK).lstat()
    except OSError:
        return False
    if hasattr(os, "getuid") and {folder.st_uid, lock.st_uid} != {os.getuid()}:
        return False
    aged = time.time() - lock.st_ctime > _NEW
    return stat.S_ISDIR(folder.st_mode) and stat.S_ISREG(lock.st_mode) and aged
