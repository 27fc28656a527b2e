"""A tab without a browser: a client of the page that counts pictures and times answers."""

import asyncio
import re
import time
from collections.abc import AsyncIterator, Callable, Mapping
from contextlib import asynccontextmanager, suppress
from typing import Any

import aiohttp
from yarl import URL

from render.measure.wire import Wire, connected

__all__ = ["PageClient", "PageError", "Refusal", "enter"]

_PAGE_HEADER = "Turnlight-Page"
_PAGE_SECRET = re.compile('name="turnlight-page" content="([0-9a-f]+)"')
"""The page secret in the page's HTML, which a tab sends with its requests."""

_TIMEOUT = 60.0
"""Timeout of an answer, a picture or a change of state, s."""


class PageError(Exception):
    """The page failed; the message is one sentence."""


class Refusal(Exception):
    """The page refused a call; the message is that of the page."""


async def enter(http: aiohttp.ClientSession, address: str) -> URL:
    """Open the page by an address with a key, and keep cookie and page secret for later requests.

    Parameters
    ----------
    http : aiohttp.ClientSession
    address : str
        With a key.

    Returns
    -------
    URL
        Origin of the page.

    Raises
    ------
    PageError
        If the key is refused.
    """
    async with http.get(address, allow_redirects=False) as answer:
        if answer.status >= 400:
            raise PageError(f"The page refused its own key with status {answer.status}.")
        secret = _PAGE_SECRET.search(await answer.text())
    if secret is None:
        raise PageError("The page gave no secret for its own key.")
    http.headers[_PAGE_HEADER] = secret[1]
    return URL(address).origin()


class PageClient:
    """An open tab.

    Parameters
    ----------
    http : aiohttp.ClientSession
        With the cookie of its session.
    origin : URL
        Scheme, host and port of the page.
    wire : Wire
        After its greeting.

    Attributes
    ----------
    frames : int
        Number of pictures received.
    delays : list of float
        Duration of each answer, s; the reader may clear the list.
    """

    def __init__(self, http: aiohttp.ClientSession, origin: URL, wire: Wire) -> None:
        self._http, self._origin, self._wire = http, origin, wire
        self.frames = 0
        self.delays: list[float] = []
        self._epoch = -1

    @classmethod
    @asynccontextmanager
    async def open(
        cls,
        http: aiohttp.ClientSession,
        origin: URL,
        headers: Mapping[str, str] | None = None,
    ) -> AsyncIterator["PageClient"]:
        """Open a tab that acknowledges every picture, as a browser does, and close it at the end.

        Parameters
        ----------
        http : aiohttp.ClientSession
            With the cookie of its session.
        origin : URL
        headers : mapping of str to str, optional
            Further headers.

        Yields
        ------
        PageClient
        """
        headers = {"Origin": str(origin), **(headers or {})}
        async with connected(http, str(origin), headers=headers, patience=_TIMEOUT) as wire:
            tab = cls(http, origin, wire)
            acknowledging = asyncio.ensure_future(tab._acknowledge())
            try:
                yield tab
            finally:
                # Up to Python 3.11 asyncio.wait_for loses a cancellation that comes with an answer.
                while not acknowledging.done():
                    acknowledging.cancel()
                    await asyncio.wait({acknowledging}, timeout=1.0)

    @property
    def state(self) -> Mapping[str, Any]:
        """State of the page, as far as it was sent."""
        return self._wire.state

    async def get(self, path: str) -> int:
        """Fetch a file from the page, discard it, and return the HTTP status.

        Parameters
        ----------
        path : str
            On the page's origin.
        """
        async with self._http.get(self._origin / path.lstrip("/")) as answer:
            async for _ in answer.content.iter_chunked(1 << 16):
                pass
            return answer.status

    async def do(self, name: str, *arguments: object) -> Any:
        """Call a method of the page, such as ``desk_undo``.

        Parameters
        ----------
        name : str
            Of the method.
        arguments : object

        Raises
        ------
        Refusal
        PageError
            If there is no answer.
        """
        begun = time.perf_counter()
        try:
            answer = await self._wire.trigger(name, *arguments)
        except TimeoutError:
            raise PageError(f"Within {_TIMEOUT:g} s there was no answer: {name}.") from None
        except ConnectionError:
            raise PageError(f"The page closed the socket in place of an answer: {name}.") from None
        finally:
            self.delays.append(time.perf_counter() - begun)
        if answer.refusal:
            raise Refusal(answer.refusal)
        return answer.result

    async def until(self, what: str, fulfilled: Callable[[Mapping[str, Any]], object]) -> None:
        """Wait until the state fulfils a condition.

        Parameters
        ----------
        what : str
            What is waited for, for the message.
        fulfilled : callable
            Condition on the state.

        Raises
        ------
        PageError
            If it does not within the timeout.
        """
        await self._until(what, lambda: fulfilled(self.state))

    async def picture(self, after: int = -1) -> int:
        """Wait for a picture of the present state.

        Parameters
        ----------
        after : int
            Wait until more pictures than this have come; by default the latest is accepted.

        Returns
        -------
        int
            Number of pictures received.

        Raises
        ------
        PageError
            If there is none within the timeout.
        """
        await self._until(
            "a picture",
            lambda: self.frames > max(after, 0) and self._epoch >= self.state["pic_epoch"],
        )
        return self.frames

    async def _until(self, what: str, fulfilled: Callable[[], object]) -> None:
        wire = self._wire
        async with wire.changed:
            try:
                async with asyncio.timeout(_TIMEOUT):
                    await wire.changed.wait_for(lambda: bool(fulfilled()) or not wire.listening)
            except TimeoutError:
                raise PageError(f"Within {_TIMEOUT:g} s there was not: {what}.") from None
        if not fulfilled():
            raise PageError(f"The page closed the socket in place of: {what}.")

    async def _acknowledge(self) -> None:
        """Acknowledge each picture; the answers are ignored."""
        wire = self._wire
        with suppress(ConnectionError):
            while wire.listening:
                async with wire.changed:
                    await wire.changed.wait_for(lambda: wire.pictures or not wire.listening)
                    arrived = list(wire.pictures)
                    wire.pictures.clear()
                    if arrived:
                        self.frames += len(arrived)
                        self._epoch = arrived[-1]["epoch"]
                        wire.changed.notify_all()
                for picture in arrived:
                    await wire.trigger("pic_got", picture["number"])
