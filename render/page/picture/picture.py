"""The picture on the page: what is looked at, and pictures of it on their way to the browser.

How the rod is looked at (light, camera, turn, dry) starts as the design has it and is changed here
without changing the design; "keep" writes it into the document. The browser turns the rod by
itself among the pictures that it has; what it lacks comes from the drawing process.
"""

import math
from collections.abc import Mapping
from time import monotonic
from typing import Any

from render.page.picture.kept_frames import KeptFrames, place_of
from render.page.server.arguments import Finite, Flag, Place, Refused, Values
from render.page.server.door import Client
from render.page.server.host import Host
from render.page.server.pace import Newest
from render.page.server.roles import Right
from render.page.server.wire import packed_publication
from render.page.workers.render_worker import (
    RING,
    SWIFT,
    Frame,
    Trouble,
    Wanted,
    draw,
    slot_of,
    turn_of,
)
from render.page.workers.worker_process import Companion, Loss
from render.request.subject import Size, Subject
from scenes.building.build import Plan
from scenes.design.document import Design, document_of, with_changes
from scenes.light.lights import LightKind
from scenes.parts.view import CameraSpec, LightSpec, View
from scenes.problems import DesignProblem
from scenes.stage.camera import adjusted, camera_for

__all__ = ["LOOK_FIELDS", "Picture", "attach"]

TOPIC = "turnlight.frame"
"""What the browser listens to for pictures."""

_MOST_PIXELS = 2_100_000
"""Of one picture: full HD. A finer screen shows it a little enlarged."""

_LEAST_SIDE, _MOST_SIDE = 64, 4096

_ALONE = 5
"""Seconds without a browser after which nothing is drawn: a page read anew is back before."""

_HOLD = 10.0
"""Seconds that a client's hold counts; its page says again and again that it holds."""

_MOVING = 3.0
"""Seconds after its last word that a hand counts as moving: its tab may have died in a drag."""

_GUEST_LOOKS = 15.0
"""Looks a second of all guests together: each one voids the ring, for everybody."""

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
"""What the page calls a look, and the design's own field for it."""

_Look = tuple[dict[str, Any], bool]
"""What is to be looked at otherwise, and whether a hand is at it."""


def attach(page: Host) -> "Picture":
    """Put the picture on the page."""
    return Picture(page)


