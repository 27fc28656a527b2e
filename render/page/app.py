"""The page: Turnlight in the builder's browser.

One document on one desk, one picture of it, and the few processes that work for them. The page's
own process holds the document and answers clicks; it never draws and never waits.
"""

import asyncio
import logging
import os
import signal
import sys
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from importlib import resources
from pathlib import Path
from typing import Any

from aiohttp import web
from trame.app import get_server
from trame_client import module as trame_client
from trame_client.module import vue3

from render.page import bringing, cards, files, photographs, picture, send, side
from render.page.desk import Desk
from render.page.scratch import Scratch
from render.page.server.access import Access
from render.page.server.guard import protect
from scenes.state_folder import state_folder

__all__ = ["Page", "open_page"]

_LINGER = 900
"""Seconds that the server stays when no browser is left; what is not saved is kept."""

_SCRIPTS = ("page.js", "picture.js", "fields.js", "photographs.js", "cards.js", "files.js")
_STYLES = ("look.css", "picture.css", "send.css", "cards.css", "photographs.css")
_PLUGINS = (
    "turnlight_page",
    "turnlight_picture",
    "turnlight_fields",
    "turnlight_photographs",
    "turnlight_cards",
    "turnlight_files",
)
_PARTS = ("files", "cards", "picture", "side-button", "side", "send-button", "send")
"""Pieces of the page, each a file, put where the skeleton names them."""

_GUESTS_MAY = (
    "Whoever has that address can see and change the design, and open and save design files in "
    "its folder. Ctrl-C ends it."
)

_TITLE = '<tl-title :title="desk_title" :changed="desk_changed"></tl-title>'


class Page:
    """A page on one document.

    Parameters
    ----------
    desk : Desk
        The document.
    shared : bool
        Whether other machines on the network may use it.
    announce : callable
        Told what the person at the terminal must know.
    """

    def __init__(self, desk: Desk, *, shared: bool, announce: Callable[[str], None]) -> None:
        self.desk = desk
        self.server: Any = get_server(f"turnlight-{id(self)}", client_type="vue3")
        self.state: Any = self.server.state
        self._access: Access | None = None
        self._scratch = Scratch()
        self.folder = self._scratch.path
        self._shared = shared
        self._announce = announce
        self._ticking: list[Callable[[], None]] = []
        self._closing: list[Callable[[], None]] = []
        self._routes: list[web.RouteDef] = []
        self._bound: Any = None
        self.picture: picture.Picture
        self.office: send.Office
        self.state.trame__title = "Turnlight"
        self.state.trame__template_error = "<tl-lost></tl-lost>"
        self.state.page_said = ""
        # What one tab has open is no matter of another's.
        self.state.trame__client_only += ["send_open", "side_open"]
        # The picture first: after a change it is drawn while the rest of the page is told.
        for part in (picture, files, cards, bringing, photographs, side, send):
            part.furnish(self)
        self.state.trame__template_main = _whole()
        self.server.enable_module(trame_client)
        self.server.enable_module(
            {
                "scripts": [f"page/{name}" for name in _SCRIPTS],
                "styles": [f"page/{name}" for name in _STYLES],
                "vue_use": list(_PLUGINS),
            }
        )
        self.server.controller.on_server_bind.add(self._bind)
        self.server.controller.on_exception.add(self._went_wrong)

    def say(self, sentence: str) -> None:
        """Write a sentence in the page's last line, where it is also read aloud."""
        with self.state:
            self.state.page_said = sentence

    @property
    def watched(self) -> bool:
        """Whether a browser has the page open."""
        handlers = () if self._bound is None else self._bound._ws_handlers
        return any(one.connections for one in handlers)

    def on_tick(self, callback: Callable[[], None]) -> None:
        """Call back every second."""
        self._ticking.append(callback)

    def on_close(self, callback: Callable[[], None]) -> None:
        """Call back when the page goes down."""
        self._closing.append(callback)

    def add_route(
        self, path: str, handler: Callable[[web.Request], Any], method: str = "GET"
    ) -> None:
        """Answer requests for a path."""
        self._routes.append(web.route(method, path, handler))

    async def run(self, *, port: int, browser: bool) -> None:
        """Serve until stopped, or until nobody has looked for a while."""
        # The address of the command line is not for trame to read.
        os.environ["TRAME_ARGS"] = ""
        # Pictures are compressed already.
        os.environ["WSLINK_WS_COMPRESS"] = "0"
        ticker = asyncio.ensure_future(self._tick())
        try:
            self._access = Access(
                port, shared=self._shared, state=state_folder(), announce=self._announce
            )
            await self._served(browser)
        finally:
            ticker.cancel()
            try:
                if self._access is not None:
                    await self._access.close()
            finally:
                self.close()

    def close(self) -> None:
        """Let go of processes, files and the document."""
        for callback in reversed(self._closing):
            callback()
        self._scratch.close()

    async def _served(self, browser: bool) -> None:
        assert self._access is not None
        task = self.server.start(
            thread=True,
            exec_mode="task",
            open_browser=False,
            show_connection_info=False,
            timeout=_LINGER,
            backend="aiohttp",
        )
        ready = asyncio.ensure_future(_ready(self.server))
        done, _ = await asyncio.wait({task, ready}, return_when=asyncio.FIRST_COMPLETED)
        if task in done and not ready.done():
            ready.cancel()
            await task
        self._access.let_in(browser=browser)
        if self._shared:
            self._announce(f"{self._access.sharing()}\n{_GUESTS_MAY}")
        await task

    def _went_wrong(self, error: object) -> None:
        """Something here has a fault; wslink has told the terminal what."""
        if isinstance(error, ConnectionError):
            return  # a tab was closed in the middle of an answer
        self.say("That went wrong in Turnlight itself. Your work is kept; the terminal tells more.")

    async def _tick(self) -> None:
        while True:
            await asyncio.sleep(1)
            with self.state:
                for callback in self._ticking:
                    callback()

    def _bind(self, bound: Any) -> None:
        """Answer what is the page's own, before what trame serves."""
        self._bound = bound
        app: web.Application = bound.app
        protect(app)
        app.add_routes(
            [
                web.get("/", _index),
                web.get("/index.html", _index),
                web.get("/page/{name}", _asset),
                web.post("/session", _session),
                *self._routes,
            ]
        )
        bound.start = partial(self._serve, bound)

    async def _serve(self, bound: Any, port_callback: Callable[[int], None]) -> None:
        """Serve by the listeners of `Access`, in place of wslink's own, which has no limits."""
        assert self._access is not None
        bound.app.add_routes(bound._default_routes)
        bound._runner = await self._access.start(bound.app)
        port_callback(self._access.owner.port)
        bound.shutdown_schedule()
        await bound.completion


