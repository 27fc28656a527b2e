"""The picture on the page: the views of all clients, and the delivery of their frames.

Every client has a view of its own (`client_view.ClientView`; `Picture.view_of` gives that of a
client). The browser turns the rod by itself among the pictures that it has; missing ones come from
the render worker, which draws for all views.
"""

import math
from collections.abc import Callable, Iterable, Mapping
from itertools import count
from time import monotonic
from typing import Any

from render.editor.pin import Pin
from render.page.picture.client_view import ClientView
from render.page.server.arguments import Finite, Flag, Place, Refused, Values
from render.page.server.host import Host
from render.page.server.pace import Throttle
from render.page.server.roles import Right
from render.page.server.sockets import Client
from render.page.workers.render_messages import RING, Frame, RenderProblem
from render.page.workers.render_worker import run_render_worker
from render.page.workers.worker_process import Loss, WorkerProcess
from scenes.design.document import document_of
from scenes.light.lights import LightKind
from scenes.parts.view import Ground, View
from scenes.problems import DesignProblem

__all__ = ["Picture", "attach"]

_UNWATCHED_LIMIT = 5
"""Seconds without a browser after which drawing stops; a reloaded page is back before."""

_HOLD_TIMEOUT = 10.0
"""Seconds after which a client's hold of a slider lapses; its page renews it before."""

_GUEST_LOOKS = 15.0
"""Changes of their views a second that all guests together may make: each one voids a ring."""

_ABSENCE = 60.0
"""Seconds for which the view of a client that has disconnected is kept: a page that is opened anew
by the same session goes on with it."""

_MOST_ABSENT = 8
"""Views of clients that have disconnected; the one that left first is dropped for another."""

_MOST_KEPT_BYTES = 200_000_000
"""Size of the kept pictures of all views; those of the view that was used last stay longest."""

_Look = tuple[dict[str, Any], bool]
"""Changed settings of a view, and whether they are still being changed (a drag)."""


def attach(page: Host) -> "Picture":
    """Add the picture to the page.

    Parameters
    ----------
    page : Host
    """
    return Picture(page)


