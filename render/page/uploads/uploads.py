"""Upload of files for the design: pictures, charts and fonts, which are stored beside it."""

import io
from typing import Any

from aiohttp import web
from PIL import Image

from render.editor.desk import Desk
from render.page.cards.cards import attempt
from render.page.server.arguments import FieldPath, Line
from render.page.server.host import Host
from render.page.server.proof import Proof, is_same, unguessable
from render.page.server.roles import Right
from render.page.uploads.request_body import body_of
from render.page.workers.background import run_in_background, try_in_background
from scenes.artwork.images import MOST_SIDE, read_image
from scenes.files import file_import
from scenes.files.companion_files import MOST_BYTES, CompanionFiles
from scenes.problems import DesignProblem

__all__ = ["attach"]

Json = dict[str, Any]

_SMALL = 112
"""Longest side of the small picture of a file, pixels."""


def attach(page: Host) -> None:
    """Add uploads to the page.

    Parameters
    ----------
    page : Host
    """
    Uploads(page)


class Uploads:
    """Choice and upload of the files that the open design names.

    Parameters
    ----------
    page : Host
    """

    def __init__(self, page: Host) -> None:
        self.page = page
        self._preview_token = unguessable()
        page.state.beside_at = f"beside/{self._preview_token}/"
        page.methods.declare("beside_list", Right.OWN, self.beside_list)
        page.methods.declare("beside_name", Right.OWN, self.beside_name)
        page.routes.declare("/beside", Right.OWN, self._receive, "POST")
        page.routes.declare("/beside/{place}/{name}", Right.OWN, self._preview, proof=Proof.ADDRESS)

    @property
    def desk(self) -> Desk:
        """The open document."""
        return self.page.desk

    def beside_list(self, path: FieldPath) -> list[Json]:
        """List the files that a field may name.

        Parameters
        ----------
        path : FieldPath
            Path of the field.
        """
        folder = None if self.desk.path is None else self.desk.path.absolute().parent
        try:
            marker = file_import.file_marker(self.desk.design, path)
        except DesignProblem:
            return []
        return [
            {"name": choice.name, "shipped": choice.shipped}
            for choice in file_import.choices(folder, marker)
        ]

    async def beside_name(self, path: FieldPath, name: Line) -> Json:
        """Set a field to one of these files.

        Parameters
        ----------
        path : FieldPath
            Path of the field.
        name : Line
            Name of the file.
        """
        await try_in_background(lambda: self.desk.check_use_file(path, name))
        return attempt(self.desk, lambda: self.desk.use_file(path, name))

    async def _receive(self, request: web.Request) -> web.Response:
        """Import a file: the body is its content; the query names the field and the file."""
        path, name = request.query.get("path", ""), request.query.get("name", "")
        answer, status = await self._import(request, path, name)
        return web.json_response(answer, status=status)

    async def _import(self, request: web.Request, path: str, name: str) -> tuple[Json, int]:
        data = await body_of(request, MOST_BYTES)
        if data is None:
            return self._refused(file_import.too_large(name or "the file", path)), 413
        try:
            file_import.file_marker(self.desk.design, path)
        except DesignProblem as problem:
            return self._refused(problem), 200
        await try_in_background(lambda: self.desk.check_import_file(path, name, data), request)
        return attempt(self.desk, lambda: self.desk.import_file(path, name, data)), 200

    def _refused(self, problem: DesignProblem) -> Json:
        def refuse() -> None:
            raise problem

        return attempt(self.desk, refuse)

    async def _preview(self, request: web.Request) -> web.Response:
        """Serve a small picture of a file that the design may name."""
        name = request.match_info["name"]
        if not is_same(
            request.match_info["place"], self._preview_token
        ) or not name.lower().endswith(".png"):
            raise web.HTTPNotFound
        try:
            made = await run_in_background(lambda: _small(self.desk.beside, name), request)
        except DesignProblem:
            raise web.HTTPNotFound from None
        return web.Response(
            body=made, content_type="image/png", headers={"Cache-Control": "no-store"}
        )


def _small(beside: CompanionFiles, name: str) -> bytes:
    """Scale a picture to the small size; a chart is enlarged so that its pixels are visible."""
    pixels = read_image(beside.read(name, "file"), name, "file", MOST_SIDE)
    image = Image.fromarray(pixels)
    longest = max(image.size)
    if longest > _SMALL:
        image.thumbnail((_SMALL, _SMALL), Image.Resampling.BOX)
    else:
        times = _SMALL // longest
        wide, high = image.size
        image = image.resize((wide * times, high * times), Image.Resampling.NEAREST)
    data = io.BytesIO()
    image.save(data, "PNG")
    return data.getvalue()
