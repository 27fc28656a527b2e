"""The command that opens the page."""

import sys
from pathlib import Path

from render.cli.converters import Flag, Whole
from render.cli.streams import print_line
from render.common.problems import RequestProblem
from render.editor.desk import Desk
from render.editor.recovery import open_slot
from render.page.app import open_page
from render.request.options import SAMPLE

__all__ = ["DEMO", "open_"]

DEMO = f"{SAMPLE}half-scale"
"""The design that is opened if no file is named."""

_LAST_PORT = 65_535


def open_(
    file: str = DEMO,
    /,
    *,
    share: Flag = False,
    port: Whole = 0,
    browser: bool = True,
    shelf: Path | None = None,
) -> None:
    """Open the page in your browser: design, see it turn, compare and send.

    Parameters
    ----------
    file : str
        A design file; without one, a sample.
    share : bool
        Let other machines on this network use it too, such as a tablet; says what that opens.
    port : int
        Number in the page's address, and one less than in that of guests; 0 for any that is free.
    browser : bool
        Open it in the browser, or only say where it is.
    shelf : Path, optional
        Your own shelf of threads, in place of the one that the design names.
    """
    if not 0 <= port <= _LAST_PORT:
        raise RequestProblem(f"port: {port} is not between 0 and {_LAST_PORT}; give 0 for any.")
    if share and port == _LAST_PORT:
        raise RequestProblem(f"port: guests need the one above {port}; give one less.")
    within = None
    if share:
        within = Path() if file.startswith(SAMPLE) else Path(file).absolute().parent
    desk = Desk.open(file, shelf, within=within, slot=open_slot())
    open_page(desk, shared=share, port=port, browser=browser, announce=_announce)


def _announce(sentence: str) -> None:
    print_line(sentence)
    sys.stdout.flush()
