"""A thread's colour from a photograph on the page. The photograph is kept in memory, in no file."""

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
from render.colour.beside_card import UNNAMED, describe_reading, nearest_on_shelf, read_beside_card
from render.colour.photograph import MOST_BYTES, MOST_PIXELS, decode_photograph
from render.common.problems import REFUSALS, RequestProblem
from render.page.server.host import Host
from render.page.server.proof import Proof, is_same, unguessable
from render.page.server.roles import Right
from render.page.uploads.request_body import body_of
from render.page.workers.background import run_in_background
from render.request.options import choice
from render.request.subject import Pixels
from scenes.numerals import read_number
from scenes.problems import DesignProblem, shown

__all__ = ["attach", "read_marked"]

Json = dict[str, Any]

_SHOWN_SIDE = 1600
"""Longer side of the picture that is shown, pixels; colours are read from the photograph itself."""

_FIELDS = ("card-reflectance", "photo", "thread", "card", "lamp", "kelvin", "kind", "like")
"""Fields that a refusal may begin with."""


_GONE = "The photograph is held no longer, since another was chosen; choose it again."


def attach(page: Host) -> None:
    """Add photographs to the page's thread form.

    Parameters
    ----------
    page : Host
    """
    Photographs(page)


@dataclass(frozen=True, slots=True)
class Photograph:
    """The photograph that is being marked.

    Parameters
    ----------
    number : str
        Unguessable identifier.
    pixels : (h, w, 3) uint8
        sRGB.
    jpeg : bytes
        A JPEG of it that is large enough to mark places on.
    """

    number: str
    pixels: Pixels
    jpeg: bytes


class Photographs:
    """Upload and reading of photographs, one at a time: each may take hundreds of megabytes.

    Parameters
    ----------
    page : Host
    """

    def __init__(self, page: Host) -> None:
        self.page = page
        self._photograph: Photograph | None = None
        self._decoding = asyncio.Lock()
        page.state.photograph_most = {"bytes": MOST_BYTES, "pixels": MOST_PIXELS}
        declare = page.routes.declare
        declare("/photograph", Right.OWN, self._receive, "POST")
        declare("/photograph/{number}", Right.OWN, self._picture, proof=Proof.ADDRESS)
        declare("/photograph/{number}", Right.OWN, self._discard, "DELETE")
        declare("/photograph/{number}/colour", Right.OWN, self._read)

    async def _receive(self, request: web.Request) -> web.Response:
        """Take a photograph: the body of the request is its file."""
        name = Path(request.query.get("name", "") or "photograph")
        data = await body_of(request, MOST_BYTES)
        if data is None:
            problem = RequestProblem(
                f"photo: {shown(str(name))} is larger than {MOST_BYTES // 1_000_000} MB; give a "
                "smaller one."
            )
            return web.json_response(_refused(problem), status=413)
        try:
            # Decoding a large photograph takes a while, and must not block the page.
            async with self._decoding:
                self._photograph = None
                pixels, jpeg = await run_in_background(lambda: _decoded(data, name), request)
                photograph = self._photograph = Photograph(unguessable(), pixels, jpeg)
        except RequestProblem as problem:
            return web.json_response(_refused(problem))
        high, wide = pixels.shape[:2]
        return web.json_response(
            {"problem": "", "field": "", "number": photograph.number, "width": wide, "height": high}
        )

    async def _picture(self, request: web.Request) -> web.Response:
        """Serve the picture, upright and in the colours that are read."""
        photograph = self._of(request)
        if photograph is None:
            raise web.HTTPNotFound
        return web.Response(
            body=photograph.jpeg, content_type="image/jpeg", headers={"Cache-Control": "no-store"}
        )

    async def _discard(self, request: web.Request) -> web.Response:
        """Discard the photograph."""
        if self._of(request) is not None:
            self._photograph = None
        return web.json_response({})

    async def _read(self, request: web.Request) -> web.Response:
        """Read the colour where thread and card are marked."""
        photograph, shelf = self._of(request), self.page.desk.shelf
        if photograph is None:
            return web.json_response(_refused(RequestProblem(f"photo: {_GONE}")))
        answer = await run_in_background(
            lambda: read_marked(photograph.pixels, dict(request.query), shelf), request
        )
        return web.json_response(answer, headers={"Cache-Control": "no-store"})

    def _of(self, request: web.Request) -> Photograph | None:
        photograph = self._photograph
        return (
            photograph
            if photograph is not None and is_same(request.match_info["number"], photograph.number)
            else None
        )


def read_marked(pixels: Pixels, options: Mapping[str, str], shelf: Shelf) -> Json:
    """Read a thread's colour as the command does, from the page's form.

    Parameters
    ----------
    pixels : (h, w, 3) uint8
        The photograph, sRGB.
    options : mapping of str to str
        The command's options as typed: ``thread``, ``card``, ``card-reflectance``, ``lamp``,
        ``kelvin``, ``kind``, ``name``, ``like``; empty ones are ignored.
    shelf : Shelf

    Returns
    -------
    dict
        ``problem`` and ``field``; without a problem also ``colour``, ``before``, and sentences:
        ``result``, ``warnings``, ``near``.
    """
    given = {key: value.strip() for key, value in options.items() if value.strip()}
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
        "result": [_capital(sentence) for sentence in describe_reading(reading, name)],
        "warnings": reading.notes,
        "near": _capital(nearest_on_shelf(reading, name, shelf.threads)),
    }


def _number(field: str, given: Mapping[str, str], otherwise: Any) -> Any:
    if field not in given:
        return otherwise
    try:
        return float(read_number(given[field]))
    except DesignProblem as problem:
        raise RequestProblem(f"{field}: {problem}") from None


def _refused(problem: Exception) -> Json:
    """The answer to a refused request: one sentence, and the field that it is about."""
    sentence = str(problem)
    field = next(
        (candidate for candidate in _FIELDS if re.match(rf"{candidate}\b(?!-)", sentence)), ""
    )
    rest = sentence.removeprefix(f"{field}: ") if field else sentence
    return {"problem": _capital(rest), "field": field}


def _capital(sentence: str) -> str:
    return sentence[:1].upper() + sentence[1:]


def _decoded(data: bytes, name: Path) -> tuple[Pixels, bytes]:
    pixels = decode_photograph(data, name)
    image = Image.fromarray(pixels)
    image.thumbnail((_SHOWN_SIDE, _SHOWN_SIDE), reducing_gap=2)
    made = io.BytesIO()
    image.save(made, "JPEG", quality=92, subsampling=0)
    return pixels, made.getvalue()
