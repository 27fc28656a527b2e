"""The page: Turnlight in the builder's browser.

It holds one document, one picture of it, and the worker processes for both. The page's own process
edits the document and answers requests; it never draws and never blocks.

The framework is trame (Vue 3): templates in plain `.html`, components in plain `.js`, no build
step, nothing from another host. Each feature is a folder with a function `attach`, which declares
its methods and addresses with the right that each needs (`render.page.server.roles`). The answer to
a method arrives before the changed state: it carries the `revision` at which the cards show the
change. In the browser `window.turnlight` holds what is shown (epoch, turn, grade) and how full the
ring is, and `turnlight_fields.idle()` waits for requests under way: tests wait for these
conditions, never for a time.
"""

import asyncio
import os
import signal
import sys
from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext, suppress
from functools import partial
from importlib import resources
from itertools import count
from pathlib import Path
from typing import Any

from aiohttp import web
from trame.app import get_server
from trame_client import module as trame_client
from trame_client.module import vue3

from render.browser.scripts import drawing_script_of_page
from render.editor.designs import refuse_unsendable
from render.editor.desk import Desk
from render.page.answer import answer
from render.page.cards import cards, wraps
from render.page.charts import charts
from render.page.compare.compare import Side
from render.page.compare.variants import Variants
from render.page.files import files
from render.page.palettes import palettes
from render.page.photo import photo
from render.page.picture import picture, stages
from render.page.scratch import Scratch
from render.page.send import send
from render.page.server.access import Access
from render.page.server.guard import protect
from render.page.server.limited_log import LimitedLog
from render.page.server.methods import Methods
from render.page.server.proof import Proof
from render.page.server.roles import Right
from render.page.server.routes import Routes
from render.page.server.sharing import Sharing
from render.page.server.sockets import Client, Sockets
from render.page.server.statuses import Statuses
from render.page.start import start
from render.page.uploads import photographs, uploads
from render.page.wish import wish
from scenes.design.field_words import in_words
from scenes.files.state_folder import state_folder

__all__ = ["Page", "open_page"]

_LINGER = 900
"""Seconds after which the server ends without any browser; unsaved work is kept."""

_FEW_CORES = 2
"""Cores that the browser and one worker keep busy while the page loads."""

_BEAT_PERIOD = 3.0
"""Seconds between two messages to each browser, whose page waits three times as long for one."""

_SCRIPTS = (
    "page.js",
    "picture/ring.js",
    "picture/gestures.js",
    "picture/freshness.js",
    "picture/browser_picture.js",
    "picture/unrolled_sheet.js",
    "picture/unrolled.js",
    "picture/viewbar.js",
    "photo/photo.js",
    "picture/picture.js",
    "cards/hues.js",
    "cards/fields.js",
    "cards/pickers.js",
    "cards/thread_strip.js",
    "cards/lists.js",
    "cards/profile.js",
    "cards/wraps.js",
    "guides/guides.js",
    "uploads/photographs.js",
    "compare/variants.js",
    "cards/shelf.js",
    "send/send.js",
    "cards/cards.js",
    "start/start.js",
    "answer/answer.js",
    "files/files.js",
    "wish/wish.js",
    "palettes/palettes.js",
    "charts/charts.js",
)
_STYLES = (
    "layout.css",
    "picture/picture.css",
    "picture/unrolled.css",
    "photo/photo.css",
    "send/send.css",
    "files/files.css",
    "start/start.css",
    "answer/answer.css",
    "cards/cards.css",
    "cards/fields.css",
    "guides/guides.css",
    "uploads/uploads.css",
    "uploads/photographs.css",
    "wish/wish.css",
    "palettes/palettes.css",
    "charts/charts.css",
)
_PLUGINS = (
    "turnlight_page",
    "turnlight_viewbar",
    "turnlight_photo_state",
    "turnlight_picture",
    "turnlight_unrolled",
    "turnlight_fields",
    "turnlight_pickers",
    "turnlight_thread_strip",
    "turnlight_lists",
    "turnlight_profile",
    "turnlight_wraps",
    "turnlight_guides",
    "turnlight_photographs",
    "turnlight_variants",
    "turnlight_shelf",
    "turnlight_send",
    "turnlight_cards",
    "turnlight_start",
    "turnlight_answer",
    "turnlight_files",
    "turnlight_wish",
    "turnlight_palettes",
    "turnlight_charts",
)
_PARTS = (
    "files/files",
    "server/sharing",
    "cards/cards",
    "picture/picture",
    "compare/side-button",
    "compare/side",
    "send/send-button",
    "send/send",
)
"""Templates of the page's parts, inserted where `shell.html` names them."""

