"""The interface of the page that its parts use."""

from collections.abc import Callable
from pathlib import Path
from typing import Any, Protocol

from render.editor.desk import Desk
from render.page.server.methods import Methods
from render.page.server.routes import Routes
from render.page.server.sockets import Client, Sockets

__all__ = ["Host"]


class Host(Protocol):
    """The page, as its parts see it."""

    @property
    def desk(self) -> Desk:
        """The open document."""

    @property
    def state(self) -> Any:
        """State of the framework that browsers show; only the program writes it."""

    @property
    def methods(self) -> Methods:
        """Methods that browsers may call: a part declares its own, each with the right it needs."""

    @property
    def routes(self) -> Routes:
        """Addresses that are served: a part declares its own, each with the right it needs."""

    @property
    def sockets(self) -> Sockets:
        """The sockets of all browsers."""

    @property
    def folder(self) -> Path:
        """Folder for files made while the page is open; removed with it."""

    @property
    def sending(self) -> bool:
        """Whether an export job or a photograph is being made, or waits."""

    @property
    def watched(self) -> bool:
        """Whether a browser has the page open."""

    def show_status(
        self, sentence: str, *, client: Client | None = None, guests: bool = False
    ) -> None:
        """Show a sentence in the status line, which screen readers read aloud.

        It lasts until the next sentence or the next change of the design.

        Parameters
        ----------
        sentence : str
        client : Client, optional
            Client that has done what the sentence is about, and alone sees it; all tabs of the
            owner by default.
        guests : bool
            Whether guests see it too; not for sentences about files.
        """

    @property
    def status(self) -> str:
        """The sentence in the status line of all tabs of the owner."""

    def on_tick(self, callback: Callable[[], None]) -> None:
        """Register a callback for every second.

        Parameters
        ----------
        callback : callable
            Called without arguments.
        """

    def on_close(self, callback: Callable[[], None]) -> None:
        """Register a callback for the end of the page.

        Parameters
        ----------
        callback : callable
            Called without arguments.
        """
