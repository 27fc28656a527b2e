"""A client of the page's socket that speaks its wire format, well or badly."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from typing import Any

import msgpack
from aiohttp import ClientSession, ClientWebSocketResponse, WSMsgType

__all__ = ["Answer", "Wire", "connected", "frame"]

PATIENCE = 8.0
"""Seconds in which an answer must have come."""


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
    """

    socket: ClientWebSocketResponse
    state: dict[str, Any] = field(default_factory=dict)
    pushed: list[dict[str, Any]] = field(default_factory=list)
    pictures: list[dict[str, Any]] = field(default_factory=list)
    _parts: dict[int, bytearray] = field(default_factory=dict)
    _answers: dict[str, asyncio.Future[dict[str, Any]]] = field(default_factory=dict)
    _number: int = 0
    _listening: asyncio.Task[None] | None = None

    def listen(self) -> None:
        """Take what comes, from now on."""
        self._listening = asyncio.get_running_loop().create_task(self._listen())

    async def send(self, method: str, *arguments: object, number: str = "", **more: object) -> str:
        """Send a call; give its number."""
        self._number += 1
        number = number or f"rpc:test:{self._number}"
        call = {"wslink": "1.0", "id": number, "method": method, "args": list(arguments)}
        self._answers[number] = asyncio.get_running_loop().create_future()
        await self.socket.send_bytes(frame({**call, "kwargs": {}, **more}, number=self._number))
        return number

    async def call(self, method: str, *arguments: object, **more: Any) -> Answer:
        """Make a call and wait for its answer."""
        number = await self.send(method, *arguments, **more)
        whole = await asyncio.wait_for(self._answers[number], PATIENCE)
        del self._answers[number]
        error = whole.get("error")
        return Answer(whole.get("result"), "" if error is None else error["message"], whole)

    async def greet(self) -> None:
        """Begin as the page does."""
        hello = {"secret": "wslink-secret"}
        answer = await self.call("wslink.hello", hello, number="system:c0:0")
        assert answer.result["clientID"]
        answer = await self.call("trame.state.get")
        self.state = dict(answer.result["state"])

    async def trigger(self, name: str, *arguments: object) -> Answer:
        """Ask for something as the page's scripts do."""
        return await self.call("trame.trigger", name, list(arguments), {})

    async def closed(self) -> int | None:
        """Wait until the program has closed the socket."""
        assert self._listening is not None
        await asyncio.wait_for(self._listening, PATIENCE)
        return self.socket.close_code

    async def _listen(self) -> None:
        async for message in self.socket:
            if message.type is not WSMsgType.BINARY:
                continue
            number, _, whole = (
                int.from_bytes(message.data[place : place + 4], "little") for place in (0, 4, 8)
            )
            data = self._parts.setdefault(number, bytearray())
            data += message.data[12:]
            if len(data) == whole:
                self._take(msgpack.unpackb(bytes(self._parts.pop(number))))

    def _take(self, message: dict[str, Any]) -> None:
        number = message["id"]
        if number in self._answers:
            self._answers[number].set_result(message)
        elif number.startswith("publish:trame.state.topic:"):
            self.pushed.append(message["result"])
            self.state.update(message["result"])
        elif number.startswith("publish:turnlight.frame:"):
            self.pictures.append(message["result"])


@asynccontextmanager
async def connected(
    session: ClientSession, address: str, *, headers: dict[str, str], greet: bool = True
) -> AsyncIterator[Wire]:
    """Open a socket, and greet."""
    async with session.ws_connect(address, headers=headers, max_msg_size=0) as socket:
        wire = Wire(socket)
        wire.listen()
        if greet:
            await wire.greet()
        yield wire