class Picture:
    """The picture of a page's document.

    Whatever else is to be seen begins a new epoch, and only pictures of the newest one are kept and
    refined. Whoever drags or zooms asks for more epochs than can be drawn: a quick picture whose
    epoch has passed meanwhile is shown all the same, as it is newer than what is on the screen. The
    drawing process goes on with the newest epoch each time, so epochs of the pictures shown never
    fall, and the last one shown is the newest.

    Parameters
    ----------
    page : Host
    """

    def __init__(self, page: Host) -> None:
        self._page = page
        self._state = page.state
        self._size: Size | None = None
        self._epoch = self._sight_began = 0
        self._sight: tuple[object, ...] = ()
        self._guest_looks = Newest(1 / _GUEST_LOOKS, _both, self._look_of_guests)
        self._turn = 0.0
        self._moving = self._ahead = False
        self._moved_at = 0.0
        self._look: dict[str, Any] = {"dry": False}
        self._holding: dict[int, tuple[Client, float]] = {}
        self._held = False
        self._seen = self._sent = 0
        self._kept = KeptFrames()
        self._sides: Mapping[str, Subject] = {}
        self._looked_at, self._alone = False, 0
        self._given_up = False
        self._drawing = Companion(draw, self._received, self._lost, newest=True)
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
            ("pic_look", Right.LOOK, self._looked),
            ("pic_keep", Right.EDIT, self._keep),
            ("pic_hold", Right.EDIT, self._hold),
            ("pic_got", Right.LOOK, self._got),
            ("pic_frames", Right.LOOK, self._frames),
        ):
            page.methods.declare(name, right, answer)
        page.door.on_left(self._left)
        page.desk.on_change(self._document_changed)
        page.on_tick(self._tick)
        page.on_close(self._drawing.close)
        page.on_close(self._guest_looks.close)

    @property
    def look(self) -> dict[str, Any]:
        """How the rod is looked at, in the page's words."""
        return dict(self._look)

    @property
    def turn(self) -> float:
        """How far the rod is turned, rad."""
        return self._turn

    def seen(self, subject: Subject) -> Subject:
        """The subject as it is looked at: in this light, from here, dry or not, turned so.

        What a picture that is sent shows.
        """
        light, camera = self._spot()
        design = subject.design.without_variants()
        update: dict[str, Any] = {"light": light, "camera": camera}
        if self.look["dry"]:
            update["finish"] = design.finish.model_copy(update={"coats": 0})
        return Subject(design.model_copy(update=update), subject.shelf, subject.beside)

    def _spot(self) -> tuple[LightSpec, CameraSpec]:
        """Light and camera, in the design's own terms."""
        changes: dict[str, object] = {path: self._look[name] for name, path in LOOK_FIELDS.items()}
        changes["camera.turn"] = math.degrees(self._turn)
        made = with_changes(self._page.desk.design.without_variants(), changes)
        return made.light, made.camera

    def want(self) -> None:
        """Ask again for what is wanted: something else has begun or ended."""
        self._want()

    def compare(self, mode: str) -> None:
        """Show one picture, two one above the other, or two with a line between them.

        Parameters
        ----------
        mode : str
            "one", "stacked" or "swipe".
        """
        if mode != self._state.pic_mode:
            self._state.pic_mode = mode
            self._refresh()

    # --- what the browser says --------------------------------------------------------------

    def _hello(
        self, client: Client, width: Finite, height: Finite, ratio: Finite, turn: Finite
    ) -> None:
        """Somebody looks: the picture's place is so large, and the rod turned so far, in degrees.

        A page that is opened anew is turned as the design says, wherever another had turned to. The
        size is the one of the owner's page while that is open.
        """
        stacked = self._state.pic_mode == "stacked"
        size = _fitting(width, height / (2 if stacked else 1), ratio)
        if self._size is not None and not client.is_owner and self._page.door.owner_looks:
            size = self._size
        # What was on its way to a page that is gone will not be acknowledged.
        self._seen = self._sent
        self._holding.pop(client.number, None)
        self._looked_at, self._alone = True, 0
        self._turn = math.radians(turn % 360.0)
        if size != self._size:
            self._size = size
            self._refresh()
        else:
            self._want()

    def _turned(self, degrees: Finite, moving: Flag, ahead: Flag) -> None:
        self._turn = math.radians(degrees % 360.0)
        self._moving, self._ahead, self._moved_at = moving, ahead, monotonic()
        self._want()

    def _looked(self, client: Client, changes: Values, moving: Flag = False) -> None:
        if not isinstance(changes.get("dry", False), bool):
            raise Refused("pic_look: dry must be true or false.")
        look = dict(changes), moving
        if not client.is_owner:
            self._guest_looks.put(look)
            return
        before = self._guest_looks.take()
        self._look_so(*(look if before is None else _both(before, look)))

    def _look_of_guests(self, look: _Look) -> None:
        with self._state:
            self._look_so(*look)

    def _look_so(self, changes: dict[str, Any], moving: bool) -> None:
        """Look at the rod otherwise, if that can be."""
        before = self._look
        self._look = {**before, **{name: changes[name] for name in changes if name in before}}
        try:
            # What is not right is refused as it would be in a file.
            self._spot()
        except DesignProblem as problem:
            self._look = before
            self._page.say(str(problem), guests=True)
            return
        self._state.pic_look = self.look
        self._moving, self._moved_at = moving, monotonic()
        self._refresh()

    def _keep(self) -> None:
        """Write light, camera and turn into the design."""
        changes: dict[str, object] = {path: self.look[name] for name, path in LOOK_FIELDS.items()}
        changes["camera.turn"] = round(math.degrees(self._turn), 1)
        document = document_of(self._page.desk.design, defaults=True)
        kept = {path: value for path, value in changes.items() if value != _at(document, path)}
        if not kept:
            self._page.say("The design has this light, camera and turn already.", guests=True)
            return
        self._page.desk.changes(kept)
        self._page.say("The design now has this light, camera and turn.", guests=True)

    def _hold(self, client: Client, held: Flag) -> None:
        """Somebody reaches for a slider or has hold of it, or no longer."""
        if held:
            self._holding[client.number] = client, monotonic() + _HOLD
        else:
            self._holding.pop(client.number, None)
        self._want()

    def _is_held(self) -> bool:
        """Whether a hold of somebody who may change the design has not lapsed."""
        now, door = monotonic(), self._page.door
        self._holding = {
            number: (client, until)
            for number, (client, until) in self._holding.items()
            if now < until and door.may(client, Right.EDIT)
        }
        return bool(self._holding)

    def _got(self, number: Place) -> None:
        """A picture has arrived; the quickest client decides how many are on their way."""
        # One from before the process was started anew counts for nothing.
        self._seen = max(self._seen, min(number, self._sent))
        self._want()

    def _frames(self, client: Client) -> None:
        """Send a page that has just been opened what there is already."""
        # Of what waits the newest goes first, and the pictures drawn first are those near the turn.
        for frame in self._kept:
            message = packed_publication(TOPIC, _packed(frame))
            client.outgoing.picture(place_of(frame), frame.epoch, message)

    def _left(self, client: Client) -> None:
        """Forget what a client that has gone had hold of, and was on its way to it."""
        self._holding.pop(client.number, None)
        self._seen = self._sent
        if self._page.watched:
            self._want()

    # --- what is wanted ---------------------------------------------------------------------

    def _document_changed(self) -> None:
        self._take_look()
        self._moving = False
        self._refresh()

    def _take_look(self) -> None:
        """Follow the document where its own light or camera has changed."""
        document = document_of(self._page.desk.design, defaults=True)
        found = {name: _at(document, path) for name, path in LOOK_FIELDS.items()}
        found["turn"] = _at(document, "camera.turn")
        before = self._document_look
        changed = {name: one for name, one in found.items() if before.get(name) != one}
        self._document_look = found
        if "turn" in changed:
            self._turn = math.radians(changed.pop("turn") % 360.0)
            self._state.pic_turn = math.degrees(self._turn)
        self._look = {**self._look, **changed}
        self._state.pic_look = self.look

    def _refresh(self) -> None:
        """Begin a new epoch if something else is to be seen."""
        desk = self._page.desk
        sides = {"B": desk.subject}
        if self._state.pic_mode != "one" and desk.pinned is not None:
            sides = {"A": desk.pinned, "B": desk.subject}
        seen = {name: self._without_turn(self.seen(one)) for name, one in sides.items()}
        self._sides = seen
        self._given_up = False
        self._epoch += 1
        self._kept.clear()
        sight = self._size, tuple(seen), desk.path, desk.called
        if sight != self._sight:
            # Earlier pictures show something else, or do not fit: they are no way to this one.
            self._sight, self._sight_began = sight, self._epoch
        self._state.pic_epoch = self._epoch
        self._state.pic_scale = self._scale(seen["B"])
        self._want()

    def _scale(self, subject: Subject) -> dict[str, float]:
        """How large the rod is in the picture, in the design's units."""
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

    def _want(self) -> None:
        if self._size is None or not self._sides or not self._looked_at or self._given_up:
            return
        if not self._drawing.running:
            # A hand that reaches for a slider will want a process: it takes seconds to start.
            if self._all_drawn() and not self._is_held():
                return
            self._seen = self._sent = 0
        self._held = self._is_held()
        self._drawing.send(
            Wanted(
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
        """Whether the finest pictures of this turn and of the whole ring are there."""
        turns = [self._turn, *map(turn_of, range(RING))]
        return all(self._kept.has_fine(name, one) for name in self._sides for one in turns)

    def _tick(self) -> None:
        """Draw for nobody no longer, and hold nothing back that nobody holds or moves."""
        if self._held and not self._is_held():
            self._want()
        if self._moving and monotonic() - self._moved_at > _MOVING:
            self._moving = False
            self._want()
        if self._looked_at and not self._page.watched:
            self._alone += 1
            if self._alone >= _ALONE:
                self._looked_at = False
                self._drawing.close()
        else:
            self._alone = 0

    # --- what the drawing process says --------------------------------------------------------

    def _received(self, message: Frame | Trouble) -> None:
        if isinstance(message, Trouble):
            self._page.say(message.sentence, guests=True)
            with self._state:
                self._state.pic_trouble = message.sentence
            return
        self._sent = message.number
        newest = message.epoch == self._epoch
        if not newest and (message.grade != SWIFT or message.epoch < self._sight_began):
            # Stale; nobody will acknowledge it.
            self._seen = max(self._seen, message.number)
            self._want()
            return
        if self._state.pic_trouble:
            with self._state:
                self._state.pic_trouble = ""
        if newest:
            self._kept.put(message)
        self._page.door.picture(TOPIC, place_of(message), message.epoch, _packed(message))

    def _lost(self, loss: Loss, again: bool) -> None:
        """Draw on with another process; what has been drawn stays."""
        if again:
            sentence = f"Drawing was interrupted ({loss}) and starts anew."
        else:
            self._given_up = True
            sentence = (
                f"Drawing has failed again and again ({loss}); change the design to try once more, "
                "or save it and start Turnlight anew."
            )
        self._page.say(sentence, guests=True)
        with self._state:
            self._state.pic_trouble = sentence
        self._want()


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


def _both(look: _Look, newer: _Look) -> _Look:
    """Make one of a look and a newer one."""
    return {**look[0], **newer[0]}, newer[1]


def _at(document: Mapping[str, Any], path: str) -> Any:
    table, field = path.split(".")
    return document[table][field]


def _fitting(width: float, height: float, ratio: float) -> Size:
    """Size of a picture for a place on the screen."""
    scale = min(max(float(ratio), 1.0), 2.0)
    scale = min(scale, math.sqrt(_MOST_PIXELS / max(width * height, 1.0)))

    def side(length: float) -> int:
        # Even, because a draft is half as large.
        return 2 * round(min(max(length * scale, _LEAST_SIDE), _MOST_SIDE) / 2)

    return side(width), side(height)
