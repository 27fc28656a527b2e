"""A file that leads the builder's browser to the page.

Every user of a machine can read the command lines of all processes, and a browser is started with
an address on its command line. Therefore it gets the address of a file that only the builder can
read; the file contains the key and redirects the browser to the page.
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
"""Age, s, at which a file of a killed program is removed; its key is no longer valid."""

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
    """A file that redirects a browser to the page, until it has been used.

    On Windows, where files have no mode, the permissions of the user's profile protect it.

    Parameters
    ----------
    state : Path
        The user's state folder.
    address : str
        Address of the page, with a key.

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
        # Readable by its owner alone (mode 0600), and never in place of another file.
        handle, name = tempfile.mkstemp(_SUFFIX, _PREFIX, folder)
        self.file = Path(name)
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(_TEXT.format(address=html.escape(address)))

    @property
    def uri(self) -> str:
        """``file:`` address of the file."""
        return self.file.resolve().as_uri()

    def remove(self) -> None:
        """Remove the file, if it still exists."""
        with suppress(OSError):
            self.file.unlink(missing_ok=True)


def _sweep(folder: Path) -> None:
    now = time.time()
    for file in folder.glob(f"{_PREFIX}*{_SUFFIX}"):
        with suppress(OSError):
            if now - file.stat().st_mtime > _STALE:
                file.unlink()
