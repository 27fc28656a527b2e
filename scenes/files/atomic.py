"""Files written whole or not at all: made beside their target, and moved over it in one step.

An unfinished file has a name of one pattern. Its program keeps it open and locked, so a file that
a killed program left behind can be distinguished from one in progress, and removed.
"""

import errno
import os
import re
import secrets
import shutil
import stat
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from types import TracebackType
from typing import Self

from materials.toml_text import named
from scenes.files.device_names import is_device_name
from scenes.problems import DesignProblem

try:
    import fcntl
except ImportError:  # Windows, where an open file cannot be removed
    fcntl = None  # type: ignore[assignment]

__all__ = [
    "PlaceProblem",
    "Unfinished",
    "WritingProblem",
    "check_place",
    "end_before_sweep",
    "finished",
    "forget_finished",
    "reason_of",
    "remove_unfinished",
    "stopped_message",
    "write_new",
    "writing",
]

_NAME = re.compile(r"\.turnlight-[0-9a-f]{12}(\.[a-z0-9]{1,8})?")
"""Names of unfinished files and folders."""

_ON_WINDOWS = os.name == "nt"

_OLD = 600.0
"""Age in seconds from which an unlocked unfinished file counts as abandoned."""

_LEAST_ROOM = 65_536
"""Free bytes below which a disk counts as full."""

_MOST_NAMED = 3
"""Most file names in one sentence."""

_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}


class PlaceProblem(ValueError):
    """A file cannot be written at its place; the message follows the file's name in a sentence."""


class WritingProblem(PlaceProblem):
    """A file was created but could not be written, for example because the disk is full."""


def check_place(path: Path, *, folder: bool = False, follow: bool = True) -> Path:
    """Check that a file, or a folder, can be written at a place.

    Parameters
    ----------
    path : Path
    folder : bool
        Whether a folder is to be written.
    follow : bool
        Whether a link at `path` is followed.

    Returns
    -------
    Path
        The file to be written: for a link that is followed, the file it leads to.

    Raises
    ------
    PlaceProblem
    """
    try:
        real = os.path.realpath(path if follow else path.parent)
        target = Path(real) if follow else Path(real, path.name)
    except (OSError, ValueError) as error:
        raise PlaceProblem(reason_of(error, path)) from None
    if _ON_WINDOWS and (is_device_name(target.name) or target.name.endswith((".", " "))):
        raise PlaceProblem("has a name that Windows keeps for itself; give another name")
    try:
        if not target.parent.is_dir():
            raise PlaceProblem(
                "cannot be written, because its folder is not there; make it first or give "
                "another place"
            )
        try:
            mode = target.lstat().st_mode
        except FileNotFoundError:
            return target
        if folder:
            if not stat.S_ISDIR(mode):
                raise PlaceProblem(
                    "is a file; give a new folder, or a name that ends in what you want, such as "
                    ".gif"
                )
            if any(target.iterdir()):
                raise PlaceProblem("is a folder with something in it; give a new one")
        elif stat.S_ISDIR(mode):
            raise PlaceProblem("is a folder; give a file name in it")
        elif not stat.S_ISREG(mode):
            raise PlaceProblem("is no ordinary file; give another name")
        elif not os.access(target, os.W_OK):
            raise PlaceProblem("may not be changed; give another name")
    except (OSError, ValueError) as error:
        if isinstance(error, PlaceProblem):
            raise
        raise PlaceProblem(reason_of(error, target)) from None
    return target


@contextmanager
def writing(
    path: Path, *, suffix: str = ".tmp", folder: bool = False, follow: bool = True
) -> Iterator["Unfinished"]:
    """Open an unfinished file, or folder, to be written and then moved to its place.

    On any failure, Ctrl-C included, it is removed and `path` stays as it was.

    Parameters
    ----------
    path : Path
        Target; for a link that is followed, the file it leads to.
    suffix : str
        Ending of the unfinished file's name.
    folder : bool
        Whether a folder is written.
    follow : bool
        Whether a link at `path` is followed.

    Raises
    ------
    PlaceProblem
        If the target cannot be written; raised before the block runs.
    WritingProblem
        If the disk is full, or the system refuses to write inside the block. Other errors of the
        block pass through.
    """
    target = check_place(path, folder=folder, follow=follow)
    with ExitStack() as stack:
        try:
            unfinished = stack.enter_context(
                Unfinished(target, called=path, suffix=suffix, folder=folder)
            )
        except OSError as error:
            problem = WritingProblem if _is_full(error) else PlaceProblem
            raise problem(reason_of(error, target)) from None
        try:
            yield unfinished
        except Exception as error:
            if not _is_of_writing(error, unfinished):
                raise
            raise WritingProblem(reason_of(error, target)) from None


