"""What the soak does at the page: as its builder, as a second tab, and as strangers."""

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

_PLACES = ((360, 220), (420, 240))
"""Sizes of the picture's place, pixels: small, so that most of the time goes into the page."""

_LIGHTS = ("soft boxes", "north window", "workshop lamp")
_GAPS = (15, 16, 18, 21, 24, 26, 22, 20)
_STEPS = 24
"""Pictures of the rod that is turned once."""

_SENDS = (
    ("still", ".png", "message"),
    ("bench sheet", ".pdf", "A4"),
    ("mesh", ".glb", "draft"),
    ("template", ".pdf", "letter"),
)
_DISMISSED = 5
"""One in so many is taken off the list; the page takes the rest off by itself."""

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
"""Calls that must be refused, or do nothing."""

_NOT_FOR_GUESTS: tuple[tuple[str, list[object]], ...] = (
    ("desk_change", ["finish.coats", 1]),
    ("desk_undo", []),
    ("file_save", [True]),
    ("file_open", ["other.toml", True]),
    ("file_places", []),
    ("send_make", []),
)

_SILENT = 6
"""Connections that say nothing."""


@dataclass(slots=True)
class Builder:
    """The builder at his desk.

    Parameters
    ----------
    tab : PageClient
        Connected.
    """

    tab: PageClient
    _sent: int = field(default=0)

    async def arrive(self) -> None:
        """Open the page: ask for the pictures that there are, and open all cards."""
        await self._hello(0)
        await self.tab.do("pic_frames")
        await self.tab.do("form_opened", [card["id"] for card in self.tab.state["form_cards"]])
        await self.tab.picture()

    async def work(self, number: int) -> None:
        """Do one round of everything; afterwards the design is as it was before.

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
        """Drag a slider, add and change a layer, then take it all back."""
        tab = self.tab
        steps = 0
        for gap in _GAPS:
            await self._done("desk_change", "relief.gap", gap, f"soak-{number}")
        await self._done("desk_settle")
        steps += 1
        await self._done("desk_change", "finish.coats", 2 + number % 2)
        steps += 1
        # What a layer may be refused for depends on the design; an answer must come.
        kinds = tab.state["form_kinds"]
        cover = next(one["kind"] for one in kinds if one["role"] == Role.COVER)
        added = await tab.do("desk_add_layer", cover)
        steps += not added["problem"]
        for _ in range(steps):
            await self._done("desk_undo")
        for _ in range(steps):
            await self._done("desk_redo")
        for _ in range(steps):
            await self._done("desk_undo")
        await tab.picture()

    async def _turn(self) -> None:
        """Turn the rod once, as a hand does."""
        for step in range(_STEPS + 1):
            await self.tab.do("pic_turn", step * 360 / _STEPS, step < _STEPS, True)
            await asyncio.sleep(1 / 30)
        # For a moment fine pictures of the turn are made ready, as for one who only looks.
        await self.tab.do("pic_hold", False)
        await asyncio.sleep(1)
        await self.tab.do("pic_hold", True)

    async def _look(self, number: int) -> None:
        """Change light and window."""
        before = self.tab.frames
        light = next(one for one in _LIGHTS if one != self.tab.state["pic_look"]["light"])
        await self.tab.do("pic_look", {"light": light}, False)
        before = await self.tab.picture(before)
        await self.tab.do("pic_look", {"light": _LIGHTS[0]}, False)
        before = await self.tab.picture(before)
        await self._hello(1)
        before = await self.tab.picture(before)
        await self._hello(0)
        await self.tab.picture(before)

    async def _save(self, number: int) -> None:
        """Save, at times under another name and back."""
        await self._done("file_save", True)
        if number % 4 == 0:
            await self._done("file_save_as", "other.toml", True)
            await self._done("file_save_as", "mine.toml", True)

    async def _send(self) -> None:
        """Have one thing made and fetch it; have another begun and stopped."""
        tab = self.tab
        kind, ending, size = _SENDS[self._sent % len(_SENDS)]
        self._sent += 1
        await tab.do("send_choose", kind, ending, size)
        before = {one["number"] for one in tab.state["send_done"]}
        await tab.do("send_make")
        await tab.until(
            f"a {kind}",
            lambda state: (
                {one["number"] for one in state["send_done"]} - before or state["send_problem"]
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
        """Wait until the page has nothing to do."""
        await self.tab.until("the bench's figures", lambda state: state["form_bench"]["fresh"])
        await self.tab.picture()

    async def _hello(self, which: int) -> None:
        await self.tab.do("pic_hello", *_PLACES[which], 1.0, 0.0)
        # Not the ring of fine pictures: it would take all of the time.
        await self.tab.do("pic_hold", True)

    async def _done(self, name: str, *arguments: object) -> None:
        answer = await self.tab.do(name, *arguments)
        if answer["problem"]:
            raise PageError(f"{name} was not done: {answer['problem']}")


async def second_tab(
    http: aiohttp.ClientSession, origin: URL, headers: Mapping[str, str] | None = None
) -> None:
    """Open the page in another tab, ask for what must be refused, and close it in mid-work."""
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
    """Look and turn as a guest on a tablet, and ask for what is the builder's alone.

    Raises
    ------
    PageError
        If the guest is given it.
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
    """Let guests change the design for as long as one does, who takes it back."""
    await owner.do("guests_edit", True)
    async with PageClient.open(http, origin, headers) as tab:
        for name, arguments in (("desk_change", ["finish.coats", 1]), ("desk_undo", [])):
            if problem := (await tab.do(name, *arguments))["problem"]:
                raise PageError(f"{name} was not done for a guest who may: {problem}")
    await owner.do("guests_edit", False)


async def strangers(origin: URL) -> None:
    """Come without a key: wrong addresses, wrong origins, a socket, and connections left silent.

    Raises
    ------
    PageError
        If one is let in.
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
