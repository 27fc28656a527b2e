"""Files of the cache, which several programs may write at the same time."""

import os
import tempfile
from contextlib import suppress
from pathlib import Path

__all__ = ["write_whole"]


def write_whole(path: Path, *content: bytes) -> None:
    """Write a file beside its place and move it there when it is whole.

    Parameters
    ----------
    path : Path
    content : bytes
        Parts that the file consists of.

    Raises
    ------
    OSError
        If it cannot be written; then the file at `path` is as it was.
    """
    held, name = tempfile.mkstemp(dir=path.parent)
    try:
        with open(held, "wb") as file:
            file.writelines(content)
        os.replace(name, path)
    except BaseException:
        with suppress(OSError):
            os.unlink(name)
        raise
