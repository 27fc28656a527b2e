"""Visitors of the page in a soak: the builder, a second tab, guests and strangers."""

import asyncio
import math
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field

import aiohttp
from yarl import URL

from render.measure.page_client import PageClient, PageError, Refusal
from scenes.parts.layer import Role

__all__ = ["Builder", "editing_guest", "guest", "second_tab", "strangers"]

_SIZES = ((360, 220), (420, 240))
"""Sizes of the picture, pixels: small, so that most of the time is spent in the page."""

_LIGHTS = ("soft boxes", "north window", "workshop lamp")
_GAPS = (15, 16, 18, 21, 24, 26, 22, 20)
_STEPS = 24
"""Number of pictures in one turn of the rod."""

_SENDS = (
    ("still", ".png", "message"),
    ("bench sheet", ".pdf", "A4"),
    ("mesh", ".glb", "draft"),
    ("template", ".pdf", "letter"),
)
_DISMISSED = 5
"""Every nth result is dismissed; the page drops the others by itself."""

_CANCELLED = ("turntable", ".gif", "message")

_REFUSED: tuple[tuple[str, list[object]], ...] = (
    ("no_such_thing", []),
    ("pic_turn", [math.nan, False, False]),
    ("pic_turn", ["round and round", True, False]),
    ("pic_hello", [math.inf, -1, 0, 0]),
    ("desk_change", ["relief.gap", {"deep": [[[]]]}]),
    ("desk_change", []),
    ("send_choose", ["../../secret", ".exe", "huge"]),
    ("form_opened", [[None] * 100]),
)
"""Calls that must be refused or have no effect."""

_NOT_FOR_GUESTS: tuple[tuple[str, list[object]], ...] = (
    ("desk_change", ["finish.coats", 1]),
    ("desk_undo", []),
    ("file_save", [True]),
    ("file_open", ["other.toml", True]),
    ("file_places", []),
    ("send_make", []),
)

_SILENT = 6
"""Number of connections that send nothing."""


@dataclass(slots=True)
class Builder:
    """The builder, who uses every part of the page.

    Parameters
    ----------
    tab : PageClient
        The builder's tab.
    """

    tab: PageClient
    _sent: int = field(default=0)

    async def arrive(self) -> None:
        """Open the page: subscribe to pictures, and open all cards."""
        await self._announce_size(0)
        await self.tab.do("pic_frames")
        await self.tab.do("form_opened", [card["id"] for card in self.tab.state["form_cards"]])
        await self.tab.picture()

    async def work(self, number: int) -> None:
        """Use everything once; afterwards the design is as before.

        Parameters
        ----------
        number : int
            Of the round, from 1.

        Raises
        ------
        PageError
        Refusal
        """
        await self._edit(number)
        await self._turn()
        await self._look(number)
        await self._save(number)
        await self._send()
        await self._rest()

    async def _edit(self, number: int) -> None:
        """Drag a slider, change the finish and add a layer, then undo, redo and undo all of it."""
        tab = self.tab
        steps = 0
        for gap in _GAPS:
            await self._must_do("desk_change", "relief.gap", gap, f"soak-{number}")
        await self._must_do("desk_settle")
        steps += 1
        await self._must_do("desk_change", "finish.coats", 2 + number % 2)
        steps += 1
        # Whether a layer is refused depends on the design; an answer must come in any case.
        kinds = tab.state["form_kinds"]
        cover = next(kind["kind"] for kind in kinds if kind["role"] == Role.COVER)
        added = await tab.do("desk_add_layer", cover)
        steps += not added["problem"]
        for _ in range(steps):
            await self._must_do("desk_undo")
        for _ in range(steps):
            await self._must_do("desk_redo")
        for _ in range(steps):
            await self._must_do("desk_undo")
        await tab.picture()

    async def _turn(self) -> None:
        """Turn the rod once by dragging."""
        for step in range(_STEPS + 1):
            await self.tab.do("pic_turn", step * 360 / _STEPS, step < _STEPS, True)
            await asyncio.sleep(1 / 30)
        # For a moment fine pictures of the turn are prepared, as for an idle viewer.
        await self.tab.do("pic_hold", False)
        await asyncio.sleep(1)
        await self.tab.do("pic_hold", True)

    async def _look(self, number: int) -> None:
        """Change the light and the size of the window."""
        before = self.tab.frames
        light = next(light for light in _LIGHTS if light != self.tab.state["pic_look"]["light"])
        await self.tab.do("pic_look", {"light": light}, False)
        before = await self.tab.picture(before)
        await self.tab.do("pic_look", {"light": _LIGHTS[0]}, False)
        before = await self.tab.picture(before)
        await self._announce_size(1)
        before = await self.tab.picture(before)
        await self._announce_size(0)
        await self.tab.picture(before)

    async def _save(self, number: int) -> None:
        """Save the design; every fourth time under another name and back."""
        await self._must_do("file_save", True)
        if number % 4 == 0:
            await self._must_do("file_save_as", "other.toml", True)
            await self._must_do("file_save_as", "mine.toml", True)

    async def _send(self) -> None:
        """Make one file and fetch it; begin another one and cancel it."""
        tab = self.tab
        kind, ending, size = _SENDS[self._sent % len(_SENDS)]
        self._sent += 1
        await tab.do("send_choose", kind, ending, size)
        before = {file["number"] for file in tab.state["send_done"]}
        await tab.do("send_make")
        await tab.until(
            f"a {kind}",
            lambda state: (
                {file["number"] for file in state["send_done"]} - before or state["send_problem"]
            ),
        )
        if problem := tab.state["send_problem"]:
            raise PageError(f"A {kind} could not be made: {problem}")
        status = await tab.get(tab.state["send_done"][0]["url"])
        if status != 200:
            raise PageError(f"A {kind} that was made is answered with status {status}.")
        if self._sent % _DISMISSED == 0:
            await tab.do("send_dismiss", tab.state["send_done"][0]["number"])
        await tab.do("send_choose", *_CANCELLED)
        await tab.do("send_make")
        await tab.until("a thing being made", lambda state: state["send_jobs"])
        for job in tab.state["send_jobs"]:
            await tab.do("send_cancel", job["number"])
        await tab.until("nothing being made", lambda state: not state["send_jobs"])

    async def _rest(self) -> None:
        """Wait until the page is idle."""
        await self.tab.until("the bench's figures", lambda state: state["form_bench"]["fresh"])
        await self.tab.picture()

    async def _announce_size(self, which: int) -> None:
        await self.tab.do("pic_hello", *_SIZES[which], 1.0, 0.0)
        # Without the ring of fine pictures, which would take all of the time.
        await self.tab.do("pic_hold", True)

    async def _must_do(self, name: str, *arguments: object) -> None:
        answer = await self.tab.do(name, *arguments)
        if answer["problem"]:
            raise PageError(f"{name} was not done: {answer['problem']}")


