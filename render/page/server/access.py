"""Access to the page: the builder on this machine, and guests over the network if they may.

The builder's browser is led to the page by a file that only the builder can read (`Handover`). For
another browser the terminal prints an address that works once; when it has been used, the next is
printed. A key that somebody else saw is therefore void, or the builder notices its use. After a
tab was closed no key is needed: its browser still has the cookie.

Guests use a separate listener with TLS. Their key admits any number of guests until the program
ends. It is not valid for the builder's listener, nor are the builder's keys for theirs.
"""

import errno
import socket
import webbrowser
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from aiohttp import web

from render.common.problems import RequestProblem
from render.page.server.entrance import Entrance, guest_entrance, owner_entrance
from render.page.server.handover import Handover
from render.page.server.listener import Listener
from render.page.server.machine import address_on_network, own_addresses, own_names

if TYPE_CHECKING:
    from render.page.server.certificate import Certificate

__all__ = ["Access"]

_LOOPBACK, _EVERYWHERE = "127.0.0.1", "0.0.0.0"

_SHUTDOWN = 0.3
"""Seconds in which responses under way may finish when the program ends."""


class Access:
    """Listeners of the page; their ports are bound by the constructor.

    Parameters
    ----------
    port : int
        Port of the builder's listener; that of the guests is the next one. 0 for free ports.
    shared : bool
        Whether there is a listener for guests.
    state : Path
        The user's state folder.
    announce : callable
        Called with each sentence (str) for the person at the terminal.

    Raises
    ------
    RequestProblem
        If a port cannot be used.
    """

    def __init__(
        self, port: int, *, shared: bool, state: Path, announce: Callable[[str], None]
    ) -> None:
        self._announce = announce
        self._state = state
        self._handover: Handover | None = None
        self._runner: web.AppRunner | None = None
        self._certificate: Certificate | None = None
        self._guests: Entrance | None = None
        bound = _bind(_LOOPBACK, port)
        self.owner = owner_entrance(bound.getsockname()[1])
        self._listeners = [Listener(bound, self.owner)]
        if shared:
            # Only a shared page waits for the cryptography to load.
            from render.page.server.certificate import make_certificate

            try:
                bound_for_guests = _bind(_EVERYWHERE, port and port + 1)
            except RequestProblem:
                bound.close()
                raise
            names, addresses = own_names(), own_addresses()
            self._certificate = make_certificate(names, addresses)
            self._guests = guest_entrance(
                bound_for_guests.getsockname()[1], frozenset({*names, *addresses})
            )
            self._listeners.append(
                Listener(bound_for_guests, self._guests, self._certificate.context)
            )

    async def start(self, app: web.Application) -> web.AppRunner:
        """Serve an application.

        Parameters
        ----------
        app : aiohttp Application
            Guarded by `render.page.server.guard.protect`.
        """
        runner = web.AppRunner(app, shutdown_timeout=_SHUTDOWN)
        await runner.setup()
        assert runner.server is not None
        for listener in self._listeners:
            listener.start(runner.server)
        self._runner = runner
        return runner

    async def close(self) -> None:
        """Stop serving, and remove the file that was made for the browser."""
        if self._handover is not None:
            self._handover.remove()
        for listener in self._listeners:
            await listener.close()
        if self._runner is not None and self._runner.server is not None:
            await self._runner.cleanup()

    def let_in(self, *, browser: bool) -> None:
        """Open the builder's browser, and print an address for another one.

        Parameters
        ----------
        browser : bool
            Whether to open the browser.
        """
        if browser and self._open_browser():
            self._print_address(
                "Turnlight opens in your browser. If nothing is seen there, or for another "
                "browser, open"
            )
        else:
            self._print_address("Turnlight is open at")

    def sharing(self) -> str:
        """The notice with the guests' address and the certificate's fingerprint.

        Returns
        -------
        str
            Empty where the page is not shared.
        """
        if self._guests is None or self._certificate is None:
            return ""
        address = self._guests.address(address_on_network(), self._guests.keys.issue())
        return (
            f"On this network: {address}\n"
            "What is sent there is encrypted. The browser will warn that nobody vouches for the "
            "certificate: have it show the certificate, and go on only if its SHA-256 fingerprint "
            "is this one (some browsers leave out the colons). Without comparing, somebody on the "
            "network could stand in between.\n"
            f"{self._certificate.fingerprint}"
        )

    def _print_address(self, words: str) -> None:
        key = self.owner.keys.issue(on_use=self._print_next)
        self._announce(f"{words} {self.owner.address(_LOOPBACK, key)} (this address works once).")

    def _print_next(self) -> None:
        self._print_address("That address has been used. For another browser, open")

    def _open_browser(self) -> bool:
        key = self.owner.keys.issue(on_use=self._used)
        try:
            self._handover = Handover(self._state, self.owner.address(_LOOPBACK, key))
        except OSError as error:
            self._announce(f"{self._state}: cannot be written ({error.strerror}).")
            return False
        opened = False
        with suppress(webbrowser.Error):
            opened = webbrowser.open(self._handover.uri)
        if not opened:
            self._handover.remove()
            self._announce("No browser could be opened here; open the address in one.")
        return opened

    def _used(self) -> None:
        if self._handover is not None:
            self._handover.remove()


def _bind(host: str, port: int) -> socket.socket:
    try:
        return Listener.bind(host, port)
    except OSError as error:
        reason = {
            errno.EADDRINUSE: "is in use by another program",
            errno.EACCES: "is kept for the system",
        }.get(error.errno or 0, "cannot be used here")
        raise RequestProblem(f"port: {port} {reason}; give another, or none.") from None