_FIRST = ("setting_up.js", "server/entry.js")
"""Scripts that run before the framework's client."""

_DRAWING = "drawing.js"
"""Script of the browser's drawing, put together from the files of `render.browser`."""

_LOOK = "look.css"
"""Style of what is seen before the page's parts are there."""

_PARTS_SCRIPT, _PARTS_STYLE = "parts.js", "parts.css"
"""Scripts and styles of all parts under one name each: fifty requests were a quarter of the work
of loading the page."""

_NUMBERS = count(1)
"""Numbers for unique server names: the framework keeps every server by its name."""

_TAB_STATE = ["send_open", "side_open", "side_kept", "side_unkept", "side_values"]
"""State that the page's scripts write, separately in each tab; the program never reads it."""

GUESTS_MAY = (
    "Whoever has that address can see the design and its bench figures, turn the rod, choose "
    "light, card, finish and camera, and keep a design as A to see it beside the open one; your "
    "own view stays as it is. Nobody but you can open, save or send files, see what is in the "
    "folder, see prices, rates and costs, take up or throw away work that was not saved, or end "
    "Turnlight. Of the threads on your own shelf guests see those that the open design uses, "
    "without price and amount, and no others. Guests can change the open design only while you "
    'have ticked "Guests may change this design" on the page; they then choose among the threads '
    "that came with Turnlight and those that this design, its variants and what they keep as A "
    "use. Ctrl-C ends it."
)
"""Notice at the start about guests; the rights of methods and routes enforce it."""

_TITLE = '<tl-title :title="desk_title" :changed="desk_changed"></tl-title>'