async def second_tab(
    http: aiohttp.ClientSession, origin: URL, headers: Mapping[str, str] | None = None
) -> None:
    """Open another tab, make calls that must be refused, and close it during calls.

    Parameters
    ----------
    http : aiohttp.ClientSession
        Session of a client.
    origin : URL
        Of the page.
    headers : mapping of str to str, optional
        Further headers.
    """
    async with PageClient.open(http, origin, headers) as tab:
        await tab.do("pic_frames")
        for name, arguments in _REFUSED:
            with suppress(Refusal):
                await tab.do(name, *arguments)
        await tab.do("pic_turn", 0.0, False, False)
        leaving = [asyncio.ensure_future(tab.do("file_samples")) for _ in range(3)]
        await asyncio.sleep(0)
    await asyncio.gather(*leaving, return_exceptions=True)


async def guest(
    http: aiohttp.ClientSession, origin: URL, headers: Mapping[str, str] | None = None
) -> None:
    """Turn the rod as a guest on a tablet, and call methods that only the builder may.

    Parameters
    ----------
    http : aiohttp.ClientSession
        Session of a client.
    origin : URL
        Of the page.
    headers : mapping of str to str, optional
        Further headers.

    Raises
    ------
    PageError
        If such a call is not refused.
    """
    async with PageClient.open(http, origin, headers) as tab:
        await tab.do("pic_turn", 30.0, False, False)
        await tab.do("pic_turn", 0.0, False, False)
        for name, arguments in _NOT_FOR_GUESTS:
            try:
                await tab.do(name, *arguments)
            except Refusal:
                continue
            raise PageError(f"{name} was done for a guest.")


async def editing_guest(
    owner: PageClient,
    http: aiohttp.ClientSession,
    origin: URL,
    headers: Mapping[str, str] | None = None,
) -> None:
    """Let guests edit; one guest changes the design and undoes it; then forbid it again.

    Parameters
    ----------
    owner : PageClient
        Tab of the builder.
    http : aiohttp.ClientSession
        Session of a client.
    origin : URL
        Of the page.
    headers : mapping of str to str, optional
        Further headers.
    """
    await owner.do("guests_edit", True)
    async with PageClient.open(http, origin, headers) as tab:
        for name, arguments in (("desk_change", ["finish.coats", 1]), ("desk_undo", [])):
            if problem := (await tab.do(name, *arguments))["problem"]:
                raise PageError(f"{name} was not done for a guest who may: {problem}")
    await owner.do("guests_edit", False)


async def strangers(origin: URL) -> None:
    """Try to get in without a key: addresses, origins, a socket, and silent connections.

    Parameters
    ----------
    origin : URL
        Of the page.

    Raises
    ------
    PageError
        If one succeeds.
    """
    silent = [await asyncio.open_connection(origin.host, origin.port) for _ in range(_SILENT)]
    async with aiohttp.ClientSession() as http:
        tries: list[tuple[str, str, dict[str, str]]] = [
            ("GET", "/", {}),
            ("GET", "/?key=not-the-key", {}),
            ("GET", "/sent/1/../../secret", {}),
            ("POST", "/session", {"Origin": "http://example.org"}),
            ("POST", "/beside?path=x&name=y", {"Cookie": "turnlight=x"}),
            ("GET", "/ws/x", {"Connection": "Upgrade", "Upgrade": "websocket"}),
            ("GET", "/", {"Host": "example.org"}),
        ]
        for method, path, headers in tries:
            target = origin.join(URL(path, encoded=True))
            async with http.request(method, target, headers=headers) as answer:
                if answer.status < 400:
                    raise PageError(f"{method} {path} without a key was let in.")
    for reader, writer in silent:
        writer.write(b"GET")
        writer.close()
        with suppress(OSError):
            await writer.wait_closed()
        del reader
