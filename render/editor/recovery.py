"""Unsaved work kept through a crash: one recovery file for each open document.

The files are in the user's own state folder. Beside each is a lock that its program holds while
it runs, so that two programs never take each other's work for lost, whatever became of process
numbers since.
"""

import json
import os
import secrets
import time
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout

from materials.ordinary import read_ordinary
from materials.toml_text import LARGEST_FILE, named
from scenes.files import storage
from scenes.files.state_folder import state_folder
from scenes.problems import DesignProblem, is_encodable

__all__ = ["Lost", "Sheet", "Slot", "find_lost", "open_slot"]

_ENDING, _LOCK = ".json", ".lock"

_MOST_LOST = 20
"""Files looked at in one go: more than that are not one person's crashes."""

_MOST_BYTES = 6 * LARGEST_FILE + 100_000
"""Two texts as large as a design may be, in which JSON writes at most three bytes for one (six for
a letter of two, twelve for one of four); and a path."""

_LAST_TIME = 32_503_680_000.0
"""The year 3000, in seconds since 1970: the last that every system can put in words."""

_LONGEST_PATH = 4096


@dataclass(frozen=True, slots=True)
class Sheet:
    """What is written down of an open document.

    Parameters
    ----------
    text : str
        The document as it stands, comments and all.
    saved : str
        As it was last saved or opened.
    path : str
        Its file; empty if it has none yet.
    name : str
        What it is called where it has no file.
    when : float
        Seconds since 1970.
    """

    text: str
    saved: str
    path: str
    name: str
    when: float = 0.0


class Slot:
    """The recovery file of one open document, held until it is given up.

    Parameters
    ----------
    file : Path
    lock : FileLock or None
        Held; None where there could be none yet.
    """

    def __init__(self, file: Path, lock: FileLock | None) -> None:
        self.file = file
        self._lock = lock

    def write(self, sheet: Sheet) -> None:
        """Write the document down, in one step.

        Raises
        ------
        DesignProblem
            If it cannot be written: the disk is full, say.
        """
        if self._lock is None:
            self._lock = _locked(self.file.with_suffix(_LOCK))
        if self._lock is None:
            raise DesignProblem(
                f"{named(self.file.parent)} cannot be written in; free some room on its disk, or "
                "ask for the right to write there."
            )
        if max(len(one.encode()) for one in (sheet.text, sheet.saved)) > LARGEST_FILE:
            raise DesignProblem(
                "the design has become a text of more than 1 MB, which could not be opened again; "
                "shorten its notes, or take layers or variants out."
            )
        content = asdict(sheet) | {"when": sheet.when or time.time()}
        # In ASCII, so that a path may hold bytes that are no text.
        storage.replace(self.file, json.dumps(content))

    def clear(self) -> None:
        """Forget what was written: there is nothing unsaved."""
        with suppress(OSError):  # it is offered at the next start, and can be refused there
            self.file.unlink(missing_ok=True)

    def close(self) -> None:
        """Let go of the lock. What is written stays, to be offered at the next start."""
        if self._lock is None:
            return
        self._lock.release()
        if not self.file.exists():
            with suppress(OSError):
                Path(self._lock.lock_file).unlink(missing_ok=True)


@dataclass(frozen=True, slots=True)
class Lost:
    """Work that a program which no longer runs did not save; held until taken or let go.

    Parameters
    ----------
    sheet : Sheet
    slot : Slot
    """

    sheet: Sheet
    slot: Slot

    @property
    def key(self) -> str:
        """What it is called by."""
        return self.slot.file.stem

    def discard(self) -> None:
        """Throw it away."""
        self.slot.clear()
        self.slot.close()


def open_slot(folder: Path | None = None) -> Slot:
    """Make room for the recovery file of one open document.

    Parameters
    ----------
    folder : Path, optional
        Where; `state_folder` if not given. Where nothing can be written there, the slot says so
        when it is to write.

    Raises
    ------
    OSError
        If that folder cannot be had at all.
    """
    file = _place(folder) / f"{secrets.token_hex(6)}{_ENDING}"
    return Slot(file, _locked(file.with_suffix(_LOCK)))


def find_lost(folder: Path | None = None) -> list[Lost]:
    """Find work that was not saved, newest first, and hold it.

    What another running program holds is left alone; what cannot be read is left where it is.
    """
    place = _place(folder)
    found: list[Lost] = []
    files = sorted(place.glob(f"*{_ENDING}"), key=lambda file: -_written(file))
    for file in files[:_MOST_LOST]:
        lock = _locked(file.with_suffix(_LOCK))
        if lock is None:
            continue
        sheet = _read(file)
        if sheet is None:
            lock.release()
        else:
            found.append(Lost(sheet, Slot(file, lock)))
    _sweep(place)
    return found


def _place(folder: Path | None) -> Path:
    place = (state_folder() if folder is None else folder) / "recovery"
    place.mkdir(parents=True, exist_ok=True, mode=0o700)
    return place


def _sweep(place: Path) -> None:
    """Take away locks of programs that ended without anything unsaved."""
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


def _read(file: Path) -> Sheet | None:
    """Read a recovery file, which may be anything; None if there is no work in it."""
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
    if not isinstance(given, Mapping) or given.keys() != kinds.keys():
        return None
    if not all(isinstance(given[key], kind) for key, kind in kinds.items()):
        return None
    if not (is_encodable(given["text"]) and is_encodable(given["saved"])):
        return None
    path, when = given["path"], given["when"]
    if not _is_path(path):
        path = ""  # the work in it is good all the same
    if not 0 <= when <= _LAST_TIME:  # so that NaN is not either
        when = min(max(_written(file), 0.0), _LAST_TIME)
    return Sheet(given["text"], given["saved"], path, given["name"], float(when))


def _is_path(text: str) -> bool:
    try:
        encoded = os.fsencode(text)
    except ValueError:
        return False
    return len(encoded) <= _LONGEST_PATH and b"\0" not in encoded and os.path.isabs(text)
