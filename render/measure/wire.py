"""A client of the page's socket that speaks its wire format, well or badly.

The browser's half of the framework speaks a remote procedure call over binary frames: a header of
three 32-bit little-endian numbers (message, offset, whole size) and a part of a MessagePack map.
Calls carry a number, and answers the same; what the page sends unasked carries a topic instead.
"""

import asyncio
from collections.abc import AsyncIterator, Mapping
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from typing import Any

import msgpack
from aiohttp import ClientSession, ClientWebSocketResponse, WSMsgType
from yarl import URL

__all__ = ["Answer", "Wire", "connected", "frame", "socket_place"]

PATIENCE = 8.0
"""Seconds in which an answer must have come, unless it is said otherwise."""

_HEADER = 12
_SECRET = "wslink-secret"
"""The framework's own, the same for all of its programs; who comes by is checked before."""


def frame(content: object, *, number: int = 1, offset: int = 0, whole: int | None = None) -> bytes:
    """Pack a message as one frame: header of three little-endian numbers, then MessagePack."""
    data = content if isinstance(content, bytes) else msgpack.packb(content)
    whole = len(data) if whole is None else whole
    return b"".join(one.to_bytes(4, "little") for one in (number, offset, whole)) + data


@dataclass(frozen=True, slots=True)
class Answer:
    """The answer to a call.

    Parameters
    ----------
    result : object
    refusal : str
        The sentence, if it was refused.
    whole : dict
        The message.
    """

    result: Any
    refusal: str
    whole: dict[str, Any]


@dataclass(slots=True)
class Wire:
    """An open socket.

    Parameters
    ----------
    socket : ClientWebSocketResponse
    patience : float
        Seconds in which an answer must have come.

    Attributes
    ----------
    state : dict
        The page's state, as far as it was sent.
    pushed, pictures : list of dict
        Changes of state and pictures that were sent unasked.
    changed : asyncio.Condition
        Notified when anything but an answer has come, and when the socket is closed.
    """

    socket: ClientWebSocketResponse
    patience: float = PATIENCE
    state: dict[str, Any] = field(default_factory=dict)
    pushed: list[dict[str, Any]] = field(default_factory=list)
    pictures: list[dict[str, Any]] = field(default_factory=list)
    changed: asyncio.Condition = field(default_factory=asyncio.Condition)
    _parts: dict[int, bytearray] = field(default_factory=dict)
    _answers: dict[str, asyncio.Future[dict[str, Any]]] = field(default_factory=dict)
    _number: int = 0
    _listening: asyncio.Task[None] | None = None

    def listen(self) -> None:
        """Take what comes, from now on."""
        self._listening = asyncio.get_running_loop().create_task(self._listen())

    @property
    def listening(self) -> bool:
        """Whether anything can still come."""
        return self._listening is not None and not self._listening.done()

    async def send(self, method: str, *arguments: object, number: str = "", **more: object) -> str:
        """Send a call; give its number."""
        self._number += 1
        number = number or f"rpc:test:{self._number}"
        call = {"wslink": "1.0", "id": number, "method": method, "args": list(arguments)}
        self._answers[number] = asyncio.get_running_loop().create_future()
        await self.socket.send_bytes(frame({**call, "kwargs": {}, **more}, number=self._number))
        return number

    async def call(self, method: str, *arguments: object, **more: Any) -> Answer:
        """Make a call and wait for its answer.

        Raises
        ------
        TimeoutError
            If none comes.
        ConnectionError
            If the socket is closed meanwhile.
        """
        number = await self.send(method, *arguments, **more)
        try:
            whole = await asyncio.wait_for(self._answers[number], self.patience)
        finally:
            del self._answers[number]
        error = whole.get("error")
        return Answer(whole.get("result"), "" if error is None else error["message"], whole)

    async def greet(self) -> None:
        """Begin as the page does."""
        answer = await self.call("wslink.hello", {"secret": _SECRET}, number="system:c0:0")
        assert answer.result["clientID"]
        answer = await self.call("trame.state.get")
        self.state = dict(answer.result["state"])

    async def trigger(self, name: str, *arguments: object) -> Answer:
        """Ask for something as the page's scripts do."""
        return await self.call("trame.trigger", name, list(arguments), {})

    async def closed(self) -> int | None:
        """Wait until the program has closed the socket."""
        assert self._listening is not None
        await asyncio.wait_for(self._listening, self.patience)
        return self.socket.close_code

    async def _listen(self) -> None:
        try:
            async for message in self.socket:
                if message.type is not WSMsgType.BINARY:
                    continue
                number, _, whole = (
                    int.from_bytes(message.data[place : place + 4], "little") for place in (0, 4, 8)
                )
                data = self._parts.setdefault(number, bytearray())
                data += message.data[_HEADER:]
                if len(data) == whole:
                    self._take(msgpack.unpackb(bytes(self._parts.pop(number))))
                    await self._notify()
        finally:
            for answer in self._answers.values():
                if not answer.done():
                    answer.set_exception(ConnectionError("The page has closed the socket."))
                    answer.exception()  # nobody need have waited for it
            await self._notify()

    async def _notify(self) -> None:
        async with self.changed:
            self.changed.notify_all()

    def _take(self, message: dict[str, Any]) -> None:
        number = message["id"]
        if answer := self._answers.get(number):
            if not answer.done():
                answer.set_result(message)
        elif number.startswith("publish:trame.state.topic:"):
            self.pushed.append(message["result"])
            self.state.update(message["result"])
        elif number.startswith("publish:turnlight.frame:"):
            self.pictures.append(message["result"])


async def socket_place(session: ClientSession, address: str, headers: Mapping[str, str]) -> str:
    """Ask for the address of a socket, as the framework's client does.

    Parameters
    ----------
    session : ClientSession
    address : str
        Origin of the page.
    headers : mapping of str to str

    Raises
    ------
    aiohttp.ClientResponseError
        If it is refused.
    """
    async with session.post(f"{address}/session", headers=headers, json={}) as answer:
        answer.raise_for_status()
        path = URL(str((await answer.json())["sessionURL"])).path
    return f"{address}{path}"


@asynccontextmanager
async def connected(
    session: ClientSession,
    address: str,
    *,
    headers: Mapping[str, str],
    greet: bool = True,
    patience: float = PATIENCE,
) -> AsyncIterator[Wire]:
    """Open a socket, and greet."""
    place = await socket_place(session, address, headers)
    async with session.ws_connect(place, headers=headers, max_msg_size=0) as socket:
        wire = Wire(socket, patience)
        wire.listen()
        if greet:
            await wire.greet()
        yield wire
