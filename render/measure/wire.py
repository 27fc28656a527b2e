"""A client of the page's socket and its wire format, for valid and for broken messages.

The framework makes remote procedure calls over binary frames. A frame is a header of three 32-bit
little-endian numbers (message, offset, total size), and a part of a MessagePack map. A call has a
number, and its answer the same number; what the page publishes has a topic instead.
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
"""Default timeout of an answer, s."""

_HEADER = 12
_SECRET = "wslink-secret"
"""The framework's default secret. The page checks clients before it is used."""


def frame(content: object, *, number: int = 1, offset: int = 0, whole: int | None = None) -> bytes:
    """Pack a message as one frame.

    Parameters
    ----------
    content : object
        Message, or its bytes.
    number : int, optional
        Of the message.
    offset : int, optional
        Of the part, bytes.
    whole : int, optional
        Total size, bytes; by default that of the content.
    """
    data = content if isinstance(content, bytes) else msgpack.packb(content)
    whole = len(data) if whole is None else whole
    return b"".join(part.to_bytes(4, "little") for part in (number, offset, whole)) + data


@dataclass(frozen=True, slots=True)
class Answer:
    """The answer to a call.

    Parameters
    ----------
    result : object
    refusal : str
        Message of the error; empty if there is none.
    whole : dict
        The whole message.
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
        Timeout of an answer, s.

    Attributes
    ----------
    state : dict
        State of the page, as far as it was sent.
    pushed, pictures : list of dict
        Changes of state and pictures that the page has published.
    changed : asyncio.Condition
        Notified after each message, and when the socket is closed.
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
        """Begin to receive messages."""
        self._listening = asyncio.get_running_loop().create_task(self._listen())

    @property
    def listening(self) -> bool:
        """Whether messages can still come."""
        return self._listening is not None and not self._listening.done()

    async def send(self, method: str, *arguments: object, number: str = "", **more: object) -> str:
        """Send a call, and return its number.

        Parameters
        ----------
        method : str
            Of the framework.
        arguments : object
        number : str, optional
            Of the call; by default the next one.
        """
        self._number += 1
        number = number or f"rpc:test:{self._number}"
        call = {"wslink": "1.0", "id": number, "method": method, "args": list(arguments)}
        self._answers[number] = asyncio.get_running_loop().create_future()
        await self.socket.send_bytes(frame({**call, "kwargs": {}, **more}, number=self._number))
        return number

    async def call(self, method: str, *arguments: object, **more: Any) -> Answer:
        """Make a call and wait for its answer.

        Parameters
        ----------
        method : str
            Of the framework.
        arguments : object

        Raises
        ------
        TimeoutError
            If there is none in time.
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
        """Send the first calls of the browser's client, which fetch the state."""
        answer = await self.call("wslink.hello", {"secret": _SECRET}, number="system:c0:0")
        assert answer.result["clientID"]
        answer = await self.call("trame.state.get")
        self.state = dict(answer.result["state"])

    async def trigger(self, name: str, *arguments: object) -> Answer:
        """Call a method of the page, as its scripts do.

        Parameters
        ----------
        name : str
            Of the method.
        arguments : object
        """
        return await self.call("trame.trigger", name, list(arguments), {})

    async def closed(self) -> int | None:
        """Wait until the page has closed the socket, and return the close code."""
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
                    answer.exception()  # marks it as retrieved: nobody may wait for it
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
    """Request the address of a socket, as the framework's client does.

    Parameters
    ----------
    session : ClientSession
    address : str
        Origin of the page.
    headers : mapping of str to str
        Further headers.

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
    """Open a socket, by default with its greeting.

    Parameters
    ----------
    session : ClientSession
    address : str
        Origin of the page.
    headers : mapping of str to str
        Further headers.
    greet : bool, optional
        Whether to send the greeting.
    patience : float, optional
        Timeout of an answer, s.
    """
    place = await socket_place(session, address, headers)
    async with session.ws_connect(place, headers=headers, max_msg_size=0) as socket:
        wire = Wire(socket, patience)
        wire.listen()
        if greet:
            await wire.greet()
        yield wire