def _read(name: str) -> str:
    return (resources.files("render.page") / name).read_text(encoding="utf-8")


def _whole() -> str:
    """Put the page together."""
    text = _read("shell.html")
    for part in _PARTS:
        mark = f"<!-- {part} -->"
        text = text.replace(mark, _read(f"{part}.html"))
    return f'<div class="whole">{_TITLE}{text}</div>'


async def _index(_: web.Request) -> web.Response:
    """The page's first lines; trame's own name another program and its makers."""
    client = Path(vue3.www) / "assets"
    script = next(client.glob("index-*.js")).name
    text = _read("index.html").replace("{script}", f"assets/{script}")
    return web.Response(text=text, content_type="text/html")


async def _session(request: web.Request) -> web.Response:
    """Tell trame's client where its socket is, which it asks for first."""
    scheme = "wss" if request.secure else "ws"
    return web.json_response({"sessionURL": f"{scheme}://USE_HOST/ws"})


async def _asset(request: web.Request) -> web.StreamResponse:
    name = request.match_info["name"]
    if name not in (*_SCRIPTS, *_STYLES):
        raise web.HTTPNotFound
    kind = "text/css" if name.endswith(".css") else "text/javascript"
    return web.Response(text=_read(name), content_type=kind, headers={"Cache-Control": "no-cache"})


async def _ready(server: Any) -> None:
    await server.ready


def _worth_telling(_: logging.LogRecord) -> bool:
    """Keep from the terminal that a tab was closed in the middle of an answer."""
    return not isinstance(sys.exc_info()[1], ConnectionError)


def _unless_closed(loop: asyncio.AbstractEventLoop, context: dict[str, Any]) -> None:
    """Keep from the terminal that a picture could not be sent to a tab that was closed."""
    if not isinstance(context.get("exception"), ConnectionError):
        loop.default_exception_handler(context)


def open_page(
    desk: Desk,
    *,
    shared: bool = False,
    port: int = 0,
    browser: bool = True,
    announce: Callable[[str], None],
) -> None:
    """Open a page on a document, and return when it is closed.

    Parameters
    ----------
    desk : Desk
    shared : bool
        Let other machines on the network use it too.
    port : int
        0 for one that is free.
    browser : bool
        Open it in the browser.
    announce : callable
        Told what the person at the terminal must know.

    Raises
    ------
    RequestProblem
        If the port cannot be used.
    """

    async def serve() -> None:
        loop = asyncio.get_running_loop()
        me = asyncio.current_task()
        assert me is not None
        ends = ("SIGINT", "SIGTERM", "SIGHUP")
        for name in ends if sys.platform != "win32" else ():
            loop.add_signal_handler(getattr(signal, name), me.cancel)
        loop.set_exception_handler(_unless_closed)
        logging.getLogger("wslink.protocol").addFilter(_worth_telling)
        page = Page(desk, shared=shared, announce=announce)
        with suppress(asyncio.CancelledError):
            await page.run(port=port, browser=browser)

    asyncio.run(serve())
