"""A tab without a browser: a session, a socket, what the page shows, and how long it takes."""

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
_GIVEN = re.compile('name="turnlight-page" content="([0-9a-f]+)"')
"""Where the page that follows a key has the secret that a tab shows."""

_WITHIN = 60.0
"""Seconds in which an answer, a picture or a change of state must have come."""


class PageError(Exception):
    """The page did not do what it must; the message is one sentence."""


class Refusal(Exception):
    """The page refused a call; the message is its own."""


async def enter(http: aiohttp.ClientSession, address: str) -> URL:
    """Come in by an address with a key: cookie and page secret are kept for what is asked later.

    Returns
    -------
    URL
        The page's origin.

    Raises
    ------
    PageError
        If the key is refused.
    """
    async with http.get(address, allow_redirects=False) as answer:
        if answer.status >= 400:
            raise PageError(f"The page refused its own key with status {answer.status}.")
        given = _GIVEN.search(await answer.text())
    if given is None:
        raise PageError("The page gave no secret for its own key.")
    http.headers[_PAGE_HEADER] = given[1]
    return URL(address).origin()


class PageClient:
    """A tab that is open.

    Parameters
    ----------
    http : aiohttp.ClientSession
        With the cookie of its session.
    origin : URL
        Scheme, host and port of the page.
    wire : Wire
        Greeted.

    Attributes
    ----------
    frames : int
        Pictures that have come.
    delays : list of float
        Seconds that each answer took; who reads them may clear them.
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
        """Open a tab, and close it in the end; every picture is acknowledged, as a browser does.

        Parameters
        ----------
        http : aiohttp.ClientSession
            With the cookie of its session.
        origin : URL
        headers : mapping of str to str, optional
            Sent too.
        """
        headers = {"Origin": str(origin), **(headers or {})}
        async with connected(http, str(origin), headers=headers, patience=_WITHIN) as wire:
            tab = cls(http, origin, wire)
            acknowledging = asyncio.ensure_future(tab._acknowledge())
            try:
                yield tab
            finally:
                acknowledging.cancel()
                await asyncio.wait({acknowledging})

    @property
    def state(self) -> Mapping[str, Any]:
        """The page's state, as far as it was sent."""
        return self._wire.state

    async def get(self, path: str) -> int:
        """Fetch a file from the page and throw it away; give the status."""
        async with self._http.get(self._origin / path.lstrip("/")) as answer:
            async for _ in answer.content.iter_chunked(1 << 16):
                pass
            return answer.status

    async def do(self, name: str, *arguments: object) -> Any:
        """Ask the page for something by its name, such as ``desk_undo``.

        Raises
        ------
        Refusal
        PageError
            If no answer comes.
        """
        begun = time.perf_counter()
        try:
            answer = await self._wire.trigger(name, *arguments)
        except TimeoutError:
            raise PageError(f"Within {_WITHIN:g} s there was no answer: {name}.") from None
        except ConnectionError:
            raise PageError(f"The page closed the socket in place of an answer: {name}.") from None
        finally:
            self.delays.append(time.perf_counter() - begun)
        if answer.refusal:
            raise Refusal(answer.refusal)
        return answer.result

    async def until(self, what: str, fulfilled: Callable[[Mapping[str, Any]], object]) -> None:
        """Wait until the state fulfils a condition.

        Raises
        ------
        PageError
            If it does not; `what` says what was waited for.
        """
        await self._until(what, lambda: fulfilled(self.state))

    async def picture(self, after: int = -1) -> int:
        """Wait for a picture of what is to be seen now.

        Parameters
        ----------
        after : int
            How many pictures had come before it was asked for; if not given, the latest will do.

        Returns
        -------
        int
            How many have come.

        Raises
        ------
        PageError
            If none comes.
        """
        await self._until(
            "a picture",
            lambda: self.frames > max(after, 0) and self._epoch >= self.state["pic_epoch"],
        )
        return self.frames

    # --- inside -----------------------------------------------------------------------------

    async def _until(self, what: str, fulfilled: Callable[[], object]) -> None:
        wire = self._wire
        async with wire.changed:
            try:
                async with asyncio.timeout(_WITHIN):
                    await wire.changed.wait_for(lambda: bool(fulfilled()) or not wire.listening)
            except TimeoutError:
                raise PageError(f"Within {_WITHIN:g} s there was not: {what}.") from None
        if not fulfilled():
            raise PageError(f"The page closed the socket in place of: {what}.")

    async def _acknowledge(self) -> None:
        """Say of each picture that it has arrived; the answer is of no interest."""
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
                for one in arrived:
                    await wire.trigger("pic_got", one["number"])
