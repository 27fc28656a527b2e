"""Stages for browsers that draw for themselves: what is packed, and who may fetch it.

A browser that draws says so (`stage_draws`), and which light it wants (`stage_light`). There is a
stage for each design that such clients have pinned beside the open one, and one of the open design
alone. After an edit the state `pic_stage` of each client names its newest stage, and `pic_light`
its light. Their bytes are at addresses that name what is in them, so a page fetches only those that
it does not have; what is new in a stage is at one address too, so that an edit costs one fetch.
Only the bytes of the last two stages of each kind and of the last lights are kept; others are not
found, and the page takes the newest names.
"""

import asyncio
import json
import struct
import zlib
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from ipaddress import ip_address
from itertools import count
from typing import Any

from aiohttp import hdrs, web

from render.page.picture.picture import Picture
from render.page.server.arguments import Finite, Flag, Refused, Values
from render.page.server.host import Host
from render.page.server.pace import Throttle
from render.page.server.roles import Right
from render.page.server.sockets import Client
from render.page.workers.parcels import NAME_LENGTH
from render.page.workers.stage_packer import OPEN, LightSetting
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
from scenes.design.pictured import pictured
from scenes.parts.view import CameraSpec, LightSpec
from scenes.problems import DesignProblem

__all__ = ["LIGHT_FIELDS", "Stages", "attach"]

LIGHT_FIELDS = {
    "light": "light.kind",
    "light_turn": "light.turn",
    "hold_highlights": "light.hold_highlights",
    "backdrop": "light.backdrop",
    "ground": "light.ground",
    "view": "camera.view",
    "walk": "camera.walk",
    "rise": "camera.rise",
    "zoom": "camera.zoom",
    "along": "camera.along",
}
"""The design's field for each setting that a light depends on, by the name that the page uses."""

_MOST_LIGHTS = 12
"""Lights whose bytes are kept, of all clients together: 0.3 MB each."""

_MOST_STAGES = 16
"""Stages whose new bytes are still known to be new."""

_GUEST_LIGHTS = 4.0
"""Lights a second that all guests together may ask for."""

_ASPECT = 0.05, 20.0
"""Bounds of width over height of a picture."""

_Asked = dict[int, LightSetting]


@dataclass(slots=True)
class _Drawing:
    """A client that draws for itself.

    Parameters
    ----------
    client : Client
    dry : bool
        Whether it shows designs without their finish.
    pinned : str
        Name of the design that it has pinned; empty for none.
    """

    client: Client
    dry: bool
    pinned: str = ""


