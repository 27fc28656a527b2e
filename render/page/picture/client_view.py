"""The view of one client: how it looks at the document, and the pictures drawn for it.

The document belongs to all clients. Turn, size, light, exposure, backdrop, camera, dry or finished,
the units of lengths and the comparison, with the design that is pinned as A, belong to one client.
They start as in the design, and changing them does not change the design.
"""

import math
from collections.abc import Mapping
from dataclasses import replace
from time import monotonic
from typing import Any

from render.editor.desk import Desk
from render.editor.pin import Pin
from render.page.picture.captions import captions
from render.page.picture.frame_message import TOPIC, frame_message
from render.page.picture.framing import filling_zoom, picture_size, scale_of
from render.page.picture.kept_frames import KeptFrames, place_of
from render.page.server.sockets import Client
from render.page.server.wire import packed_publication
from render.page.workers.render_messages import (
    PREVIEW,
    RING,
    Frame,
    RenderRequest,
    turn_of,
)
from render.request.subject import Size, Subject
from scenes.customer.number import dry
from scenes.design.differences import differences
from scenes.design.document import document_of, with_changes
from scenes.design.pictured import pictured
from scenes.parts.view import CameraSpec, LightSpec, View
from scenes.quantities import Units
from scenes.stage.exposure import shared_light

__all__ = ["LOOK_FIELDS", "MODES", "ClientView"]

MODES = ("one", "stacked", "swipe")
"""How the open design and the pinned one are shown: one picture, one above the other, or a line
between them."""

_MOVING_TIMEOUT = 3.0
"""Seconds after the last message of a drag at which it counts as ended; its tab may be gone."""

LOOK_FIELDS = {
    "light": "light.kind",
    "light_turn": "light.turn",
    "backdrop": "light.backdrop",
    "ground": "light.ground",
    "exposure": "light.exposure",
    "hold_highlights": "light.hold_highlights",
    "view": "camera.view",
    "walk": "camera.walk",
    "rise": "camera.rise",
    "zoom": "camera.zoom",
    "along": "camera.along",
}
"""The design's field for each setting of a view, by the name that the page uses."""