def _is_of_writing(error: Exception, unfinished: "Unfinished") -> bool:
    """Tell whether an error comes from writing the unfinished file.

    Encoders lose the reason of the system: on a full disk some raise an `OSError` without a number,
    or an exception of their own.
    """
    if isinstance(error, OSError):
        if error.filename is None:  # of an open file; or of a pipe to another process
            return not isinstance(error, ConnectionError)
        ours = str(unfinished.path), str(unfinished.target)
        return _is_full(error) or str(error.filename).startswith(ours)
    return not isinstance(error, DesignProblem) and _has_no_room(unfinished.target.parent)


def write_new(path: Path, data: bytes) -> bool:
    """Write a file where there is none; a link counts as a file.

    Parameters
    ----------
    path : Path
    data : bytes
        Whole content.

    Returns
    -------
    bool
        False, with nothing written, if there is a file already.

    Raises
    ------
    PlaceProblem
        If it cannot be written there.
    """
    if os.path.lexists(path):
        return False
    with writing(path, follow=False) as unfinished:
        unfinished.write(data)
        try:
            unfinished.put_new()
        except FileExistsError:
            return False  # by now
    return True


def reason_of(error: Exception, target: Path) -> str:
    """Say why a file could not be written, as the end of a sentence that its name begins.

    Parameters
    ----------
    error : Exception
        Raised by the system or by a library that writes. Libraries may lose the system's error
        number, so the free space of the disk is checked too.
    target : Path
        The file that was to be written.
    """
    if not _can_be_named(target):
        return "is no name of a file; give another"
    number = error.errno if isinstance(error, OSError) else None
    if number == errno.EFBIG:
        return (
            "cannot be written, because it grows larger than files may be there; ask for less or "
            "give another place"
        )
    if _is_full(error) or (number is None and _has_no_room(target.parent)):
        return (
            "cannot be written, because there is no room left on the disk; free some or give "
            "another place"
        )
    if number == errno.EROFS:
        return "cannot be written, because its disk is read-only; give another place"
    if number == errno.ENAMETOOLONG:
        return "has a name that is too long; give a shorter one"
    if isinstance(error, PermissionError):
        return "cannot be written, because its folder is read-only; give another place"
    if isinstance(error, TimeoutError):
        return "is being written by another program; try again"
    if isinstance(error, UnicodeError):
        return "cannot be written, because its text would hold half a character; take that out"
    reason = error.strerror if isinstance(error, OSError) else str(error)
    return f"cannot be written ({reason or 'the system refused'}); give another place"


def _can_be_named(target: Path) -> bool:
    try:
        return b"\0" not in os.fsencode(target)
    except UnicodeError:
        return False


def _is_full(error: Exception) -> bool:
    """Tell whether the disk was full, or a quota or size limit was reached."""
    return isinstance(error, OSError) and error.errno in _FULL


def _has_no_room(folder: Path) -> bool:
    """Tell whether there is no room left on the disk of a folder."""
    try:
        return shutil.disk_usage(folder).free < _LEAST_ROOM
    except OSError:
        return False


class Unfinished:
    """A hidden file or folder that is to replace a target: a context manager.

    Unless it has been moved to its target, it is removed at the end.

    Parameters
    ----------
    target : Path
        Not a link.
    called : Path, optional
        Path of the target as the user gave it; `target` if not given.
    suffix : str
        Ending of the hidden name.
    folder : bool
        Whether it is a folder.

    Raises
    ------
    OSError
    """

    def __init__(
        self,
        target: Path,
        *,
        called: Path | None = None,
        suffix: str = ".tmp",
        folder: bool = False,
    ) -> None:
        ending = suffix.lower() if re.fullmatch(r"\.[A-Za-z0-9]{1,8}", suffix) else ""
        self.path = target.with_name(f".turnlight-{secrets.token_hex(6)}{ending}")
        self.target, self.called = target, called or target
        self._folder, self._held, self._placed = folder, -1, False

    def __enter__(self) -> Self:
        _sweep(self.path.parent)
        _unfinished[self.path] = self
        try:
            if self._folder:
                self.path.mkdir()
                if fcntl is not None:
                    self._held = os.open(self.path, os.O_RDONLY)
            else:
                flags = os.O_RDWR | os.O_CREAT | os.O_EXCL
                self._held = os.open(self.path, flags, 0o666)
            if fcntl is not None:
                with suppress(OSError):  # a file system without locks
                    fcntl.flock(self._held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BaseException:
            self._remove()
            raise
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._remove()

    def write(self, data: bytes) -> None:
        """Write the whole file, and flush it to the disk.

        Parameters
        ----------
        data : bytes
            Whole content.
        """
        with self.path.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())

    def put(self) -> None:
        """Move it to its target, over a file or an empty folder.

        Raises
        ------
        OSError
        """
        self._close()
        self._placed = True
        if self._folder:
            if self.target.is_dir():
                self.target.rmdir()
        elif self.target.exists():
            _copy_owner(self.target, self.path)
            # After the owner, since a change of that takes rights away.
            shutil.copymode(self.target, self.path)
        os.replace(self.path, self.target)

    def put_new(self) -> None:
        """Move it to its target if nothing is there.

        Raises
        ------
        FileExistsError
            If there is something.
        OSError
        """
        self._close()
        self._placed = True
        if _ON_WINDOWS:
            os.rename(self.path, self.target)  # never over another there
            return
        try:
            os.link(self.path, self.target)
        except FileExistsError:
            raise
        except OSError:
            # No hard links on this file system: an empty file reserves the name.
            os.close(os.open(self.target, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o666))
            os.replace(self.path, self.target)

    @property
    def is_placed(self) -> bool:
        """Whether it has reached its target, also if `put` was interrupted."""
        if not self._placed:
            return False
        try:
            return os.path.samefile(self.path, self.target)
        except OSError:
            return not os.path.lexists(self.path) and os.path.lexists(self.target)

    def _close(self) -> None:
        if self._held >= 0:
            held, self._held = self._held, -1
            os.close(held)

    def _remove(self) -> None:
        self._close()
        if self.is_placed:
            _finished[self.called] = None
        if self._folder:
            shutil.rmtree(self.path, ignore_errors=True)
        else:
            with suppress(OSError):
                self.path.unlink(missing_ok=True)
        _unfinished.pop(self.path, None)


