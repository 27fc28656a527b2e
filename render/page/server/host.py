"""What a part of the page may ask of the page that it is on."""

from collections.abc import Callable
from pathlib import Path
from typing import Any, Protocol

from render.editor.desk import Desk
from render.page.server.door import Door
from render.page.server.methods import Methods
from render.page.server.routes import Routes

__all__ = ["Host"]


class Host(Protocol):
    """The page that a part is on."""

    @property
    def desk(self) -> Desk:
        """The open document."""

    @property
    def state(self) -> Any:
        """What the browsers are shown; only the program writes it."""

    @property
    def methods(self) -> Methods:
        """What browsers may ask for: a part declares its own, each with the right it needs."""

    @property
    def routes(self) -> Routes:
        """Addresses that are answered: a part declares its own, each with the right it needs."""

    @property
    def door(self) -> Door:
        """The sockets of all browsers."""

    @property
    def folder(self) -> Path:
        """Folder for files made while the page is open; gone with it."""

    @property
    def sending(self) -> bool:
        """Whether anything is being made to send."""

    @property
    def watched(self) -> bool:
        """Whether a browser has the page open."""

    def show_status(self, sentence: str, *, guests: bool = False) -> None:
        """Write a sentence in the page's last line, where it is also read aloud.

        Parameters
        ----------
        sentence : str
        guests : bool
            Whether guests of the page are told too; not what speaks of files.
        """

    def on_tick(self, callback: Callable[[], None]) -> None:
        """Call back every second."""

    def on_close(self, callback: Callable[[], None]) -> None:
        """Call back when the page goes down."""
