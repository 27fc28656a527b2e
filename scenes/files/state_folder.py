"""The user's own folders for what Turnlight remembers between runs, and the locks in one."""

import hashlib
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from platformdirs import user_cache_path, user_state_path

__all__ = ["STATE_VARIABLE", "cache_folder", "locked", "state_folder"]

STATE_VARIABLE = "TURNLIGHT_STATE"
"""Environment variable that names another folder for what Turnlight remembers."""

_TIMEOUT = 20.0
"""Seconds to wait for a lock: far longer than another program needs to replace a file."""


def state_folder() -> Path:
    """Find the user's folder for what Turnlight remembers between runs; make it if need be."""
    given = os.environ.get(STATE_VARIABLE)
    folder = Path(given) if given else user_state_path("turnlight", appauthor=False)
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    return folder


def cache_folder() -> Path:
    """Find the user's folder for what can be computed anew; make it if need be."""
    given = os.environ.get(STATE_VARIABLE)
    folder = Path(given) / "cache" if given else user_cache_path("turnlight", appauthor=False)
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    return folder


@contextmanager
def locked(target: Path) -> Iterator[None]:
    """Keep other programs of this user from replacing a file inside the block.

    Locks are files in the state folder, so that none is left beside the user's file. All files
    share 256 locks, which are never removed, because another program might wait for one. Never hold
    two at once: they may be the same. If there is no state folder, nothing is locked.

    Parameters
    ----------
    target : Path
        The file to be replaced, not a link to it.

    Raises
    ------
    TimeoutError
        If another program keeps the lock for `_TIMEOUT`.
    """
    # Commands that only read wait for no lock.
    from filelock import FileLock, Timeout

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
