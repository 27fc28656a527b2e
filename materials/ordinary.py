"""Ordinary files read as far as is wanted; never a pipe or a device, which could wait for ever."""

import os
import stat
from pathlib import Path

__all__ = ["NotOrdinaryError", "read_ordinary"]


class NotOrdinaryError(ValueError):
    """What is there is a folder, a pipe or a device."""


def read_ordinary(path: Path, most: int) -> tuple[bytes, int]:
    """Read the beginning of an ordinary file.

    Parameters
    ----------
    path : Path
        Path of the file.
    most : int
        Bytes that are read at most.

    Returns
    -------
    data : bytes
    size : int
        Of the whole file, bytes.

    Raises
    ------
    NotOrdinaryError
    OSError, ValueError
        If there is no such file, it cannot be read, or the path cannot be one.
    """
    if not stat.S_ISREG(path.stat().st_mode):
        raise NotOrdinaryError
    # It may have become a pipe since.
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    with os.fdopen(os.open(path, flags), "rb") as file:
        status = os.fstat(file.fileno())
        if not stat.S_ISREG(status.st_mode):
            raise NotOrdinaryError
        # None where there is nothing to be read without waiting, as in the log of the kernel.
        return file.read(most) or b"", status.st_size
