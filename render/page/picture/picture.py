"""The picture on the page: the view of the design, and the delivery of its frames.

The view (light, camera, turn, dry or finished) starts as in the design and is changed here without
changing the design; "keep" writes it into the document. The browser turns the rod by itself among
the pictures that it has; missing ones come from the render worker.
"""

import math
from collections.abc import Mapping
from time import monotonic
from typing import Any

from render.page.picture.kept_frames import KeptFrames, place_of
from render.page.server.arguments import Finite, Flag, Place, Refused, Values
from render.page.server.host import Host
from render.page.server.pace import Throttle
from render.page.server.roles import Right
from render.page.server.sockets import Client
from render.page.server.wire import packed_publication
from render.page.workers.render_worker import (
    PREVIEW,
    RING,
    Frame,
    RenderProblem,
    RenderRequest,
    run_render_worker,
    slot_of,
    turn_of,
)
from render.page.workers.worker_process import Loss, WorkerProcess
from render.request.subject import Size, Subject
from scenes.building.build import Plan
from scenes.design.document import Design, document_of, with_changes
from scenes.light.lights import LightKind
from scenes.parts.view import CameraSpec, LightSpec, View
from scenes.problems import DesignProblem
from scenes.stage.camera import adjusted, camera_for

__all__ = ["LOOK_FIELDS", "Picture", "attach"]

TOPIC = "turnlight.frame"
"""Topic of published pictures, to which the browser subscribes."""

_MOST_PIXELS = 2_100_000
"""Pixels of one picture: full HD. A finer screen enlarges it a little."""

_LEAST_SIDE, _MOST_SIDE = 64, 4096
"""Bounds of a picture's width and height, pixels."""

_UNWATCHED_LIMIT = 5
"""Seconds without a browser after which drawing stops; a reloaded page is back before."""

_HOLD_TIMEOUT = 10.0
"""Seconds after which a client's hold of a slider lapses; its page renews it before."""

_MOVING_TIMEOUT = 3.0
"""Seconds after the last message of a drag at which it counts as ended; its tab may be gone."""

_GUEST_LOOKS = 15.0
"""Changes of the view a second that all guests together may make: each one voids the ring."""

LOOK_FIELDS = {
    "light": "light.kind",
    "light_turn": "light.turn",
    "backdrop": "light.backdrop",
    "exposure": "light.exposure",
    "view": "camera.view",
    "walk": "camera.walk",
    "rise": "camera.rise",
    "zoom": "camera.zoom",
    "along": "camera.along",
}
"""The design's field for each setting of the view, by the name that the page uses."""

_Look = tuple[dict[str, Any], bool]
"""Changed settings of the view, and whether they are still being changed (a drag)."""


def attach(page: Host) -> "Picture":
    """Add the picture to the page.

    Parameters
    ----------
    page : Host
    """
    return Picture(page)


