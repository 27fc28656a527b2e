"""A small application behind the page's own access, served in the test's own loop."""

import asyncio
import http.client
import io
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from aiohttp import web

from render.page.server import limited_log
from render.page.server.access import Access
from render.page.server.guard import protect
from render.page.server.roles import SESSION
from tests.render.page.server.serving import Serve, serving_in

__all__ = ["UPGRADE", "Answer", "Served", "ask", "served"]


UPGRADE = (
    "Upgrade: websocket",
    "Connection: Upgrade",
    "Sec-WebSocket-Version: 13",
    "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==",  # RFC 6455, section 1.3
)
"""Headers that ask for a websocket."""


@dataclass(slots=True)
class Answer:
    """What came back for a request.

    Parameters
    ----------
    status : int
        0 if the connection was closed without an answer.
    headers : http.client.HTTPMessage
        Of any case.
    body : str
    """

    status: int
    headers: Any
    body: str


async def ask(port: int, request: bytes, host: str = "127.0.0.1", **tls: Any) -> Answer:
    """Send bytes and read until the server closes."""
    reader, writer = await asyncio.open_connection(host, port, **tls)
    writer.write(request)
    try:
        data = await asyncio.wait_for(reader.read(), 60)
    except ConnectionError:
        data = b""
    writer.close()
    head, _, body = data.partition(b"\r\n\r\n")
    if not head:
        return Answer(0, {}, "")
    first, _, fields = head.partition(b"\r\n")
    headers = http.client.parse_headers(io.BytesIO(fields + b"\r\n\r\n"))
    return Answer(int(first.split()[1]), headers, body.decode("utf-8", "replace"))


@dataclass(slots=True)
class Served:
    """The application, being served.

    Parameters
    ----------
    access : Access
    said : list of str
        What it has told the person at the terminal.
    """

    access: Access
    said: list[str] = field(default_factory=list)

    @property
    def port(self) -> int:
        return self.access.owner.port

    def key(self) -> str:
        """Give the key of the newest address on the terminal."""
        newest = [sentence for sentence in self.said if "?key=" in sentence][-1]
        return newest.partition("?key=")[2].split()[0]

    async def get(
        self,
        path: str = "/",
        *headers: str | bytes,
        method: str = "GET",
        host: str | None = None,
        port: int = 0,
        **tls: Any,
    ) -> Answer:
        """Ask for a path; headers as they are sent."""
        port = port or self.port
        lines = [
            f"{method} {path} HTTP/1.1",
            f"Host: {host or f'127.0.0.1:{port}'}",
            "Connection: close",
            *headers,
        ]
        text = b"\r\n".join(one if isinstance(one, bytes) else one.encode() for one in lines)
        return await ask(port, text + b"\r\n\r\n", **tls)

    async def enter(self) -> str:
        """Begin a session as a browser does; give the header with its cookie."""
        answer = await self.get(f"/?key={self.key()}")
        assert answer.status == 200, answer
        return "Cookie: " + answer.headers["Set-Cookie"].partition(";")[0]


async def _tell_role(request: web.Request) -> web.Response:
    return web.Response(text=f"role {request[SESSION].role.value}")


async def _fail(_: web.Request) -> web.Response:
    raise RuntimeError("a fault")


async def _talk(request: web.Request) -> web.WebSocketResponse:
    socket = web.WebSocketResponse(timeout=0.05)  # the test's client answers no close
    await socket.prepare(request)
    await socket.send_str("welcome")
    await socket.close()
    return socket


@asynccontextmanager
async def served(
    state: Path, *, shared: bool = False, browser: bool = False
) -> AsyncIterator[Served]:
    """Serve, let the builder in, and close everything at the end."""
    said: list[str] = []
    app = web.Application()
    protect(app)
    app.add_routes(
        [
            web.get("/", _tell_role),
            web.post("/", _tell_role),
            web.delete("/", _tell_role),
            web.get("/fail", _fail),
            web.get("/socket", _talk),
        ]
    )
    access = Access(0, shared=shared, state=state, announce=said.append)
    try:
        await access.start(app)
        access.let_in(browser=browser)
        yield Served(access, said)
    finally:
        await access.close()


@pytest.fixture(autouse=True)
def every_line(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let each test see the first line of each kind in the log, whatever others caused."""
    from render.page.server import guard, listener

    for module in (guard, listener):
        name = module._log._logger.name
        monkeypatch.setattr(module, "_log", limited_log.LimitedLog(name))


@pytest.fixture
def serve(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Serve:
    """Serve the whole page, without a browser and without the processes that work for it."""
    return serving_in(tmp_path, monkeypatch)