class Page:
    """A page for one document.

    Parameters
    ----------
    desk : Desk
        The document.
    shared : bool
        Whether other machines on the network may use it.
    announce : callable
        Called with each sentence (str) for the person at the terminal.
    """

    def __init__(self, desk: Desk, *, shared: bool, announce: Callable[[str], None]) -> None:
        self.desk = desk
        self.server: Any = get_server(f"turnlight-{next(_NUMBERS)}", client_type="vue3")
        self.state: Any = self.server.state
        self._access: Access | None = None
        self._scratch = Scratch()
        self.folder = self._scratch.path
        self._shared = shared
        self._announce = announce
        self._ticking: list[Callable[[], None]] = []
        self._closing: list[Callable[[], None]] = []
        log = LimitedLog("turnlight.page")
        self.methods = Methods(self._method_context)
        self.sharing = Sharing(self.state, shared=shared)
        self.sharing.declare(self.methods)
        self.routes = Routes(self.sharing.rights_of, log)
        self.sockets = Sockets(self.state, self.methods, self.sharing.rights_of, log)
        self.sockets.on_fault(self._went_wrong)
        self._statuses = Statuses(self.sockets)
        # Before the parts learn of a change, and show sentences of their own.
        desk.on_change(self._statuses.clear)
        self.sharing.on_change(self.sockets.rights_changed)
        self.state.trame__title = "Turnlight"
        self.state.trame__template_error = "<tl-lost></tl-lost>"
        # Open dialogs and typed text belong to one tab; clients write no other state at all.
        self.state.trame__client_only += _TAB_STATE
        # The picture first: after a change it is drawn while the other parts update their state.
        self.picture = picture.attach(self)
        self.stages = stages.attach(self, self.picture)
        start.attach(self, files.attach(self))
        self.cards = cards.attach(self, self.picture)
        for part in (wraps, uploads, photographs, charts, wish, palettes):
            part.attach(self)
        self.exports = send.attach(self, self.picture)
        self.photos = photo.attach(self, self.picture)
        answer.attach(self)
        Variants(self, Side(self, self.picture, self.exports))
        self.state.trame__template_main = _whole()
        self.server.enable_module(trame_client)
        self.server.enable_module(
            {
                "scripts": [f"page/{name}" for name in (_DRAWING, _PARTS_SCRIPT)],
                "styles": [f"page/{_PARTS_STYLE}"],
                "vue_use": list(_PLUGINS),
            }
        )
        self._declare_own_routes()
        self.server.controller.on_server_bind.add(self._bind)

    @property
    def sending(self) -> bool:
        """Whether anything is being made to send, or photographed."""
        return self.exports.busy or self.photos.busy

    def show_status(
        self, sentence: str, *, client: Client | None = None, guests: bool = False
    ) -> None:
        """Show a sentence in the status line, which screen readers read aloud.

        It lasts until the next sentence or the next change of the design.

        Parameters
        ----------
        sentence : str
        client : Client, optional
            Client that has done what the sentence is about, and alone sees it; all tabs of the
            owner by default.
        guests : bool
            Whether guests see it too; not for sentences about files.
        """
        if client is None:
            self._statuses.show(in_words(sentence), guests=guests)
        else:
            self._statuses.show_to(client, in_words(sentence))

    @property
    def status(self) -> str:
        """The sentence in the status line of all tabs of the owner."""
        return self._statuses.of_owner

    @property
    def watched(self) -> bool:
        """Whether a browser has the page open."""
        return self.sockets.watched

    def on_tick(self, callback: Callable[[], None]) -> None:
        """Register a callback for every second.

        Parameters
        ----------
        callback : callable
            Called without arguments.
        """
        self._ticking.append(callback)

    def on_close(self, callback: Callable[[], None]) -> None:
        """Register a callback for the end of the page.

        Parameters
        ----------
        callback : callable
            Called without arguments.
        """
        self._closing.append(callback)

    async def run(self, *, port: int, browser: bool) -> None:
        """Serve until stopped, or until no browser has been connected for a while.

        Parameters
        ----------
        port : int
            0 for a free one.
        browser : bool
            Open the page in the builder's browser.
        """
        # trame must not read our command line, and its own socket and files, which have no rights,
        # must not be served.
        os.environ["TRAME_ARGS"] = "--no-ws-endpoint --no-http"
        # Pictures are compressed already.
        os.environ["WSLINK_WS_COMPRESS"] = "0"
        ticker = asyncio.ensure_future(self._tick())
        beats = asyncio.ensure_future(self._beat())
        try:
            self._access = Access(
                port, shared=self._shared, state=state_folder(), announce=self._announce
            )
            await self._served(browser)
        finally:
            ticker.cancel()
            beats.cancel()
            try:
                if self._access is not None:
                    await self._access.close()
            finally:
                self.close()

    def close(self) -> None:
        """Release processes, files and the document."""
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
        if browser:
            # They load what they need while the browser opens and loads the page. The first frames
            # come from the render worker, which the other would only slow on two cores.
            self.picture.start_worker()
            if (os.cpu_count() or 1) > _FEW_CORES:
                self.stages.start_worker()
        self._access.let_in(browser=browser)
        if self._shared:
            self._announce(f"{self._access.sharing()}\n{GUESTS_MAY}")
        await task

    def _method_context(self, client: Client) -> AbstractContextManager[None]:
        """Context in which a client's method runs: a guest may edit fields, but not file names."""
        if client.is_owner:
            return nullcontext()
        pin = self.picture.view_of(client).pin
        return self.desk.files_protected(() if pin is None else (pin.whole,))

    def _went_wrong(self) -> None:
        """Show that the program has a fault, which has been logged to the terminal."""
        self.show_status(
            "That went wrong in Turnlight itself. Your work is kept; the terminal tells more."
        )

    async def _tick(self) -> None:
        while True:
            await asyncio.sleep(1)
            with self.state:
                for callback in self._ticking:
                    callback()

    async def _beat(self) -> None:
        while True:
            await asyncio.sleep(_BEAT_PERIOD)
            self.sockets.beat()

    def _bind(self, bound: Any) -> None:
        """Install the declared routes and methods, and nothing of trame's own."""
        if self.server.controller._triggers:
            raise RuntimeError("A trigger of trame's own knows no rights; declare a method.")
        app: web.Application = bound.app
        protect(app)
        self.sockets.install(self.server.protocol, bound, app)
        self.routes.install(app)
        bound.start = partial(self._serve, bound)

    async def _serve(self, bound: Any, port_callback: Callable[[int], None]) -> None:
        """Serve by the listeners of `Access`; wslink's own listener has no limits."""
        assert self._access is not None
        bound._runner = await self._access.start(bound.app)
        port_callback(self._access.owner.port)
        bound.shutdown_schedule()
        await bound.completion

    def _declare_own_routes(self) -> None:
        client = Path(vue3.www)
        declare = self.routes.declare
        declare("/", Right.LOOK, _index, proof=Proof.NONE)
        declare("/index.html", Right.LOOK, _index, proof=Proof.NONE)
        declare("/page/{name}", Right.LOOK, _asset, proof=Proof.NONE)
        declare("/session", Right.LOOK, self.sockets.issue_socket_address, "POST")
        declare("/ws/{ticket}", Right.LOOK, self.sockets.serve_socket, proof=Proof.ADDRESS)
        for file in (client / "vue.global.js", _client_script()):
            declare(f"/{file.relative_to(client)}", Right.LOOK, _served(file), proof=Proof.NONE)


