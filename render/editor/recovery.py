"""Unsaved work kept through a crash: one recovery file for each open document.

The files are in the user's own state folder. Beside each is a lock that its program holds while
it runs, so that a running program's work is never taken for lost. Process numbers would not do:
the system reuses them.
"""

import json
import os
import secrets
import time
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout

from materials.ordinary import read_ordinary
from materials.toml_text import LARGEST_FILE, named
from scenes.files import storage
from scenes.files.state_folder import state_folder
from scenes.problems import DesignProblem, is_encodable

__all__ = ["LostWork", "Slot", "Snapshot", "find_lost_work", "open_slot"]

_ENDING, _LOCK = ".json", ".lock"

_MOST_LOST = 20
"""Recovery files read at a start; more cannot be the crashes of one person."""

_MOST_BYTES = 6 * LARGEST_FILE + 100_000
"""Size limit of a recovery file: two texts of the largest design, and a path. JSON in ASCII needs
at most three bytes for each UTF-8 byte (six for a character of two, twelve for one of four)."""

_LAST_TIME = 32_503_680_000.0
"""The year 3000, in seconds since 1970: the last time that every system can format."""

_LONGEST_PATH = 4096


@dataclass(frozen=True, slots=True)
class Snapshot:
    """Content of a recovery file: the state of an open document.

    Parameters
    ----------
    text : str
        Current text of the document, with comments.
    saved : str
        Its text when it was last saved or opened.
    path : str
        Its file; empty if it has none yet.
    name : str
        Name of a document without a file.
    when : float
        Time of writing, seconds since 1970; 0 for the time of `Slot.write`.
    pending : list
        Values that did not fit yet, as plain data (`render.editor.pending`).
    shelf_folder : str
        Folder of the shelf of a document without a file; empty if it has none.
    """

    text: str
    saved: str
    path: str
    name: str
    when: float = 0.0
    pending: list[Any] = field(default_factory=list)
    shelf_folder: str = ""


class Slot:
    """The recovery file of one open document, locked until it is closed.

    Parameters
    ----------
    file : Path
    lock : FileLock or None
        Lock that is held; None if it could not be acquired yet.
    """

    def __init__(self, file: Path, lock: FileLock | None) -> None:
        self.file = file
        self._lock = lock

    def write(self, snapshot: Snapshot) -> None:
        """Write the recovery file atomically.

        Parameters
        ----------
        snapshot : Snapshot

        Raises
        ------
        DesignProblem
            If it cannot be written, because the disk is full for example.
        """
        if self._lock is None:
            self._lock = _locked(self.file.with_suffix(_LOCK))
        if self._lock is None:
            raise DesignProblem(
                f"{named(self.file.parent)} cannot be written in; free some room on its disk, or "
                "ask for the right to write there."
            )
        if max(len(text.encode()) for text in (snapshot.text, snapshot.saved)) > LARGEST_FILE:
            raise DesignProblem(
                "the design has become a text of more than 1 MB, which could not be opened again; "
                "shorten its notes, or take layers or variants out."
            )
        content = asdict(snapshot) | {"when": snapshot.when or time.time()}
        # In ASCII, so that a path may hold bytes that are no text.
        storage.replace(self.file, json.dumps(content))

    def clear(self) -> None:
        """Remove the file: there is nothing unsaved."""
        with suppress(OSError):  # it is offered at the next start, and can be rejected there
            self.file.unlink(missing_ok=True)

    def close(self) -> None:
        """Release the lock. The file stays and is offered at the next start."""
        if self._lock is None:
            return
        self._lock.release()
        if not self.file.exists():
            with suppress(OSError):
                Path(self._lock.lock_file).unlink(missing_ok=True)


@dataclass(frozen=True, slots=True)
class LostWork:
    """Unsaved work of a program that no longer runs, locked until it is recovered or discarded.

    Parameters
    ----------
    snapshot : Snapshot
    slot : Slot
    """

    snapshot: Snapshot
    slot: Slot

    @property
    def key(self) -> str:
        """Identifier, for the page."""
        return self.slot.file.stem

    def discard(self) -> None:
        """Delete it."""
        self.slot.clear()
        self.slot.close()


