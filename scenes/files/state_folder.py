"""The user's own folder for what Turnlight remembers between runs, and the locks in it."""

import hashlib
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from filelock import FileLock, Timeout
from platformdirs import user_state_path

__all__ = ["STATE_VARIABLE", "locked", "state_folder"]

STATE_VARIABLE = "TURNLIGHT_STATE"
"""Environment variable that names another folder for what Turnlight remembers."""

_TIMEOUT = 20.0
"""Seconds in which another program has long compared and moved its file."""


def state_folder() -> Path:
    """Find, or make, the user's own folder for what Turnlight remembers between runs."""
    given = os.environ.get(STATE_VARIABLE)
    folder = Path(given) if given else user_state_path("turnlight", appauthor=False)
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    return folder


@contextmanager
def locked(target: Path) -> Iterator[None]:
    """Keep every other program of this user from replacing a file meanwhile.

    The lock lies in the state folder, so that none is left beside the file. There are 256 for all
    files, so that none needs to be removed, which others might wait for; never hold two at once,
    since they may be the same. Where that folder cannot be had, nothing is held.

    Parameters
    ----------
    target : Path
        The file itself, not a link to it.

    Raises
    ------
    TimeoutError
        If another program holds the lock for longer than any replacing takes.
    """
    key = hashlib.sha256(os.path.normcase(target).encode("utf-8", "surrogateescape")).hexdigest()
    try:
        folder = state_folder() / "locks"
        folder.mkdir(exist_ok=True, mode=0o700)
        lock = FileLock(folder / f"{key[:2]}.lock", timeout=_TIMEOUT, poll_interval=0.01)
        lock.acquire()
    except Timeout:
        raise TimeoutError from None
    except (OSError, RuntimeError, NotImplementedError):
        # No home, a read-only one, or a file system without locks.
        yield
        return
    try:
        yield
    finally:
        lock.release()