def _read(name: str) -> str:
    return (resources.files("render.page") / name).read_text(encoding="utf-8")


def _whole() -> str:
    """Compose the page's template from those of its parts."""
    text = _read("shell.html")
    for part in _PARTS:
        mark = f"<!-- {Path(part).name} -->"
        text = text.replace(mark, _read(f"{part}.html"))
    return f'<div class="whole">{_TITLE}{text}</div>'


async def _index(_: web.Request) -> web.Response:
    """The page's HTML; trame's own names another program and its makers."""
    text = _read("index.html").replace("{script}", f"assets/{_client_script().name}")
    return web.Response(text=text, content_type="text/html")


def _client_script() -> Path:
    """Path of the script of the framework's client."""
    return next((Path(vue3.www) / "assets").glob("index-*.js"))


def _served(file: Path) -> Callable[[web.Request], Any]:
    async def answer(_: web.Request) -> web.StreamResponse:
        return web.FileResponse(file, headers={"Cache-Control": "no-cache"})

    return answer


def _script_of_parts() -> str:
    """The scripts of all parts, each in a function: a file is strict where it says so itself."""
    return "".join(f"(() => {{\n{_read(path)}\n}})();\n" for path in _SCRIPTS)


_SERVED: dict[str, Callable[[], str]] = {
    **{Path(path).name: partial(_read, path) for path in _FIRST},
    _LOOK: partial(_read, _LOOK),
    _DRAWING: drawing_script_of_page,
    _PARTS_SCRIPT: _script_of_parts,
    _PARTS_STYLE: lambda: "".join(map(_read, _STYLES)),
}
"""Texts of scripts and styles by the name under which the browser asks for them."""


async def _asset(request: web.Request) -> web.StreamResponse:
    name = request.match_info["name"]
    if name not in _SERVED:
        raise web.HTTPNotFound
    text = _SERVED[name]()
    kind = "text/css" if name.endswith(".css") else "text/javascript"
    return web.Response(text=text, content_type=kind, headers={"Cache-Control": "no-cache"})


async def _ready(server: Any) -> None:
    await server.ready


def _unless_closed(loop: asyncio.AbstractEventLoop, context: dict[str, Any]) -> None:
    """Ignore failures to send a picture to a tab that was closed."""
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
    """Open a page for a document, and return when it is closed.

    Parameters
    ----------
    desk : Desk
        The document.
    shared : bool
        Let other machines on the network use it too.
    port : int
        0 for a free one.
    browser : bool
        Open the page in the builder's browser.
    announce : callable
        Called with each sentence (str) for the person at the terminal.

    Raises
    ------
    DesignProblem
        If the document's path contains bytes that are no text.
    RequestProblem
        If the port cannot be used.
    """
    if desk.path is not None:
        refuse_unsendable(desk.path.absolute())

    async def serve() -> None:
        loop = asyncio.get_running_loop()
        me = asyncio.current_task()
        assert me is not None
        ends = ("SIGINT", "SIGTERM", "SIGHUP")
        for name in ends if sys.platform != "win32" else ():
            loop.add_signal_handler(getattr(signal, name), me.cancel)
        loop.set_exception_handler(_unless_closed)
        page = Page(desk, shared=shared, announce=announce)
        with suppress(asyncio.CancelledError):
            await page.run(port=port, browser=browser)

    asyncio.run(serve())