def open_slot(folder: Path | None = None) -> Slot:
    """Reserve the recovery file of one open document.

    Parameters
    ----------
    folder : Path, optional
        Folder of recovery data; `state_folder` by default. If it is not writable, `Slot.write`
        raises later.

    Raises
    ------
    OSError
        If the folder can be neither found nor made.
    """
    file = _place(folder) / f"{secrets.token_hex(6)}{_ENDING}"
    return Slot(file, _locked(file.with_suffix(_LOCK)))


def find_lost_work(folder: Path | None = None) -> list[LostWork]:
    """Find and lock work that was not saved, newest first.

    Files that a running program has locked are skipped; unreadable files are left in place.

    Parameters
    ----------
    folder : Path, optional
        Folder of recovery data; `state_folder` by default.
    """
    place = _place(folder)
    found: list[LostWork] = []
    files = sorted(place.glob(f"*{_ENDING}"), key=lambda file: -_written(file))
    for file in files[:_MOST_LOST]:
        lock = _locked(file.with_suffix(_LOCK))
        if lock is None:
            continue
        snapshot = _read(file)
        if snapshot is None:
            lock.release()
        else:
            found.append(LostWork(snapshot, Slot(file, lock)))
    _sweep(place)
    return found


def _place(folder: Path | None) -> Path:
    place = (state_folder() if folder is None else folder) / "recovery"
    place.mkdir(parents=True, exist_ok=True, mode=0o700)
    return place


def _sweep(place: Path) -> None:
    """Remove lock files of programs that ended with nothing unsaved."""
    for file in place.glob(f"*{_LOCK}"):
        if not file.with_suffix(_ENDING).exists() and (lock := _locked(file)) is not None:
            lock.release()
            file.unlink(missing_ok=True)


def _locked(file: Path) -> FileLock | None:
    lock = FileLock(file, is_singleton=False)
    try:
        lock.acquire(timeout=0)
    except (Timeout, OSError):
        return None
    return lock


def _written(file: Path) -> float:
    try:
        return file.stat().st_mtime
    except OSError:
        return 0.0


def _read(file: Path) -> Snapshot | None:
    """Read a recovery file, which may hold anything; None if it is not a valid snapshot."""
    try:
        if file.is_symlink():
            return None
        content, _ = read_ordinary(file, _MOST_BYTES + 1)
        if len(content) > _MOST_BYTES:
            return None
        given: Any = json.loads(content)
    except (OSError, ValueError, RecursionError):
        return None
    kinds: dict[str, type | tuple[type, ...]] = {
        **dict.fromkeys(("text", "saved", "path", "name"), str),
        "when": (int, float),
    }
    if not isinstance(given, Mapping) or given.keys() - {"pending", "shelf_folder"} != kinds.keys():
        return None
    pending = given.get("pending", [])
    if not all(isinstance(given[key], kind) for key, kind in kinds.items()):
        return None
    if not (is_encodable(given["text"]) and is_encodable(given["saved"])):
        return None
    path, when = given["path"], given["when"]
    if not _is_path(path):
        path = ""  # the text is still usable
    if not 0 <= when <= _LAST_TIME:  # also true for NaN
        when = min(max(_written(file), 0.0), _LAST_TIME)
    pending = pending if isinstance(pending, list) else []
    folder = given.get("shelf_folder", "")
    if not (isinstance(folder, str) and _is_path(folder)):
        folder = ""
    return Snapshot(
        given["text"], given["saved"], path, given["name"], float(when), pending, folder
    )


def _is_path(text: str) -> bool:
    try:
        encoded = os.fsencode(text)
    except ValueError:
        return False
    return len(encoded) <= _LONGEST_PATH and b"\0" not in encoded and os.path.isabs(text)