class Picture:
    """The pictures of a page's document: one view for each client, and the process that draws.

    Parameters
    ----------
    page : Host
    """

    def __init__(self, page: Host) -> None:
        self._page = page
        self._state = page.state
        # The view that was used last is the last.
        self._views: dict[int, ClientView] = {}
        self._numbers = count(1)
        self._guest_looks = Throttle(1 / _GUEST_LOOKS, _merged, self._looks_of_guests)
        self._holding: dict[int, tuple[Client, float]] = {}
        self._hold_callbacks: list[Callable[[bool], None]] = []
        self._pin_callbacks: list[Callable[[Client], None]] = []
        self._view_callbacks: list[Callable[[], None]] = []
        self._held = self._told_held = False
        self._is_watched, self._unwatched_seconds = False, 0
        self._given_up = False
        self._render_worker = WorkerProcess(
            run_render_worker, self._received, self._lost, newest=True
        )
        self._state.update(
            {
                "pic_ring": RING,
                "pic_lights": [kind.value for kind in LightKind],
                "pic_grounds": [ground.value for ground in Ground],
                "pic_views": [view.value for view in View],
            }
        )
        for name, right, answer in (
            ("pic_hello", Right.LOOK, self._hello),
            ("pic_rest", Right.LOOK, self._rested),
            ("pic_turn", Right.LOOK, self._turned),
            ("pic_look", Right.LOOK, self._look_changed),
            ("pic_keep", Right.EDIT, self._keep),
            ("pic_hold", Right.EDIT, self._hold),
            ("pic_got", Right.LOOK, self._got),
            ("pic_frames", Right.LOOK, self._frames),
        ):
            page.methods.declare(name, right, answer)
        page.sockets.add_own_state(lambda client: self.view_of(client).state)
        page.sockets.on_disconnect(self._left)
        page.desk.on_change(self._document_changed)
        page.on_tick(self._tick)
        page.on_close(self._render_worker.close)
        page.on_close(self._guest_looks.close)

    # --- for the other parts of the page ------------------------------------------------------

    def view_of(self, client: Client) -> ClientView:
        """Return the view of a client.

        Parameters
        ----------
        client : Client
        """
        for view in self._views.values():
            if view.client is client:
                return view
        absent = [view for view in self._absent() if view.session == client.session]
        if absent:
            view = max(absent, key=lambda view: view.left_at)
            view.attach(client)
        else:
            view = ClientView(next(self._numbers), client, self._page.desk)
            self._views[view.number] = view
        return view

    @property
    def views(self) -> list[ClientView]:
        """Views of the clients that are connected, the one that was used last first."""
        return [view for view in reversed(self._views.values()) if view.client is not None]

    def compare(self, client: Client, mode: str) -> None:
        """Choose how a client sees the open design and the one that it has pinned.

        Parameters
        ----------
        client : Client
        mode : str
            One of `client_view.MODES`.
        """
        self._used(client).compare(mode)
        self._given_up = False
        self._send_requests()

    def pin(self, client: Client, pin: Pin | None) -> None:
        """Choose the design that a client sees as A beside the open one.

        Parameters
        ----------
        client : Client
        pin : Pin or None
            None for no design: the open one is shown alone.
        """
        view = self._used(client)
        view.pin_as_a(pin)
        self._tell_pins([view])
        self._given_up = False
        self._send_requests()

    def on_pin(self, callback: Callable[[Client], None]) -> None:
        """Register a callback for clients that pin another design, or none any more.

        Parameters
        ----------
        callback : callable
            Called with the `Client`.
        """
        self._pin_callbacks.append(callback)

    def on_view(self, callback: Callable[[], None]) -> None:
        """Register a callback for the moments when a view, or what it shows, may have changed.

        Parameters
        ----------
        callback : callable
            Called without arguments.
        """
        self._view_callbacks.append(callback)

    def _tell_pins(self, views: Iterable[ClientView]) -> None:
        for view in views:
            for callback in self._pin_callbacks:
                if view.client is not None:
                    callback(view.client)

    def start_worker(self) -> None:
        """Start the render worker, for a browser that will ask for pictures soon."""
        self._render_worker.start()

    def set_frames(self, client: Client, wanted: bool) -> None:
        """Note whether a client wants frames; one that draws for itself wants none.

        Parameters
        ----------
        client : Client
        wanted : bool
        """
        view = self.view_of(client)
        if view.wants_frames != wanted:
            view.wants_frames = wanted
            self._send_requests()

    def on_hold(self, callback: Callable[[bool], None]) -> None:
        """Register a callback for the moments when a slider is held first, or no longer.

        Parameters
        ----------
        callback : callable
            Called with whether one is held.
        """
        self._hold_callbacks.append(callback)

    def resend_request(self) -> None:
        """Send the present requests to the render worker again; exports have begun or ended."""
        self._send_requests()

    # --- methods that a browser may call ------------------------------------------------------

    def _hello(
        self, client: Client, width: Finite, height: Finite, ratio: Finite, turn: Finite
    ) -> None:
        """Take the size of the picture's place on a page, CSS pixels, and its turn, degrees.

        A page that has just been opened starts at its turn; one whose place has changed its size
        stays at the turn that it was turned to.
        """
        self._holding.pop(client.number, None)
        self._is_watched, self._unwatched_seconds = True, 0
        view = self._used(client)
        if view.say_hello((width, height, ratio), math.radians(turn % 360.0)):
            self._given_up = False
        self._send_requests()

    def _rested(self, client: Client) -> None:
        """Draw no more for a page that is hidden, until it says hello again."""
        self.view_of(client).rest()
        self._send_requests()

    def _turned(self, client: Client, degrees: Finite, moving: Flag, ahead: Flag) -> None:
        turn = math.radians(degrees % 360.0)
        self._used(client).turn_to(turn, moving=moving, ahead=ahead)
        self._send_requests()

    def _look_changed(self, client: Client, changes: Values, moving: Flag = False) -> None:
        for name in ("dry", "fitted"):
            if not isinstance(changes.get(name, False), bool):
                raise Refused(f"pic_look: {name} must be true or false.")
        view = self._used(client)
        look = dict(changes), moving
        if client.is_owner:
            self._apply_look(view, look)
        else:
            self._guest_looks.put({view.number: look})

    def _looks_of_guests(self, waiting: dict[int, _Look]) -> None:
        """Apply the look that has waited longest, and leave the others for later."""
        number, look = next(iter(waiting.items()))
        others = {other: waiting[other] for other in waiting if other != number}
        if others:
            self._guest_looks.put(others)
        view = self._views.get(number)
        if view is not None:
            with self._state:
                self._apply_look(view, look)

    def _apply_look(self, view: ClientView, look: _Look) -> None:
        """Change a view, if the changes are valid."""
        try:
            # Invalid settings are refused as they would be in a file.
            view.change_look(look[0], moving=look[1])
        except DesignProblem as problem:
            self._page.show_status(str(problem), client=view.client)
            return
        self._given_up = False
        self._send_requests()

    def _keep(self, client: Client) -> None:
        """Write light, camera and turn of a client's view into the design."""
        document = document_of(self._page.desk.design, defaults=True)
        kept = {
            path: value
            for path, value in self.view_of(client).settings().items()
            if value != _at(document, path)
        }
        if not kept:
            self._page.show_status(
                "The design has this light, camera and turn already.", client=client
            )
            return
        self._page.desk.changes(kept)
        self._page.show_status("The design now has this light, camera and turn.", client=client)

    def _hold(self, client: Client, held: Flag) -> None:
        """Note that a client holds a slider or is about to, or no longer does."""
        if held:
            self._holding[client.number] = client, monotonic() + _HOLD_TIMEOUT
        else:
            self._holding.pop(client.number, None)
        self._tell_hold()
        self._send_requests()

    def _tell_hold(self) -> None:
        held = self._is_held()
        if held != self._told_held:
            self._told_held = held
            for callback in self._hold_callbacks:
                callback(held)

    def _is_held(self) -> bool:
        """Whether somebody who may change the design holds a slider."""
        now, sockets = monotonic(), self._page.sockets
        self._holding = {
            number: (client, until)
            for number, (client, until) in self._holding.items()
            if now < until and sockets.has_right(client, Right.EDIT)
        }
        return bool(self._holding)

    def _got(self, client: Client, number: Place) -> None:
        """Take the acknowledgement of a picture; each client sets the pace of its own view."""
        self.view_of(client).acknowledge(number)
        self._send_requests()

    def _frames(self, client: Client) -> None:
        """Send the kept pictures of its view to a page that has just been opened."""
        self.view_of(client).send_kept()

    # --- the views ----------------------------------------------------------------------------

    def _used(self, client: Client) -> ClientView:
        """The view of a client, which is using it: its ring is filled before those of others."""
        view = self.view_of(client)
        self._views[view.number] = self._views.pop(view.number)
        return view

    def _left(self, client: Client) -> None:
        """Drop the hold of a client that has left, and draw for its view no longer."""
        self._holding.pop(client.number, None)
        for view in self._views.values():
            if view.client is client:
                view.detach()
        absent = sorted(self._absent(), key=lambda view: view.left_at)
        for view in absent[:-_MOST_ABSENT]:
            del self._views[view.number]
        if self._page.watched:
            self._send_requests()

    def _absent(self) -> list[ClientView]:
        return [view for view in self._views.values() if view.client is None]

    def _document_changed(self) -> None:
        pinned = [view for view in self._views.values() if view.pin is not None]
        for view in self._views.values():
            view.document_changed()
        self._tell_pins(view for view in pinned if view.pin is None)
        self._given_up = False
        self._send_requests()

    def _bound_memory(self) -> None:
        """Give up kept pictures: of views that have not been used for long first."""
        total = sum(view.kept.bytes for view in self._views.values())
        for view in self._views.values():
            while total > _MOST_KEPT_BYTES and len(view.kept):
                total -= view.kept.bytes
                view.kept.give_up_oldest()
                total += view.kept.bytes

    # --- requests to the render worker ------------------------------------------------------

    def _send_requests(self) -> None:
        for callback in self._view_callbacks:
            callback()
        if not self._is_watched or self._given_up:
            return
        views = [view for view in self.views if view.is_drawn_for]
        if not self._render_worker.running:
            # A hand that reaches for a slider will want a process: it takes seconds to start.
            if not views or (_are_drawn(views) and not self._is_held()):
                return
            for view in self._views.values():
                view.forget_acknowledgements()
        self._held = self._is_held()
        fill = not self._page.sending
        self._render_worker.send(tuple(view.request(fill=fill, held=self._held) for view in views))

    def _tick(self) -> None:
        """Stop drawing when nobody watches, and end holds, drags and absences that have lapsed."""
        now = monotonic()
        self._tell_hold()
        for view in self._absent():
            if now - view.left_at > _ABSENCE:
                del self._views[view.number]
        lapsed = [view.end_lapsed_drag() for view in self._views.values()]
        if any(lapsed) or (self._held and not self._is_held()):
            self._send_requests()
        if self._is_watched and not self._page.watched:
            self._unwatched_seconds += 1
            if self._unwatched_seconds >= _UNWATCHED_LIMIT:
                self._is_watched = False
                self._render_worker.close()
        else:
            self._unwatched_seconds = 0

    # --- messages of the render worker --------------------------------------------------------

    def _received(self, message: Frame | RenderProblem) -> None:
        view = self._views.get(message.view)
        if view is None:
            return
        if isinstance(message, RenderProblem):
            if message.epoch == view.epoch:
                self._page.show_status(message.sentence, client=view.client)
                view.show_trouble(message.sentence)
        elif view.take(message):
            self._bound_memory()
        else:
            self._send_requests()

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
        for view in self._views.values():
            view.show_trouble(sentence)
        self._send_requests()


def _are_drawn(views: list[ClientView]) -> bool:
    """Whether nothing is left to draw; the ring is filled for the first view only."""
    return all(view.is_drawn(ring=place == 0) for place, view in enumerate(views))


def _merged(looks: dict[int, _Look], newer: dict[int, _Look]) -> dict[int, _Look]:
    """Combine changes of views that wait, the one that has waited longest first."""
    merged = dict(looks)
    for number, look in newer.items():
        before = merged.get(number, ({}, False))
        merged[number] = {**before[0], **look[0]}, look[1]
    return merged


def _at(document: Mapping[str, Any], path: str) -> Any:
    table, field = path.split(".")
    return document[table][field]