@dataclass(frozen=True, slots=True)
class _Fresh:
    """What is new in a stage.

    Parameters
    ----------
    names : tuple of str
        Of bytes that the stages before it had not.
    draft : bool
        Whether it is a draft, whose bytes are not compressed.
    """

    names: tuple[str, ...] = ()
    draft: bool = False


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
        self._drawing: dict[int, _Drawing] = {}
        self._lights: _Asked = {}
        self._guest_lights: Throttle[_Asked] = Throttle(
            1 / _GUEST_LIGHTS, lambda old, new: {**old, **new}, self._light_of_guests
        )
        self._open = _stripped(page.desk.drawn)
        self._pinned: dict[str, Subject] = {}
        self._pin_numbers = count(1)
        # By the name of the pinned design: the number of the edit, and what its clients are told.
        self._edits = count(1)
        self._numbers: dict[str, int] = {}
        self._messages: dict[str, dict[str, Any]] = {}
        self._held = False
        self._missed = 0
        self._blobs: dict[str, bytes] = {}
        self._fresh: OrderedDict[str, _Fresh] = OrderedDict()
        self._light_blobs: OrderedDict[str, Mapping[str, bytes]] = OrderedDict()
        self._given_up = False
        self._worker = WorkerProcess(run_stage_worker, self._received, self._lost, newest=True)
        self._state.pic_light = {}
        page.methods.declare("stage_draws", Right.LOOK, self._draws)
        page.methods.declare("stage_light", Right.LOOK, self._light_asked)
        page.routes.declare("/stage/{name}", Right.LOOK, self._serve)
        page.routes.declare("/stage/{name}/new", Right.LOOK, self._serve_new)
        page.sockets.add_own_state(lambda client: {"pic_stage": self._message_of(client)})
        page.sockets.on_disconnect(self._left)
        page.desk.on_change(self._document_changed, ahead=True)
        page.desk.on_change(self._document_changed)
        picture.on_pin(self._pin_changed)
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
            self._drawing[client.number] = _Drawing(client, dry, self._name_of_pin(client))
        else:
            self._drawing.pop(client.number, None)
            self._lights.pop(client.number, None)
        self._sort_stages()
        client.outgoing.state({"pic_stage": self._message_of(client)})
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
        self._sort_stages()

    async def _serve(self, request: web.Request) -> web.Response:
        """Answer with the bytes of a name, or with no content where it has been replaced."""
        name = request.match_info["name"]
        for kept in (self._blobs, *reversed(self._light_blobs.values())):
            if name in kept:
                return web.Response(body=kept[name], content_type="application/octet-stream")
        if len(name) != NAME_LENGTH or not name.isalnum():
            raise web.HTTPNotFound(text="There is no such part of a stage.")
        # No error: browsers report one, and the newest names are on their way.
        return web.Response(status=204)

    async def _serve_new(self, request: web.Request) -> web.Response:
        """Answer with the bytes that a stage has and the stages before it had not, itself included.

        The length of the list of names as four bytes, the lowest first, then the list in JSON, as
        ``[name, length]``, then the bytes one after another. A draft is compressed on its way to
        another machine.
        """
        fresh = self._fresh.get(request.match_info["name"], _Fresh())
        found = [(name, self._blobs[name]) for name in fresh.names if name in self._blobs]
        if not found:
            # No fault: the stage has been replaced, or had nothing new.
            return web.Response(status=204)
        listed = json.dumps([[name, len(data)] for name, data in found]).encode()
        body = b"".join((struct.pack("<I", len(listed)), listed, *(data for _, data in found)))
        response = web.Response(content_type="application/octet-stream")
        accepted = request.headers.get(hdrs.ACCEPT_ENCODING, "")
        if fresh.draft and "deflate" in accepted and not _is_here(request):
            body = await asyncio.to_thread(zlib.compress, body, 1)
            response.headers[hdrs.CONTENT_ENCODING] = "deflate"
        response.body = body
        return response

    # --- which stages there are ---------------------------------------------------------------

    def _name_of_pin(self, client: Client) -> str:
        """Name of the design that a client has pinned; designs that are the same have one name."""
        pin = self._picture.view_of(client).pin
        if pin is None:
            return ""
        subject = _stripped(pin.subject)
        for name, pinned in self._pinned.items():
            if pinned == subject:
                return name
        name = f"A{next(self._pin_numbers)}"
        self._pinned[name] = subject
        return name

    def _sort_stages(self) -> None:
        """Begin the stages that clients look at now, end the others, and tell each client its own.

        The owner's come first.
        """
        ranked = sorted(
            self._drawing.values(),
            key=lambda drawing: (not drawing.client.is_owner, drawing.client.number),
        )
        before, self._numbers = self._numbers, {}
        for drawing in ranked:
            if drawing.pinned not in self._numbers:
                self._numbers[drawing.pinned] = before.get(drawing.pinned) or next(self._edits)
        self._pinned = {name: self._pinned[name] for name in self._pinned if name in self._numbers}
        self._messages = {
            name: self._messages.get(name, self._message(number, 0, ""))
            for name, number in self._numbers.items()
        }

    def _pin_changed(self, client: Client) -> None:
        drawing = self._drawing.get(client.number)
        if drawing is None:
            return
        drawing.pinned = self._name_of_pin(client)
        self._sort_stages()
        client.outgoing.state({"pic_stage": self._message_of(client)})
        self._send_request()

    def _document_changed(self) -> None:
        subject = _stripped(self._page.desk.drawn)
        if subject == self._open:
            return
        self._open = subject
        self._given_up = False
        number = next(self._edits)
        for name in self._numbers:
            self._numbers[name] = number
            self._show(name, {**self._messages[name], "wanted": number})
        self._send_request()

    # --- requests to the worker ---------------------------------------------------------------

    def _send_request(self) -> None:
        if not self._drawing or self._given_up:
            return
        owners_first = sorted(
            self._lights, key=lambda number: (not self._drawing[number].client.is_owner, number)
        )
        self._worker.send(
            StageRequest(
                {OPEN: self._open, **self._pinned},
                dict(self._numbers),
                frozenset(drawing.dry for drawing in self._drawing.values()),
                {
                    number: replace(self._lights[number], pinned=self._drawing[number].pinned)
                    for number in owners_first
                },
                self._held,
                frozenset(filter(self._is_complete, self._numbers)),
            )
        )

    def _is_complete(self, pinned: str) -> bool:
        """Whether the newest stage with a pinned design is there in full detail."""
        shown = self._messages[pinned]
        return bool(shown["name"]) and shown["number"] == shown["wanted"] and not shown["draft"]

    # --- messages of the worker ---------------------------------------------------------------

    def _received(self, message: PackedStage | PackedLight | StageProblem) -> None:
        if isinstance(message, PackedStage):
            known = {**self._blobs, **message.parcel.blobs}
            self._blobs = {name: known[name] for name in message.held}
            self._fresh[message.parcel.name] = _Fresh(tuple(message.parcel.blobs), message.draft)
            self._fresh.move_to_end(message.parcel.name)
            while len(self._fresh) > _MOST_STAGES:
                self._fresh.popitem(last=False)
            self._take(message, message.parcel.name, draft=message.draft)
        elif isinstance(message, StageProblem):
            for drawing in self._drawing.values():
                if drawing.pinned == message.pinned:
                    self._page.show_status(message.sentence, client=drawing.client)
            self._take(message, "", problem=message.sentence)
        elif message.client in self._drawing:
            name = message.parcel.name
            self._light_blobs.pop(name, None)
            self._light_blobs[name] = message.parcel.blobs
            while len(self._light_blobs) > _MOST_LIGHTS:
                self._light_blobs.popitem(last=False)
            client = self._drawing[message.client].client
            client.outgoing.state({"pic_light": {"name": name}})

    def _take(self, message: PackedStage | StageProblem, name: str, **more: Any) -> None:
        """Tell the clients that look at it about a stage; nobody may do so any more."""
        if message.pinned in self._numbers:
            wanted = self._numbers[message.pinned]
            self._show(message.pinned, self._message(wanted, message.number, name, **more))

    @staticmethod
    def _message(
        wanted: int, number: int, name: str, *, draft: bool = False, problem: str = ""
    ) -> dict[str, Any]:
        return {
            "wanted": wanted,
            "number": number,
            "name": name,
            "draft": draft,
            "problem": problem,
        }

    def _message_of(self, client: Client) -> dict[str, Any]:
        """What a client is told of the stage that it looks at."""
        drawing = self._drawing.get(client.number)
        return self._message(0, 0, "") if drawing is None else self._messages[drawing.pinned]

    def _show(self, pinned: str, message: dict[str, Any]) -> None:
        self._messages[pinned] = message
        for drawing in self._drawing.values():
            if drawing.pinned == pinned:
                drawing.client.outgoing.state({"pic_stage": message})

    def _lost(self, loss: Loss, again: bool) -> None:
        """Continue with another process."""
        self._given_up = not again
        sentence = f"Packing for the browser was interrupted ({loss})" + (
            " and starts anew." if again else "; change the design to try once more."
        )
        self._page.show_status(sentence, guests=True)
        self._send_request()


def _is_here(request: web.Request) -> bool:
    """Whether a request comes from this machine."""
    try:
        return ip_address(request.remote or "").is_loopback
    except ValueError:
        return False


def _stripped(subject: Subject) -> Subject:
    """A subject without what a stage does not depend on."""
    update = {"light": LightSpec(), "camera": CameraSpec()}
    design = pictured(subject.design).model_copy(update=update)
    return Subject(design, subject.shelf, subject.beside)
