"""Stages for browsers that draw for themselves: what is packed, and who may fetch it.

A browser that draws says so (`stage_draws`), and which light it wants (`stage_light`). After an
edit the state `pic_stage` names the newest stage, and `pic_light` the light of one client. Their
bytes are at addresses that name what is in them, so a page fetches only those that it does not
have. Only the bytes of the last two stages and of the last lights are kept; others are not found,
and the page takes the newest names.
"""

from collections import OrderedDict
from collections.abc import Mapping
from typing import Any

from aiohttp import web

from render.page.picture.picture import Picture
from render.page.server.arguments import Finite, Flag, Refused, Values
from render.page.server.host import Host
from render.page.server.pace import Throttle
from render.page.server.roles import Right
from render.page.server.sockets import Client
from render.page.workers.stage_packer import LightSetting
from render.page.workers.stage_worker import (
    PackedLight,
    PackedStage,
    StageProblem,
    StageRequest,
    run_stage_worker,
)
from render.page.workers.worker_process import Loss, WorkerProcess
from render.request.subject import Subject
from scenes.design.document import with_changes
from scenes.parts.view import CameraSpec, LightSpec
from scenes.problems import DesignProblem

__all__ = ["LIGHT_FIELDS", "Stages", "attach"]

LIGHT_FIELDS = {
    "light": "light.kind",
    "light_turn": "light.turn",
    "backdrop": "light.backdrop",
    "view": "camera.view",
    "walk": "camera.walk",
    "rise": "camera.rise",
    "zoom": "camera.zoom",
    "along": "camera.along",
}
"""The design's field for each setting that a light depends on, by the name that the page uses."""

_MOST_LIGHTS = 12
"""Lights whose bytes are kept, of all clients together: 0.3 MB each."""

_GUEST_LIGHTS = 4.0
"""Lights a second that all guests together may ask for."""

_ASPECT = 0.05, 20.0
"""Bounds of width over height of a picture."""

_Asked = dict[int, LightSetting]


def attach(page: Host, picture: Picture) -> "Stages":
    """Add stages to the page.

    Parameters
    ----------
    page : Host
    picture : Picture
        Draws frames for clients that do not draw for themselves.
    """
    return Stages(page, picture)


