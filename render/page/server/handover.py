"""A file that leads the builder's browser to the page.

Every user of a machine can read the command lines of all its processes, and a browser is started
with the address on its own. So it is given the address of a file that only the builder can read,
and the file, which holds the key, sends it on.
"""

import html
import os
import tempfile
import time
from contextlib import suppress
from pathlib import Path

__all__ = ["Handover"]

_FOLDER = "handover"
_PREFIX, _SUFFIX = "open-", ".html"

_STALE = 86_400.0
"""Seconds after which a file of a program that was killed is cleared away; its key is long void."""

_TEXT = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="referrer" content="no-referrer">
<meta http-equiv="refresh" content="0; url={address}">
<title>Turnlight</title>
</head>
<body><p><a href="{address}">Open Turnlight</a></p></body>
</html>
"""


class Handover:
    """A file that sends a browser on, until it has been used.

    On Windows, where files have no mode, the user's own profile keeps others out.

    Parameters
    ----------
    state : Path
        The user's own folder for what Turnlight remembers.
    address : str
        With the key.

    Raises
    ------
    OSError
        If the file cannot be written.
    """

    def __init__(self, state: Path, address: str) -> None:
        folder = state / _FOLDER
        folder.mkdir(parents=True, exist_ok=True)
        folder.chmod(0o700)
        _sweep(folder)
        # Made for its owner alone, mode 0600, and never over another file.
        handle, name = tempfile.mkstemp(_SUFFIX, _PREFIX, folder)
        self.file = Path(name)
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(_TEXT.format(address=html.escape(address)))

    @property
    def uri(self) -> str:
        """Address of the file, for the browser."""
        return self.file.resolve().as_uri()

    def remove(self) -> None:
        """Remove the file; nothing happens if it is gone."""
        with suppress(OSError):
            self.file.unlink(missing_ok=True)


def _sweep(folder: Path) -> None:
    now = time.time()
    for file in folder.glob(f"{_PREFIX}*{_SUFFIX}"):
        with suppress(OSError):
            if now - file.stat().st_mtime > _STALE:
                file.unlink()