class ClientView:
    """The view of one client.

    Every change of the design or of the view begins a new epoch of the view, and only pictures of
    its newest epoch are kept and refined. A drag begins more epochs than can be drawn. A preview
    whose epoch has passed meanwhile is shown all the same, because it is newer than the picture on
    the screen. The render worker always continues with the newest epoch, so the epochs of the
    pictures shown never decrease, and the last one shown is the newest.

    Parameters
    ----------
    number : int
        Identifies the view to the render worker.
    client : Client
        Whose view it is.
    desk : Desk
        The document.
    """

    def __init__(self, number: int, client: Client, desk: Desk) -> None:
        self.number = number
        self.client: Client | None = None
        self.session = client.session
        self._desk = desk
        self.mode = MODES[0]
        self.pin: Pin | None = None
        self.units = desk.design.units
        self.turn = 0.0
        self.size: Size | None = None
        self.moving = self.ahead = False
        self.epoch = 0
        self.kept = KeptFrames()
        self.left_at = 0.0
        self._moving_since = 0.0
        self._place: tuple[float, float, float] | None = None
        self._has_said_hello = False
        self.wants_frames = True
        self._document_units = desk.design.units
        self._look: dict[str, Any] = {"dry": False, "fitted": True, "along": 0.0, "zoom": 1.0}
        self._filling: dict[str, float] = {}
        self._document_look: Mapping[str, Any] = {}
        self._document: tuple[object, ...] = ()
        self._specs: tuple[object, LightSpec, CameraSpec] | None = None
        self._sides: Mapping[str, Subject] = {}
        self._compared: tuple[object, ...] = ()
        self._identity: tuple[object, ...] = ()
        self._began = 0
        self._seen = self._sent = 0
        self._state: dict[str, Any] = {
            "pic_epoch": 0,
            "pic_mode": self.mode,
            "pic_scale": {"radius": 1.0, "height": 8.0, "zoom": 1.0, "slant": 1.0},
            "pic_filling": {},
            "pic_trouble": "",
            "side_pinned": False,
            "side_variant": "",
            "side_labels": {"A": "", "B": ""},
            "side_differences": [],
        }
        self.take_document_look()
        # Its page asks for the state as a whole; from now on it is sent what changes.
        self.client = client

    # --- state of its page --------------------------------------------------------------------

    @property
    def state(self) -> Mapping[str, Any]:
        """State of the page that is this client's own."""
        return self._state

    def _show(self, **changes: Any) -> None:
        """Change state of its page."""
        changed = {
            key: value
            for key, value in changes.items()
            if key not in self._state or self._state[key] != value
        }
        self._state.update(changed)
        if changed and self.client is not None:
            self.client.outgoing.state(changed)

    def show_trouble(self, sentence: str) -> None:
        """Show over the picture why there is none, or with an empty text that there is one.

        Parameters
        ----------
        sentence : str
        """
        self._show(pic_trouble=sentence)

    # --- the client -------------------------------------------------------------------------

    def attach(self, client: Client) -> None:
        """Give the view to another connection of the same session: its page was opened anew.

        Parameters
        ----------
        client : Client
        """
        self._state["pic_turn"] = math.degrees(self.turn)
        self.client = client
        self._has_said_hello = False
        self.wants_frames = True
        self._seen = self._sent
        if not self.kept.is_whole:
            # The new page does not have the pictures that were given up.
            self._begin_epoch()

    def detach(self) -> None:
        """Note that its client has disconnected."""
        self.client = None
        self.left_at = monotonic()
        self.moving = False

    # --- how it is looked at ------------------------------------------------------------------

    @property
    def look(self) -> dict[str, Any]:
        """Settings of the view, by the names of `LOOK_FIELDS`, ``dry``, and ``fitted``.

        A view that is fitted has the zoom at which the wrap fills the picture's place on the page,
        whatever its size and the design's.
        """
        return dict(self._look)

    @property
    def seen(self) -> Subject:
        """The open design as its page shows it, with the turn and the zoom of the page."""
        light, camera = self._light_and_camera()
        camera = camera.model_copy(update={"turn": self.turn})
        return self._lit(self._desk.drawn, light, camera)

    def as_viewed(self, subject: Subject) -> Subject:
        """Apply the view to a subject: light, camera, turn, dry or finished.

        Parameters
        ----------
        subject : Subject
        """
        light, camera = self._light_and_camera()
        camera = camera.model_copy(update={"turn": self.turn, "zoom": self._kept_zoom})
        return self._lit(subject, light, camera)

    def _lit(self, subject: Subject, light: LightSpec, camera: CameraSpec) -> Subject:
        design = subject.design.without_variants()
        update = {"light": light, "camera": camera}
        if self._look["dry"]:
            design = dry(design)
        return replace(subject, design=design.model_copy(update=update))

    def _light_and_camera(self) -> tuple[LightSpec, CameraSpec]:
        """Light and camera of the view, as parts of a design; the camera's turn is 0."""
        design = self._desk.design
        key = tuple(self._look.items()), design.units
        if self._specs is None or self._specs[0] != key:
            changes: dict[str, object] = {
                path: self._look[name] for name, path in LOOK_FIELDS.items()
            }
            changes["camera.turn"] = 0.0
            made = with_changes(design.without_variants(), changes)
            self._specs = key, made.light, made.camera
        return self._specs[1:]

    def say_hello(self, place: tuple[float, float, float], turn: float) -> bool:
        """Take the size of the picture's place on the page; a page just opened also sets the turn.

        Parameters
        ----------
        place : (float, float, float)
            Width and height, CSS pixels, and device pixels in a CSS pixel.
        turn : float
            Turn of the rod, rad.

        Returns
        -------
        bool
            Whether the size is another one than before.
        """
        self._place, self._rests = place, False
        # Pictures on their way to a page that was closed will not be acknowledged.
        self._seen = self._sent
        if not self._has_said_hello:
            self._has_said_hello = True
            self.turn = turn
        size = self._fitting()
        if size == self.size:
            return False
        self.size = size
        self._fill()
        self.refresh()
        return True

    def rest(self) -> None:
        """Note that the page is hidden: nothing is drawn for it until it says hello again."""
        self._rests, self.moving = True, False

    def turn_to(self, turn: float, *, moving: bool, ahead: bool) -> None:
        """Turn the rod.

        Parameters
        ----------
        turn : float
            Turn of the rod, rad.
        moving : bool
            Whether it is being turned by hand.
        ahead : bool
            Whether it spins.
        """
        self.turn, self.moving, self.ahead = turn, moving, ahead
        self._moving_since = monotonic()

    def change_look(self, changes: Mapping[str, Any], *, moving: bool) -> None:
        """Change settings of the view.

        Parameters
        ----------
        changes : mapping
            By the names of `look`; other names are ignored.
        moving : bool
            Whether they are still being changed.

        Raises
        ------
        DesignProblem
            If a setting would be refused in a design file; nothing is changed then.
        """
        before = self._look
        self._look = {**before, **{name: changes[name] for name in changes if name in before}}
        if "zoom" in changes and "fitted" not in changes:
            self._look["fitted"] = False
        try:
            self._light_and_camera()
            self._fit()
        except Exception:
            self._look = before
            raise
        self._show(pic_look=self.look)
        self.moving, self._moving_since = moving, monotonic()
        self.refresh()

    def compare(self, mode: str) -> None:
        """Choose how the open design and the pinned one are shown.

        Parameters
        ----------
        mode : str
            One of `MODES`.
        """
        if mode != self.mode:
            self._set_mode(mode)
            self.refresh()

    def _set_mode(self, mode: str) -> None:
        self.mode = mode
        self._show(pic_mode=mode)
        if self._place is not None:
            self.size = self._fitting()
            self._fill()

    def pin_as_a(self, pin: Pin | None) -> None:
        """Choose the design that stands as A beside the open one.

        Parameters
        ----------
        pin : Pin or None
            None for no design: the open one is shown alone.
        """
        compared = self.mode != MODES[0]
        self._set_pin(pin)
        if compared:
            self.refresh()
        else:
            self._caption()

    def _set_pin(self, pin: Pin | None) -> None:
        self.pin = pin
        self._show(side_pinned=pin is not None, side_variant=pin.variant if pin else "")
        if pin is None:
            self._set_mode(MODES[0])

    def show_units(self, units: Units) -> None:
        """Name lengths in other units.

        Parameters
        ----------
        units : Units
        """
        self.units = units
        self._caption()

    def end_lapsed_drag(self) -> bool:
        """End a drag without any message for a while; return whether there was one."""
        lapsed = self.moving and monotonic() - self._moving_since > _MOVING_TIMEOUT
        if lapsed:
            self.moving = False
        return lapsed

    def settings(self) -> dict[str, object]:
        """Light, camera and turn as values of the design's fields, by path."""
        found: dict[str, object] = {path: self._look[name] for name, path in LOOK_FIELDS.items()}
        found["camera.turn"] = round(math.degrees(self.turn), 1)
        found["camera.zoom"] = self._kept_zoom
        return found

    @property
    def _kept_zoom(self) -> float:
        """Zoom of pictures in files: that of a fitted view suits the place on the page alone."""
        return 1.0 if self._look["fitted"] else float(self._look["zoom"])

    def _fill(self) -> None:
        """Find the zoom at which the wrap fills the picture, for each view; take it if fitted."""
        if self.size is None:
            return
        plan = self._desk.drawn.plan()
        self._filling = {view.value: filling_zoom(plan, view, self._aspect) for view in View}
        self._show(pic_filling=self._filling)
        self._fit()
        self._show(pic_look=self.look)

    def _fit(self) -> None:
        if self._look["fitted"]:
            self._look = {**self._look, "zoom": self._filling.get(self._look["view"], 1.0)}

    # --- the document -------------------------------------------------------------------------

    def document_changed(self) -> None:
        """Follow a change of the document."""
        self.take_document_look()
        self._fill()
        self.moving = False
        if self.pin is not None and self.pin.document_number != self._desk.document_number:
            self._set_pin(None)
        self.refresh()

    def take_document_look(self) -> None:
        """Take over light, camera and turn where the document's own have changed.

        A setting that this client has changed itself stays, unless another document was opened.
        """
        desk = self._desk
        document = document_of(desk.design, defaults=True)
        found = {name: _at(document, path) for name, path in LOOK_FIELDS.items()}
        found["turn"] = _at(document, "camera.turn")
        found["fitted"] = "zoom" not in desk.design.camera.model_fields_set
        before, self._document_look = self._document_look, found
        another = (desk.path, desk.called) != self._document
        self._document = desk.path, desk.called
        self._convert_lengths(desk.design.units)
        changed = {
            name: value
            for name, value in found.items()
            if before.get(name) != value and (another or self._is_at(name, before[name]))
        }
        if "turn" in changed:
            self.turn = math.radians(changed.pop("turn") % 360.0)
            self._show(pic_turn=math.degrees(self.turn))
        self._look = {**self._look, **changed}
        self._show(pic_look=self.look)

    def _convert_lengths(self, units: Units) -> None:
        """Convert the settings that are lengths when the document has got other units."""
        if units != self._document_units:
            self._look["along"] *= self._document_units.in_mm / units.in_mm
            self._document_units = units

    def _is_at(self, name: str, value: Any) -> bool:
        """Whether a setting has a value that the document had."""
        if name == "zoom" and self._look["fitted"]:
            return True
        if name == "turn":
            return abs(math.remainder(math.degrees(self.turn) - value, 360.0)) < 1e-6
        return bool(self._look[name] == value)

    def refresh(self) -> None:
        """Begin a new epoch: the design or the view has changed."""
        desk = self._desk
        sides = {"B": desk.drawn}
        if self.mode != MODES[0] and self.pin is not None:
            sides = {"A": self.pin.subject, "B": desk.drawn}
        light, camera = self._light_and_camera()
        light = shared_light(light, (subject.plan() for subject in sides.values()))
        shown = {
            name: _untitled(self._lit(subject, light, camera)) for name, subject in sides.items()
        }
        identity = self.size, tuple(sides), desk.path, desk.called
        if (shown, identity) == (self._sides, self._identity) and not self._state["pic_trouble"]:
            # Nothing of what has changed shows on the rod: the pictures are right, and stay.
            self._caption()
            return
        self._sides = shown
        self._begin_epoch()
        if identity != self._identity:
            # Pictures of earlier epochs show another document or have another size: drop late ones.
            self._identity, self._began = identity, self.epoch
        self._show(pic_epoch=self.epoch, pic_scale=scale_of(self._sides["B"], self._aspect))
        self._caption()

    def _caption(self) -> None:
        """Say how the pinned design and the open one differ."""
        pin, design, units = self.pin, self._desk.drawn_design, self.units
        compared = pin, design, units, self._look["dry"]
        if compared == self._compared:
            return
        self._compared = compared
        if pin is None:
            self._show(side_labels={"A": "", "B": ""}, side_differences=[])
            return
        light, camera = self._light_and_camera()
        pinned, present = (
            self._lit(subject, light, camera).design for subject in (pin.subject, self._desk.drawn)
        )
        if self._look["dry"]:
            # What a finish would be like shows in neither picture.
            present = present.model_copy(update={"finish": pinned.finish})
        self._show(
            side_labels=captions(pinned, present, units),
            side_differences=differences(pin.whole, design, units),
        )

    def _begin_epoch(self) -> None:
        self.epoch += 1
        self.kept.clear()
        self._show(pic_epoch=self.epoch)

    @property
    def _aspect(self) -> float:
        """Width over height of its pictures; of a wide screen as long as their size is unknown."""
        width, height = self.size or (16, 9)
        return width / height

    def _fitting(self) -> Size:
        """Size of a picture, pixels, for its place on the page."""
        assert self._place is not None
        width, height, ratio = self._place
        return picture_size(width, height / 2 if self.mode == "stacked" else height, ratio)

    # --- pictures -----------------------------------------------------------------------------

    @property
    def is_drawn_for(self) -> bool:
        """Whether its client is connected, has said how large the picture is, and wants frames."""
        ready = self.size is not None and bool(self._sides) and self.wants_frames
        return ready and self.client is not None and not self._rests

    def is_drawn(self, *, ring: bool) -> bool:
        """Return whether there are fine pictures of this turn.

        Parameters
        ----------
        ring : bool
            And of the whole ring.
        """
        turns = [self.turn, *(map(turn_of, range(RING)) if ring else ())]
        return all(self.kept.has_fine(name, turn) for name in self._sides for turn in turns)

    def request(self, *, fill: bool, held: bool) -> RenderRequest:
        """What is to be drawn; the client must be connected and have said hello.

        Parameters
        ----------
        fill : bool
            Whether to fill the ring.
        held : bool
            Whether somebody holds a slider.
        """
        assert self.size is not None
        assert self.client is not None
        return RenderRequest(
            self.number,
            self.epoch,
            self._sides,
            self.size,
            self.turn,
            self.moving,
            self.ahead,
            self._seen,
            fill=fill,
            held=held,
            guest=not self.client.is_owner,
            drawn=self.kept.grades,
        )

    def forget_acknowledgements(self) -> None:
        """Count pictures anew: another process will draw them."""
        self._seen = self._sent = 0

    def acknowledge(self, number: int) -> None:
        """Take the acknowledgement of a picture.

        Parameters
        ----------
        number : int
            Of the picture.
        """
        # Acknowledgements from before a restart of the worker do not count.
        self._seen = max(self._seen, min(number, self._sent))

    def take(self, frame: Frame) -> bool:
        """Keep a picture and send it to the client; return False if it is stale.

        Parameters
        ----------
        frame : Frame
        """
        self._sent = frame.number
        newest = frame.epoch == self.epoch
        if not newest and (frame.grade != PREVIEW or frame.epoch < self._began):
            # It is not sent, so no client will acknowledge it.
            self._seen = max(self._seen, frame.number)
            return False
        self.show_trouble("")
        if newest:
            self.kept.put(frame)
        self._send(frame)
        return True

    def send_kept(self) -> None:
        """Send the kept pictures to the client; its page has just been opened."""
        # The newest in the queue is sent first, and pictures near the turn were drawn first.
        for frame in self.kept:
            self._send(frame)

    def _send(self, frame: Frame) -> None:
        if self.client is not None:
            message = packed_publication(TOPIC, frame_message(frame))
            self.client.outgoing.picture(place_of(frame), frame.epoch, message)


def _at(document: Mapping[str, Any], path: str) -> Any:
    table, field = path.split(".")
    return document[table][field]


def _untitled(subject: Subject) -> Subject:
    """A subject without what no picture shows."""
    return Subject(pictured(subject.design), subject.shelf, subject.beside)
