"""A client of the page without a browser: it speaks what the framework's script speaks.

Each frame of the socket is a header of three 32-bit little-endian numbers (message, offset, size)
and a part of a MessagePack map. Calls carry a number, and answers the same one; what the page
sends unasked carries a topic in its place.
"""

import asyncio
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from itertools import count
from typing import Any, Self

import aiohttp
import msgpack
from wslink.chunking import UnChunker, generate_chunks
from yarl import URL

__all__ = ["PageClient", "PageError", "Refusal"]

_STATE, _FRAME = "trame.state.topic", "turnlight.frame"
_SECRET = "wslink-secret"
"""The framework's own, the same for all of its programs; who comes by is checked before."""

_LARGEST = 1 << 28
"""Bytes of a message from the page."""

_WITHIN = 60.0
"""Seconds in which an answer, a picture or a change of state must have come."""


class PageError(Exception):
    """The page did not do what it must; the message is one sentence."""


class Refusal(Exception):
    """The page refused a call; the message is its own."""


class PageClient:
    """One tab, as the page sees it.

    Parameters
    ----------
    http : aiohttp.ClientSession
        With the cookie of its session.
    origin : URL
        Scheme, host and port of the page.

    Attributes
    ----------
    origin : URL
    state : dict
        The page's state, as far as it was sent to this client.
    frames : int
        Pictures that have arrived.
    delays : list of float
        Seconds that each answer took; who reads them may clear them.
    """

    def __init__(self, http: aiohttp.ClientSession, origin: URL) -> None:
        self._http, self.origin = http, origin
        self.state: dict[str, Any] = {}
        self.frames = 0
        self.delays: list[float] = []
        self._frame: Mapping[str, Any] = {}
        self._numbers = count(1)
        self._waiting: dict[str, asyncio.Future[Any]] = {}
        self._changed = asyncio.Condition()
        self._chunks = UnChunker()
        self._chunks.set_max_message_size(_LARGEST)
        self._socket: aiohttp.ClientWebSocketResponse | None = None
        self._listening: asyncio.Task[None] | None = None

    @staticmethod
    async def enter(http: aiohttp.ClientSession, address: str) -> URL:
        """Come in by an address with a key: the session's cookie is set.

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
        return URL(address).origin()

    async def __aenter__(self) -> Self:
        """Connect, say hello and ask for the state."""
        headers = {"Origin": str(self.origin)}
        async with self._http.post(self.origin / "session", headers=headers, json={}) as answer:
            path = URL(str((await answer.json())["sessionURL"])).path
        self._socket = await self._http.ws_connect(
            self.origin / path.lstrip("/"), headers=headers, max_msg_size=_LARGEST
        )
        self._listening = asyncio.ensure_future(self._listen(self._socket))
        await self._ask("system:c0:0", "wslink.hello", [{"secret": _SECRET}])
        self.state = (await self.call("trame.state.get"))["state"] | self.state
        return self

    async def __aexit__(self, *_: object) -> None:
        """Close the socket, as a tab that is closed does."""
        if self._socket is not None:
            await self._socket.close()
        if self._listening is not None:
            self._listening.cancel()
            await asyncio.wait({self._listening})

    async def get(self, path: str) -> int:
        """Fetch a file from the page and throw it away; give the status."""
        async with self._http.get(self.origin / path.lstrip("/")) as answer:
            async for _ in answer.content.iter_chunked(1 << 16):
                pass
            return answer.status

    async def call(self, method: str, *arguments: object) -> Any:
        """Call a method of the framework.

        Raises
        ------
        Refusal
        PageError
            If no answer comes.
        """
        return await self._ask(f"rpc:c0:{next(self._numbers)}", method, list(arguments))

    async def do(self, name: str, *arguments: object) -> Any:
        """Ask the page for something by its name, such as ``desk_undo``.

        Raises
        ------
        Refusal
        PageError
            If no answer comes.
        """
        return await self.call("trame.trigger", name, list(arguments), {})

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
            lambda: (
                self.frames > after
                and self._frame
                and self._frame["epoch"] >= self.state["pic_epoch"]
            ),
        )
        return self.frames

    async def send_bytes(self, data: bytes) -> None:
        """Send a frame as it is, right or wrong."""
        assert self._socket is not None
        await self._socket.send_bytes(data)

    # --- inside -----------------------------------------------------------------------------

    async def _until(self, what: str, fulfilled: Callable[[], object]) -> None:
        async with self._changed:
            try:
                async with asyncio.timeout(_WITHIN):
                    await self._changed.wait_for(lambda: bool(fulfilled()) or self._is_closed)
            except TimeoutError:
                raise PageError(f"Within {_WITHIN:g} s there was not: {what}.") from None
        if not fulfilled():
            raise PageError(f"The page closed the socket while waiting for: {what}.")

    @property
    def _is_closed(self) -> bool:
        return self._listening is None or self._listening.done()

    async def _ask(self, number: str, method: str, arguments: list[object]) -> Any:
        answer = asyncio.get_running_loop().create_future()
        self._waiting[number] = answer
        begun = time.perf_counter()
        try:
            await self._send(number, method, arguments)
            async with asyncio.timeout(_WITHIN):
                return await answer
        except TimeoutError:
            raise PageError(f"Within {_WITHIN:g} s there was no answer: {method}.") from None
        finally:
            self._waiting.pop(number, None)
            self.delays.append(time.perf_counter() - begun)

    async def _send(self, number: str, method: str, arguments: list[object]) -> None:
        message = {"wslink": "1.0", "id": number, "method": method, "args": arguments, "kwargs": {}}
        for chunk in generate_chunks(msgpack.packb(message), _LARGEST):
            await self.send_bytes(chunk)

    async def _listen(self, socket: aiohttp.ClientWebSocketResponse) -> None:
        try:
            async for message in socket:
                if message.type is aiohttp.WSMsgType.BINARY:
                    whole: Any = self._chunks.process_chunk(message.data)
                    if whole is not None:
                        await self._take(whole)
        finally:
            for answer in self._waiting.values():
                if not answer.done():
                    answer.set_exception(PageError("The page closed the socket."))
            with suppress(RuntimeError):
                async with self._changed:
                    self._changed.notify_all()

    async def _take(self, message: Mapping[str, Any]) -> None:
        number = str(message["id"])
        if answer := self._waiting.get(number):
            if answer.done():
                return
            if "error" in message:
                answer.set_exception(Refusal(str(message["error"]["message"])))
            else:
                answer.set_result(message.get("result"))
            return
        topic = number.removeprefix("publish:").rpartition(":")[0]
        if topic == _STATE:
            self.state.update(message["result"])
        elif topic == _FRAME:
            self.frames += 1
            self._frame = message["result"]
            # As a browser does once it has the picture; the answer is of no interest.
            arguments: list[object] = ["pic_got", [self._frame["number"]], {}]
            await self._send(f"rpc:c0:{next(self._numbers)}", "trame.trigger", arguments)
        async with self._changed:
            self._changed.notify_all()
