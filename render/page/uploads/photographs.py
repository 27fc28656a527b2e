"""A thread's colour from a photograph, on the page: looked at in memory, and kept in no file."""

import asyncio
import io
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from aiohttp import web
from PIL import Image

from materials.lamps import Lamp
from materials.photographed import GREY_CARD
from materials.shelf import Shelf
from materials.thread import ThreadKind
from render.colour.beside_card import UNNAMED, near, read_beside_card, told
from render.colour.photograph import MOST_BYTES, MOST_PIXELS, decode_photograph
from render.common.problems import REFUSALS, RequestProblem
from render.page.cards.numerals import read_number
from render.page.server.host import Host
from render.page.server.proof import Proof, is_same, unguessable
from render.page.server.roles import Right
from render.page.uploads.request_body import body_of
from render.page.workers.background import run_in_background
from render.request.options import choice
from render.request.subject import Pixels
from scenes.problems import DesignProblem, shown

__all__ = ["attach", "read_marked"]

Json = dict[str, Any]

_SEEN = 1600
"""Pixels of the longer side of what is shown; what is read is the photograph itself."""

_FIELDS = ("card-reflectance", "photo", "thread", "card", "lamp", "kelvin", "kind", "like")
"""What a sentence may begin with."""


_GONE = "The photograph is held no longer, since another was chosen; choose it again."


def attach(page: Host) -> None:
    """Answer what the thread form asks about a photograph."""
    Photographs(page)


@dataclass(frozen=True, slots=True)
class Held:
    """The photograph that is looked at.

    Parameters
    ----------
    number : str
        What the browser calls it by; nobody can guess it.
    pixels : (h, w, 3) uint8
    seen : bytes
        A JPEG of it that is large enough to mark places on.
    """

    number: str
    pixels: Pixels
    seen: bytes


class Photographs:
    """One photograph at a time: it may fill hundreds of megabytes.

    Parameters
    ----------
    page : Host
    """

    def __init__(self, page: Host) -> None:
        self.page = page
        self._held: Held | None = None
        self._alone = asyncio.Lock()
        page.state.photograph_most = {"bytes": MOST_BYTES, "pixels": MOST_PIXELS}
        declare = page.routes.declare
        declare("/photograph", Right.OWN, self._brought, "POST")
        declare("/photograph/{number}", Right.OWN, self._seen, proof=Proof.ADDRESS)
        declare("/photograph/{number}", Right.OWN, self._let_go, "DELETE")
        declare("/photograph/{number}/colour", Right.OWN, self._read)

    async def _brought(self, request: web.Request) -> web.Response:
        """Take a photograph: the body is its file."""
        name = Path(request.query.get("name", "") or "photograph")
        data = await body_of(request, MOST_BYTES)
        if data is None:
            problem = RequestProblem(
                f"photo: {shown(str(name))} is larger than {MOST_BYTES // 1_000_000} MB; give a "
                "smaller one."
            )
            return web.json_response(_refused(problem), status=413)
        try:
            # Decoding a large one takes a while, and the page must not wait for it.
            async with self._alone:
                self._held = None
                pixels, seen = await run_in_background(lambda: _looked_at(data, name), request)
                held = self._held = Held(unguessable(), pixels, seen)
        except RequestProblem as problem:
            return web.json_response(_refused(problem))
        high, wide = pixels.shape[:2]
        return web.json_response(
            {"problem": "", "field": "", "number": held.number, "width": wide, "height": high}
        )

    async def _seen(self, request: web.Request) -> web.Response:
        """Show it, upright and in the colours that are read."""
        held = self._of(request)
        if held is None:
            raise web.HTTPNotFound
        return web.Response(
            body=held.seen, content_type="image/jpeg", headers={"Cache-Control": "no-store"}
        )

    async def _let_go(self, request: web.Request) -> web.Response:
        """Forget it."""
        if self._of(request) is not None:
            self._held = None
        return web.json_response({})

    async def _read(self, request: web.Request) -> web.Response:
        """Read the colour where thread and card are marked."""
        held, shelf = self._of(request), self.page.desk.shelf
        if held is None:
            return web.json_response(_refused(RequestProblem(f"photo: {_GONE}")))
        answer = await run_in_background(
            lambda: read_marked(held.pixels, dict(request.query), shelf), request
        )
        return web.json_response(answer, headers={"Cache-Control": "no-store"})

    def _of(self, request: web.Request) -> Held | None:
        held = self._held
        return (
            held
            if held is not None and is_same(request.match_info["number"], held.number)
            else None
        )


def read_marked(pixels: Pixels, asked: Mapping[str, str], shelf: Shelf) -> Json:
    """Read a thread's colour as the command does, from what was typed on the page.

    Parameters
    ----------
    pixels : (h, w, 3) uint8
        The photograph.
    asked : mapping
        The command's words: ``thread``, ``card``, ``card-reflectance``, ``lamp``, ``kelvin``,
        ``kind``, ``name``, ``like``; what is empty is left out.
    shelf : Shelf

    Returns
    -------
    dict
        ``problem`` and ``field``; and without a problem ``colour``, ``before``, and sentences:
        ``told``, ``warnings``, ``near``.
    """
    given = {key: value.strip() for key, value in asked.items() if value.strip()}
    try:
        reading = read_beside_card(
            pixels,
            given.get("thread", ""),
            given.get("card", ""),
            reflectance=_number("card-reflectance", given, GREY_CARD),
            kind=choice("kind", given.get("kind", ThreadKind.NCP_NYLON), ThreadKind),
            lamp=choice("lamp", given["lamp"], Lamp) if "lamp" in given else None,
            kelvin=_number("kelvin", given, None),
            like=shelf.thread(given["like"]) if "like" in given else None,
        ).reading
    except REFUSALS as problem:
        return _refused(problem)
    name = given.get("name", UNNAMED)
    return {
        "problem": "",
        "field": "",
        "colour": reading.colour,
        "before": reading.colour_before,
        "told": [_capital(sentence) for sentence in told(reading, name)],
        "warnings": reading.notes,
        "near": _capital(near(reading, name, shelf.threads)),
    }


def _number(field: str, given: Mapping[str, str], otherwise: Any) -> Any:
    if field not in given:
        return otherwise
    try:
        return float(read_number(given[field]))
    except DesignProblem as problem:
        raise RequestProblem(f"{field}: {problem}") from None


def _refused(problem: Exception) -> Json:
    """Give one sentence, and the field that it speaks of."""
    sentence = str(problem)
    field = next(
        (candidate for candidate in _FIELDS if re.match(rf"{candidate}\b(?!-)", sentence)), ""
    )
    said = sentence.removeprefix(f"{field}: ") if field else sentence
    return {"problem": _capital(said), "field": field}


def _capital(sentence: str) -> str:
    return sentence[:1].upper() + sentence[1:]


def _looked_at(data: bytes, name: Path) -> tuple[Pixels, bytes]:
    pixels = decode_photograph(data, name)
    image = Image.fromarray(pixels)
    image.thumbnail((_SEEN, _SEEN), reducing_gap=2)
    made = io.BytesIO()
    image.save(made, "JPEG", quality=92, subsampling=0)
    return pixels, made.getvalue()
