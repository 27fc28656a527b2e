"""A page in this process, without a browser and without the processes that draw and work for it."""

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import AbstractAsyncContextManager, asynccontextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from aiohttp import ClientSession, web

from render.editor.desk import Desk
from render.measure.wire import Wire, connected
from render.page import app
from render.page.cards import cards
from render.page.photo import photo
from render.page.picture import picture, stages
from render.page.send import send
from render.page.server import guard
from render.page.server.listener import Connection
from render.page.server.proof import PROVEN
from render.page.server.roles import SESSION, Role, Session
from render.page.wish import wish
from scenes.files import samples

__all__ = ["COOKIE_ALONE", "ROLE", "IdleWorker", "Serve", "Served", "serving_in"]

ROLE = "Test-Role"
"""Header that says who asks, in place of a cookie: keys have tests of their own."""

COOKIE_ALONE = {"Test-Cookie-Alone": "1"}
"""Header of who has a session's cookie, and no page secret."""


class IdleWorker:
    """Stands for a process that works for the page: takes every message, and does nothing."""

    def __init__(self, *_: object, **__: object) -> None:
        self.running = False
        self.messages: list[object] = []

    def send(self, message: object) -> None:
        self.running = True
        self.messages.append(message)

    def close(self) -> None:
        self.running = False


@dataclass(slots=True)
class Served:
    """A page that is served.

    Parameters
    ----------
    page : app.Page
    folder : Path
        Of the design, the only one that the page may reach.
    address : str
    session : ClientSession
    said : list of str
        What it has told the person at the terminal.
    """

    page: app.Page
    folder: Path
    address: str
    session: ClientSession
    said: list[str]

    def client(
        self, role: Role = Role.OWNER, *, greet: bool = True
    ) -> AbstractAsyncContextManager[Wire]:
        """Open a socket as somebody."""
        return connected(self.session, self.address, headers={ROLE: role.value}, greet=greet)

    async def ask(
        self, method: str, path: str, role: Role | None = Role.OWNER, **given: Any
    ) -> tuple[int, str]:
        """Make a request as somebody."""
        headers = {ROLE: role.value} if role is not None else {}
        headers |= given.pop("headers", {})
        async with self.session.request(
            method, f"{self.address}{path}", headers=headers, allow_redirects=False, **given
        ) as answer:
            return answer.status, (await answer.read()).decode("utf-8", "replace")


Serve = Callable[..., AbstractAsyncContextManager[Served]]


def protect(application: web.Application) -> None:
    """Let in who says who he is."""

    @web.middleware
    async def check(request: web.Request, handler: Any) -> web.StreamResponse:
        # A browser sends cookies, also with a request for a socket.
        role = request.headers.get(ROLE) or request.cookies.get(ROLE)
        if role is None:
            return web.Response(status=403)
        session = Session(request.headers.get("Test-Name", role), Role(role))
        assert isinstance(request.protocol, Connection)
        request.protocol.admit(session)
        request[SESSION] = session
        request[PROVEN] = not COOKIE_ALONE.keys() & request.headers.keys()
        answer: web.StreamResponse = await handler(request)
        return answer

    application.middlewares.append(check)


def serving_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Serve:
    """Serve pages on a design of their own, with no processes beside them.

    Whoever asks says who he is, unless a page is served with ``keys``.
    """
    monkeypatch.setattr(app, "protect", protect)
    monkeypatch.setenv("TURNLIGHT_STATE", str(tmp_path / "state"))
    for module in (cards, photo, picture, send, stages, wish):
        monkeypatch.setattr(module, "WorkerProcess", IdleWorker)

    @asynccontextmanager
    async def serving(text: str | None = None, *, keys: bool = False) -> AsyncIterator[Served]:
        if keys:
            monkeypatch.setattr(app, "protect", guard.protect)
        folder = tmp_path / "designs"
        folder.mkdir(exist_ok=True)
        file = folder / "mine.toml"
        file.write_text(text or samples.text("half-scale"), encoding="utf-8")
        desk = Desk.open(str(file), within=folder)
        said: list[str] = []
        page = app.Page(desk, shared=False, announce=said.append)
        running = asyncio.get_running_loop().create_task(page.run(port=0, browser=False))
        # The port is known before the address with its key is announced.
        while not page.server.port or (keys and not any("key=" in line for line in said)):
            await asyncio.sleep(0.01)
            assert not running.done(), running.exception()
        async with ClientSession() as session:
            yield Served(page, folder, f"http://127.0.0.1:{page.server.port}", session, said)
        running.cancel()
        with suppress(asyncio.CancelledError):
            await running

    return serving
