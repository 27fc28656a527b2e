"""From a picture to a chart, as ``turnlight chart import`` makes one.

Nothing is kept here: the browser sends the picture with each change of what is asked, and brings
the chart that it chooses to the design as any other file.
"""

import asyncio
import base64
import io
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from aiohttp import web
from numpy.typing import NDArray
from PIL import Image

from materials.shelf import Shelf
from materials.thread import Thread
from render.colour.photograph import MOST_BYTES
from render.colour.picture_file import decode_picture
from render.common.problems import REFUSALS, RequestProblem
from render.page.server.host import Host
from render.page.server.roles import Right
from render.page.uploads.request_body import body_of
from render.page.workers.background import run_in_background
from scenes.artwork.charts import MOST_SIDE, flipped, reduced
from scenes.design.field_words import in_words
from scenes.problems import printable, shown

__all__ = ["attach", "chart_of"]

Json = dict[str, Any]

_MOST_THREADS = 12
"""Most threads of a chart that the page offers; more are slow to weave."""


def attach(page: Host) -> None:
    """Add the making of charts to the page.

    Parameters
    ----------
    page : Host
    """
    _Charts(page)


class _Charts:
    """The address that makes charts, one at a time: a large picture takes much memory."""

    def __init__(self, page: Host) -> None:
        self._page = page
        self._making = asyncio.Lock()
        page.routes.declare("/chart", Right.OWN, self._make, "POST")

    async def _make(self, request: web.Request) -> web.Response:
        """Make a chart: the body is a picture; the query says how."""
        asked = dict(request.query)
        name = Path(asked.get("name", "") or "picture")
        data = await body_of(request, MOST_BYTES)
        if data is None:
            most = MOST_BYTES // 1_000_000
            problem = f"{shown(name.name)} is larger than {most} MB; give a smaller one."
            return web.json_response({"problem": problem}, status=413)
        shelf = self._page.desk.shelf
        try:
            async with self._making:
                made = await run_in_background(lambda: chart_of(data, name, asked, shelf), request)
        except REFUSALS as problem:
            return web.json_response({"problem": in_words(_plain(str(problem)))})
        return web.json_response(made, headers={"Cache-Control": "no-store"})


def chart_of(data: bytes, name: Path, asked: Mapping[str, str], shelf: Shelf) -> Json:
    """Make a chart of a picture.

    Parameters
    ----------
    data : bytes
        Content of its file.
    name : Path
        Name of the file.
    asked : mapping
        ``columns``: warp threads; ``rows``: picks, empty to keep the shape of the picture;
        ``turns``: quarter turns to the left; ``mirror``, ``upright``: ``1`` to mirror it left for
        right, or upside down; ``count``: most threads; ``threads``: names of the only threads to
        use, one a line; ``size``: size of the threads to choose from where none are named.
    shelf : Shelf

    Returns
    -------
    dict
        ``problem`` (empty), ``columns``, ``rows``, ``threads`` (``name``, ``colour``, the most
        frequent first), ``picture`` (``data:`` address of the PNG chart).

    Raises
    ------
    RequestProblem, ShelfProblem
        If the picture cannot be read, a number is out of range, or a thread is not on the shelf.
    """
    columns = _whole(asked, "columns", MOST_SIDE)
    count = _whole(asked, "count", _MOST_THREADS)
    turns = _whole(asked, "turns", 3, least=0)
    pixels = np.rot90(decode_picture(data, name), turns)
    high, wide = pixels.shape[:2]
    kept = max(1, round(columns * high / wide))
    if asked.get("rows"):
        rows = _whole(asked, "rows", MOST_SIDE)
    elif kept <= MOST_SIDE:
        rows = kept
    else:
        raise RequestProblem(
            f"{columns} columns make {kept} rows of this picture, and a chart has {MOST_SIDE} at "
            f"most; give {max(1, MOST_SIDE * wide // high)} columns or fewer."
        )
    threads = _threads(asked, shelf)
    chart, used = reduced(np.ascontiguousarray(pixels), columns, rows, threads, count)
    if asked.get("mirror") == "1":
        chart = flipped(chart, upright=False)
    if asked.get("upright") == "1":
        chart = flipped(chart, upright=True)
    return {
        "problem": "",
        "columns": columns,
        "rows": rows,
        "threads": [{"name": thread.name, "colour": thread.colour} for thread in used],
        "picture": _address(chart),
    }


def _threads(asked: Mapping[str, str], shelf: Shelf) -> Sequence[Thread]:
    """Threads to choose from, the first of each colour: a chart tells threads by their colour."""
    names = [name for name in asked.get("threads", "").split("\n") if name]
    size = asked.get("size", "")
    alike = [thread for thread in shelf.threads if thread.size == size]
    chosen = [shelf.thread(name) for name in names] or alike or list(shelf.threads)
    by_colour: dict[str, Thread] = {}
    for thread in chosen:
        by_colour.setdefault(thread.colour, thread)
    return list(by_colour.values())


def _whole(asked: Mapping[str, str], name: str, most: int, *, least: int = 1) -> int:
    text = asked.get(name, "").strip()
    if not (text.isascii() and text.isdecimal() and least <= int(text[:9]) <= most):
        raise RequestProblem(
            f"{name}: {shown(text)} is not a whole number from {least} to {most}; give one."
        )
    return int(text)


def _address(chart: NDArray[np.uint8]) -> str:
    data = io.BytesIO()
    Image.fromarray(chart).save(data, "PNG", optimize=True)
    return "data:image/png;base64," + base64.b64encode(data.getvalue()).decode("ascii")


def _plain(sentence: str) -> str:
    """A refusal without the word of the command line that it begins with."""
    for lead in ("photo: ", "picture: ", "count: "):
        sentence = sentence.removeprefix(lead)
    return printable(sentence[:1].upper() + sentence[1:], 500)