class Picture:
    """The picture of a page's document.

    Every change of the design or the view begins a new epoch, and only pictures of the newest epoch
    are kept and refined. A drag begins more epochs than can be drawn. A preview whose epoch has
    passed meanwhile is shown all the same, because it is newer than the picture on the screen. The
    render worker always continues with the newest epoch, so the epochs of the pictures shown never
    decrease, and the last one shown is the newest.

    Parameters
    ----------
    page : Host
    """

    def __init__(self, page: Host) -> None:
        self._page = page
        self._state = page.state
        self._size: Size | None = None
        self._epoch = self._view_began = 0
        self._view_identity: tuple[object, ...] = ()
        self._guest_looks = Throttle(1 / _GUEST_LOOKS, _merged, self._look_of_guests)
        self._turn = 0.0
        self._moving = self._ahead = False
        self._moving_since = 0.0
        self._look: dict[str, Any] = {"dry": False}
        self._holding: dict[int, tuple[Client, float]] = {}
        self._greeted: set[int] = set()
        self._held = False
        self._seen = self._sent = 0
        self._kept = KeptFrames()
        self._sides: Mapping[str, Subject] = {}
        self._is_watched, self._unwatched_seconds = False, 0
        self._given_up = False
        self._render_worker = WorkerProcess(
            run_render_worker, self._received, self._lost, newest=True
        )
        self._document_look: Mapping[str, Any] = {}
        self._state.update(
            {
                "pic_ring": RING,
                "pic_lights": [kind.value for kind in LightKind],
                "pic_views": [view.value for view in View],
                "pic_trouble": "",
                "pic_epoch": 0,
                "pic_mode": "one",
                "pic_scale": {"radius": 1.0, "height": 8.0},
            }
        )
        self._take_look()
        for name, right, answer in (
            ("pic_hello", Right.LOOK, self._hello),
            ("pic_turn", Right.LOOK, self._turned),
            ("pic_look", Right.LOOK, self._look_changed),
            ("pic_keep", Right.EDIT, self._keep),
            ("pic_hold", Right.EDIT, self._hold),
            ("pic_got", Right.LOOK, self._got),
            ("pic_frames", Right.LOOK, self._frames),
        ):
            page.methods.declare(name, right, answer)
        page.sockets.on_disconnect(self._left)
        page.desk.on_change(self._document_changed)
        page.on_tick(self._tick)
        page.on_close(self._render_worker.close)
        page.on_close(self._guest_looks.close)

    @property
    def look(self) -> dict[str, Any]:
        """Settings of the view, by the names of `LOOK_FIELDS`, and ``dry``."""
        return dict(self._look)

    @property
    def turn(self) -> float:
        """Turn of the rod, rad."""
        return self._turn

    def as_viewed(self, subject: Subject) -> Subject:
        """Apply the present view to a subject: light, camera, turn, dry or finished.

        Parameters
        ----------
        subject : Subject
        """
        light, camera = self._view()
        design = subject.design.without_variants()
        update: dict[str, Any] = {"light": light, "camera": camera}
        if self.look["dry"]:
            update["finish"] = design.finish.model_copy(update={"coats": 0})
        return Subject(design.model_copy(update=update), subject.shelf, subject.beside)

    def _view(self) -> tuple[LightSpec, CameraSpec]:
        """Light and camera of the view, as parts of a design."""
        changes: dict[str, object] = {path: self._look[name] for name, path in LOOK_FIELDS.items()}
        changes["camera.turn"] = math.degrees(self._turn)
        made = with_changes(self._page.desk.design.without_variants(), changes)
        return made.light, made.camera

    def resend_request(self) -> None:
        """Send the present request to the render worker again; exports have begun or ended."""
        self._send_request()

    def compare(self, mode: str) -> None:
        """Choose how the open design and the pinned one are shown.

        Parameters
        ----------
        mode : str
            "one" picture, two "stacked" pictures, or a "swipe" line between two pictures.
        """
        if mode != self._state.pic_mode:
            self._state.pic_mode = mode
            self._refresh()

    # --- methods that a browser may call ------------------------------------------------------

    def _hello(
        self, client: Client, width: Finite, height: Finite, ratio: Finite, turn: Finite
    ) -> None:
        """Take the size of the picture's place on a page, CSS pixels, and its turn, degrees.

        A page that has just been opened starts at the design's turn; one whose place has changed
        its size leaves the turn to whoever turned last. Pictures have the size of the owner's page
        while that is open.
        """
        stacked = self._state.pic_mode == "stacked"
        size = _fitting(width, height / (2 if stacked else 1), ratio)
        if self._size is not None and not client.is_owner and self._page.sockets.owner_connected:
            size = self._size
        # Pictures on their way to a page that was closed will not be acknowledged.
        self._seen = self._sent
        self._holding.pop(client.number, None)
        self._is_watched, self._unwatched_seconds = True, 0
        if client.number not in self._greeted:
            self._greeted.add(client.number)
            self._turn = math.radians(turn % 360.0)
        if size != self._size:
            self._size = size
            self._refresh()
        else:
            self._send_request()

    def _turned(self, degrees: Finite, moving: Flag, ahead: Flag) -> None:
        self._turn = math.radians(degrees % 360.0)
        self._moving, self._ahead, self._moving_since = moving, ahead, monotonic()
        self._send_request()

    def _look_changed(self, client: Client, changes: Values, moving: Flag = False) -> None:
        if not isinstance(changes.get("dry", False), bool):
            raise Refused("pic_look: dry must be true or false.")
        look = dict(changes), moving
        if not client.is_owner:
            self._guest_looks.put(look)
            return
        before = self._guest_looks.take()
        self._apply_look(*(look if before is None else _merged(before, look)))

    def _look_of_guests(self, look: _Look) -> None:
        with self._state:
            self._apply_look(*look)

    def _apply_look(self, changes: dict[str, Any], moving: bool) -> None:
        """Change the view, if the changes are valid."""
        before = self._look
        self._look = {**before, **{name: changes[name] for name in changes if name in before}}
        try:
            # Invalid settings are refused as they would be in a file.
            self._view()
        except DesignProblem as problem:
            self._look = before
            self._page.show_status(str(problem), guests=True)
            return
        self._state.pic_look = self.look
        self._moving, self._moving_since = moving, monotonic()
        self._refresh()

    def _keep(self) -> None:
        """Write light, camera and turn into the design."""
        changes: dict[str, object] = {path: self.look[name] for name, path in LOOK_FIELDS.items()}
        changes["camera.turn"] = round(math.degrees(self._turn), 1)
        document = document_of(self._page.desk.design, defaults=True)
        kept = {path: value for path, value in changes.items() if value != _at(document, path)}
        if not kept:
            self._page.show_status(
                "The design has this light, camera and turn already.", guests=True
            )
            return
        self._page.desk.changes(kept)
        self._page.show_status("The design now has this light, camera and turn.", guests=True)

    def _hold(self, client: Client, held: Flag) -> None:
        """Note that a client holds a slider or is about to, or no longer does."""
        if held:
            self._holding[client.number] = client, monotonic() + _HOLD_TIMEOUT
        else:
            self._holding.pop(client.number, None)
        self._send_request()

    def _is_held(self) -> bool:
        """Whether somebody who may change the design holds a slider."""
        now, sockets = monotonic(), self._page.sockets
        self._holding = {
            number: (client, until)
            for number, (client, until) in self._holding.items()
            if now < until and sockets.has_right(client, Right.EDIT)
        }
        return bool(self._holding)

    def _got(self, number: Place) -> None:
        """Take the acknowledgement of a picture; the fastest client sets the pace."""
        # Acknowledgements from before a restart of the worker do not count.
        self._seen = max(self._seen, min(number, self._sent))
        self._send_request()

    def _frames(self, client: Client) -> None:
        """Send the kept pictures to a page that has just been opened."""
        # The newest in the queue is sent first, and pictures near the turn were drawn first.
        for frame in self._kept:
            message = packed_publication(TOPIC, _packed(frame))
            client.outgoing.picture(place_of(frame), frame.epoch, message)

    def _left(self, client: Client) -> None:
        """Drop the hold of a client that has left, and the pictures on their way to it."""
        self._holding.pop(client.number, None)
        self._greeted.discard(client.number)
        self._seen = self._sent
        if self._page.watched:
            self._send_request()

    # --- requests to the render worker ------------------------------------------------------

    def _document_changed(self) -> None:
        self._take_look()
        self._moving = False
        self._refresh()

    def _take_look(self) -> None:
        """Take over light, camera and turn where the document's own have changed."""
        document = document_of(self._page.desk.design, defaults=True)
        found = {name: _at(document, path) for name, path in LOOK_FIELDS.items()}
        found["turn"] = _at(document, "camera.turn")
        before = self._document_look
        changed = {name: value for name, value in found.items() if before.get(name) != value}
        self._document_look = found
        if "turn" in changed:
            self._turn = math.radians(changed.pop("turn") % 360.0)
            self._state.pic_turn = math.degrees(self._turn)
        self._look = {**self._look, **changed}
        self._state.pic_look = self.look

    def _refresh(self) -> None:
        """Begin a new epoch if the design or the view has changed."""
        desk = self._page.desk
        sides = {"B": desk.subject}
        if self._state.pic_mode != "one" and desk.pinned is not None:
            sides = {"A": desk.pinned, "B": desk.subject}
        viewed = {
            name: self._without_turn(self.as_viewed(subject)) for name, subject in sides.items()
        }
        self._sides = viewed
        self._given_up = False
        self._epoch += 1
        self._kept.clear()
        view_identity = self._size, tuple(viewed), desk.path, desk.called
        if view_identity != self._view_identity:
            # Pictures of earlier epochs show another document or have another size: drop late ones.
            self._view_identity, self._view_began = view_identity, self._epoch
        self._state.pic_epoch = self._epoch
        self._state.pic_scale = self._scale(viewed["B"])
        self._send_request()

    def _scale(self, subject: Subject) -> dict[str, float]:
        """Radius of the rod and height of the picture at the rod, in the design's units."""
        design, size = subject.design, self._size or (16, 9)
        plan = Plan(design, subject.shelf, subject.beside)
        camera = adjusted(camera_for(plan, design.camera.view, size[0] / size[1]), design.camera)
        height = 2 * camera.distance * math.tan(camera.view_angle / 2)
        unit = design.units.in_mm
        return {"radius": plan.middle_radius / unit, "height": height / unit}

    @staticmethod
    def _without_turn(subject: Subject) -> Subject:
        design = subject.design
        camera: CameraSpec = design.camera.model_copy(update={"turn": 0.0})
        turned: Design = design.model_copy(update={"camera": camera, "title": "-", "notes": ""})
        return Subject(turned, subject.shelf, subject.beside)

    def _send_request(self) -> None:
        if self._size is None or not self._sides or not self._is_watched or self._given_up:
            return
        if not self._render_worker.running:
            # A hand that reaches for a slider will want a process: it takes seconds to start.
            if self._all_drawn() and not self._is_held():
                return
            self._seen = self._sent = 0
        self._held = self._is_held()
        self._render_worker.send(
            RenderRequest(
                self._epoch,
                self._sides,
                self._size,
                self._turn,
                self._moving,
                self._ahead,
                self._seen,
                fill=not self._page.sending,
                held=self._held,
                drawn=self._kept.grades,
            )
        )

    def _all_drawn(self) -> bool:
        """Whether there are fine pictures of this turn and of the whole ring."""
        turns = [self._turn, *map(turn_of, range(RING))]
        return all(self._kept.has_fine(name, turn) for name in self._sides for turn in turns)

    def _tick(self) -> None:
        """Stop drawing when nobody watches, and end holds and drags that have lapsed."""
        if self._held and not self._is_held():
            self._send_request()
        if self._moving and monotonic() - self._moving_since > _MOVING_TIMEOUT:
            self._moving = False
            self._send_request()
        if self._is_watched and not self._page.watched:
            self._unwatched_seconds += 1
            if self._unwatched_seconds >= _UNWATCHED_LIMIT:
                self._is_watched = False
                self._render_worker.close()
        else:
            self._unwatched_seconds = 0

    # --- messages of the render worker --------------------------------------------------------

    def _received(self, message: Frame | RenderProblem) -> None:
        if isinstance(message, RenderProblem):
            self._page.show_status(message.sentence, guests=True)
            with self._state:
                self._state.pic_trouble = message.sentence
            return
        self._sent = message.number
        newest = message.epoch == self._epoch
        if not newest and (message.grade != PREVIEW or message.epoch < self._view_began):
            # Stale: it is not sent, so no client will acknowledge it.
            self._seen = max(self._seen, message.number)
            self._send_request()
            return
        if self._state.pic_trouble:
            with self._state:
                self._state.pic_trouble = ""
        if newest:
            self._kept.put(message)
        self._page.sockets.publish_picture(
            TOPIC, place_of(message), message.epoch, _packed(message)
        )

    def _lost(self, loss: Loss, again: bool) -> None:
        """Continue with another process; the pictures that were drawn are kept."""
        if again:
            sentence = f"Drawing was interrupted ({loss}) and starts anew."
        else:
            self._given_up = True
            sentence = (
                f"Drawing has failed again and again ({loss}); change the design to try once more, "
                "or save it and start Turnlight anew."
            )
        self._page.show_status(sentence, guests=True)
        with self._state:
            self._state.pic_trouble = sentence
        self._send_request()


def _packed(frame: Frame) -> dict[str, Any]:
    slot = slot_of(frame.turn)
    return {
        "number": frame.number,
        "epoch": frame.epoch,
        "side": frame.side,
        "turn": math.degrees(frame.turn),
        "slot": -1 if slot is None else slot,
        "grade": frame.grade,
        "jpeg": frame.jpeg,
    }


def _merged(look: _Look, newer: _Look) -> _Look:
    """Combine two changes of the view."""
    return {**look[0], **newer[0]}, newer[1]


def _at(document: Mapping[str, Any], path: str) -> Any:
    table, field = path.split(".")
    return document[table][field]


def _fitting(width: float, height: float, ratio: float) -> Size:
    """Size of a picture, pixels, for a place on the screen in CSS pixels."""
    scale = min(max(float(ratio), 1.0), 2.0)
    scale = min(scale, math.sqrt(_MOST_PIXELS / max(width * height, 1.0)))

    def side(length: float) -> int:
        # Even, because a preview has half the size.
        return 2 * round(min(max(length * scale, _LEAST_SIDE), _MOST_SIDE) / 2)

    return side(width), side(height)