class Stages:
    """The stages of a page.

    Parameters
    ----------
    page : Host
    picture : Picture
    """

    def __init__(self, page: Host, picture: Picture) -> None:
        self._page, self._picture = page, picture
        self._state = page.state
        self._drawing: dict[int, tuple[Client, bool]] = {}
        self._lights: _Asked = {}
        self._guest_lights: Throttle[_Asked] = Throttle(
            1 / _GUEST_LIGHTS, lambda old, new: {**old, **new}, self._light_of_guests
        )
        self._number, self._sides = 0, self._subjects()
        self._held = False
        self._missed = 0
        self._blobs: dict[str, bytes] = {}
        self._before: dict[str, bytes] = {}
        self._light_blobs: OrderedDict[str, Mapping[str, bytes]] = OrderedDict()
        self._given_up = False
        self._worker = WorkerProcess(run_stage_worker, self._received, self._lost, newest=True)
        self._state.update({"pic_stage": self._message(0, "", draft=False), "pic_light": {}})
        page.methods.declare("stage_draws", Right.LOOK, self._draws)
        page.methods.declare("stage_light", Right.LOOK, self._light_asked)
        page.routes.declare("/stage/{name}", Right.LOOK, self._serve)
        page.sockets.on_disconnect(self._left)
        page.desk.on_change(self._document_changed)
        picture.on_hold(self.hold)
        page.on_close(self._worker.close)
        page.on_close(self._guest_lights.close)

    def start_worker(self) -> None:
        """Start the stage worker, for a browser that may draw for itself."""
        self._worker.start()

    def draws(self, client: Client) -> bool:
        """Tell whether a client draws for itself.

        Parameters
        ----------
        client : Client
        """
        return client.number in self._drawing

    def hold(self, held: bool) -> None:
        """Note whether somebody holds a slider: then only drafts are packed.

        Parameters
        ----------
        held : bool
        """
        if held != self._held:
            self._held = held
            self._send_request()

    # --- methods that a browser may call ------------------------------------------------------

    def _draws(self, client: Client, stages: Flag, dry: Flag, frames: Flag) -> None:
        """Note whether a client wants stages, shows designs without finish, and wants frames too.

        It wants frames until it has drawn its first picture, and while its context is lost.
        """
        if stages:
            self._drawing[client.number] = client, dry
        else:
            self._drawing.pop(client.number, None)
            self._lights.pop(client.number, None)
        self._given_up = False
        self._picture.set_frames(client, frames or not stages)
        self._send_request()

    def _light_asked(
        self, client: Client, settings: Values, aspect: Finite, missed: Flag = False
    ) -> None:
        """Take the light that a client wants; the answer is its state `pic_light`.

        A client that has missed its light, because it came after too many others, gets it again.
        """
        if not _ASPECT[0] <= aspect <= _ASPECT[1]:
            low, high = _ASPECT
            raise Refused(f"stage_light: aspect must be {low:g} to {high:g}.")
        if not self.draws(client):
            raise Refused("stage_light: this page does not draw for itself; say stage_draws first.")
        self._missed += missed
        setting = self._setting(settings, aspect)
        if client.is_owner:
            self._lights[client.number] = setting
            self._send_request()
        else:
            self._guest_lights.put({client.number: setting})

    def _light_of_guests(self, asked: _Asked) -> None:
        self._lights |= {number: asked[number] for number in asked if number in self._drawing}
        self._send_request()

    def _setting(self, settings: Mapping[str, object], aspect: float) -> LightSetting:
        """Settings as they would be in a file, which refuses those that are not valid."""
        design = self._page.desk.design.without_variants()
        bare = design.model_copy(update={"light": LightSpec(), "camera": CameraSpec()})
        changes = {LIGHT_FIELDS[name]: settings[name] for name in settings if name in LIGHT_FIELDS}
        try:
            made = with_changes(bare, changes)
        except DesignProblem as problem:
            raise Refused(f"stage_light: {problem}") from None
        return LightSetting(made.light, made.camera, round(aspect, 4), self._missed)

    def _left(self, client: Client) -> None:
        self._drawing.pop(client.number, None)
        self._lights.pop(client.number, None)

    async def _serve(self, request: web.Request) -> web.Response:
        """Answer with the bytes of a name."""
        name = request.match_info["name"]
        for kept in (self._blobs, self._before, *reversed(self._light_blobs.values())):
            if name in kept:
                return web.Response(body=kept[name], content_type="application/octet-stream")
        raise web.HTTPNotFound(text="There is no such part of a stage, or no more.")

    # --- requests to the worker ---------------------------------------------------------------

    def _subjects(self) -> dict[str, Subject]:
        desk = self._page.desk
        sides = {"B": desk.subject}
        if desk.pinned is not None:
            sides["A"] = desk.pinned
        return {side: _stripped(subject) for side, subject in sides.items()}

    def _document_changed(self) -> None:
        sides = self._subjects()
        if sides == self._sides:
            return
        self._number, self._sides = self._number + 1, sides
        self._given_up = False
        self._state.pic_stage = {**self._state.pic_stage, "wanted": self._number}
        self._send_request()

    def _send_request(self) -> None:
        if not self._drawing or self._given_up:
            return
        owners_first = sorted(
            self._lights, key=lambda number: (not self._drawing[number][0].is_owner, number)
        )
        self._worker.send(
            StageRequest(
                self._number,
                self._sides,
                frozenset(dry for _, dry in self._drawing.values()),
                {number: self._lights[number] for number in owners_first},
                self._held,
                self._is_complete(),
            )
        )

    def _is_complete(self) -> bool:
        """Whether the newest stage is there in full detail."""
        shown = self._state.pic_stage
        return bool(shown["name"]) and shown["number"] == self._number and not shown["draft"]

    # --- messages of the worker ---------------------------------------------------------------

    def _received(self, message: PackedStage | PackedLight | StageProblem) -> None:
        if isinstance(message, StageProblem):
            self._page.show_status(message.sentence, guests=True)
            self._show(self._message(message.number, "", draft=False, problem=message.sentence))
        elif isinstance(message, PackedStage):
            known = {**self._before, **self._blobs, **message.parcel.blobs}
            self._before = self._blobs
            self._blobs = {name: known[name] for name in message.names}
            self._show(self._message(message.number, message.parcel.name, draft=message.draft))
        elif message.client in self._drawing:
            name = message.parcel.name
            self._light_blobs.pop(name, None)
            self._light_blobs[name] = message.parcel.blobs
            while len(self._light_blobs) > _MOST_LIGHTS:
                self._light_blobs.popitem(last=False)
            client, _ = self._drawing[message.client]
            client.outgoing.state({"pic_light": {"name": name}})

    def _message(self, number: int, name: str, *, draft: bool, problem: str = "") -> dict[str, Any]:
        return {
            "wanted": self._number,
            "number": number,
            "name": name,
            "draft": draft,
            "problem": problem,
        }

    def _show(self, message: dict[str, Any]) -> None:
        with self._state:
            self._state.pic_stage = message

    def _lost(self, loss: Loss, again: bool) -> None:
        """Continue with another process."""
        self._given_up = not again
        sentence = f"Packing for the browser was interrupted ({loss})" + (
            " and starts anew." if again else "; change the design to try once more."
        )
        self._page.show_status(sentence, guests=True)
        self._send_request()


def _stripped(subject: Subject) -> Subject:
    """A subject without what a stage does not depend on."""
    update = {"title": "-", "notes": "", "light": LightSpec(), "camera": CameraSpec()}
    design = subject.design.without_variants().model_copy(update=update)
    return Subject(design, subject.shelf, subject.beside)