def _copy_owner(target: Path, path: Path) -> None:
    """Give a file the owner and group of another, as far as this user is allowed to."""
    if hasattr(os, "chown"):
        status = target.stat()
        for owner, group in ((-1, status.st_gid), (status.st_uid, -1)):
            with suppress(OSError):
                os.chown(path, owner, group)


@contextmanager
def end_before_sweep(end: Callable[[], object]) -> Iterator[None]:
    """Have a function called before `remove_unfinished` removes files.

    Parameters
    ----------
    end : callable
        Such as one that ends a process which writes; called from any thread.
    """
    _to_end.append(end)
    try:
        yield
    finally:
        _to_end.remove(end)


_to_end: list[Callable[[], object]] = []
_unfinished: dict[Path, Unfinished] = {}
_finished: dict[Path, None] = {}
_swept: set[Path] = set()


def finished() -> list[Path]:
    """List the files that this program has finished, in order, by the paths the user gave."""
    late = [unfinished.called for unfinished in list(_unfinished.values()) if unfinished.is_placed]
    return list(dict.fromkeys([*_finished, *late]))


def forget_finished() -> None:
    """Clear the list of finished files."""
    _finished.clear()


def stopped_message() -> str:
    """Word a message that the program was stopped, with the files it had finished."""
    names = [named(path) for path in finished()]
    if not names:
        return "Stopped; nothing was written."
    if len(names) > _MOST_NAMED:
        names = [*names[:_MOST_NAMED], f"{len(names) - _MOST_NAMED} more"]
    listed = f"{', '.join(names[:-1])} and {names[-1]} are" if len(names) > 1 else f"{names[0]} is"
    return f"Stopped; {listed} written."


def remove_unfinished() -> None:
    """Remove all unfinished files of a program that ends now."""
    for end in list(_to_end):
        end()
    for unfinished in list(_unfinished.values()):
        unfinished._remove()


def _sweep(folder: Path) -> None:
    """Remove abandoned files from a folder, once in each run."""
    if folder in _swept:
        return
    _swept.add(folder)
    try:
        with os.scandir(folder) as entries:
            leftovers = [entry for entry in entries if _NAME.fullmatch(entry.name)]
    except OSError:
        return
    for entry in leftovers:
        with suppress(OSError):
            if _is_abandoned(entry):
                if entry.is_dir(follow_symlinks=False):
                    shutil.rmtree(entry.path, ignore_errors=True)
                else:
                    os.unlink(entry.path)


def _is_abandoned(entry: "os.DirEntry[str]") -> bool:
    status = entry.stat(follow_symlinks=False)
    if time.time() - status.st_mtime < _OLD:
        return False
    if fcntl is None:
        # An open file cannot be removed; for a folder there is no such test.
        return stat.S_ISREG(status.st_mode)
    if not (stat.S_ISREG(status.st_mode) or stat.S_ISDIR(status.st_mode)):
        return False
    if status.st_uid != os.geteuid():
        return False
    held = os.open(entry.path, os.O_RDONLY | os.O_NONBLOCK | os.O_NOFOLLOW)
    try:
        fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
    finally:
        os.close(held)
    return True
