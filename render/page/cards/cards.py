"""The cards at the side of the page: their state, and the edits that a browser may call."""

import asyncio
import contextlib
import time
from collections.abc import Callable, Mapping
from typing import Any

from materials.shelf import Shelf
from materials.thread import Thread, ThreadKind
from materials.toml_text import TextProblem, parse_value
from render.editor.desk import Desk
from render.editor.disk import OverwriteRefused
from render.editor.pending import PendingValue
from render.page.cards import figures, form
from render.page.cards.bounds import tightened
from render.page.cards.lay_sequence import write_out
from render.page.cards.pending import FLAG_WORDS, MAY_WAIT
from render.page.cards.shelf_threads import read_thread, state_of_threads
from render.page.cards.unit_cards import UnitCards
from render.page.cards.wrap_length import LENGTH_PATH, end_for
from render.page.guides.guide_fields import LIST_PATH, put_guides
from render.page.picture.picture import Picture
from render.page.server.arguments import (
    FieldPath,
    Flag,
    Line,
    Lines,
    Place,
    Refused,
    Typed,
    Value,
    Values,
)
from render.page.server.host import Host
from render.page.server.roles import Right
from render.page.server.sockets import Client
from render.page.workers.bench_worker import BenchFigures, BenchRequest, run_bench_worker
from render.page.workers.worker_process import Loss, WorkerProcess
from scenes.design.field_words import in_words
from scenes.design.layers import LAYER_KINDS
from scenes.design.threads import thread_names
from scenes.editing.guide_schemes import scheme_renamed
from scenes.editing.variant_edits import losses_by_removal
from scenes.numerals import read_number
from scenes.problems import DESIGN_REFUSALS, DesignProblem, one_of, printable, shown
from scenes.quantities import Units

__all__ = ["attach", "attempt"]

Json = dict[str, Any]

_RANGES_DELAY = 0.4
"""Seconds without a change before the ranges of sliders are computed again."""

_OVERLAP = 5.0
"""Seconds within which an edit of a field that another client has changed overrides it."""

_BENCH_DELAY = 0.8
"""Seconds without a change before the bench figures are computed again."""


def attempt(desk: Desk, do: Callable[[], object]) -> Json:
    """Call an edit; a refusal becomes its answer instead of an exception.

    Parameters
    ----------
    desk : Desk
    do : callable
        The edit, called without arguments.

    Returns
    -------
    dict
        ``problem``: one sentence, empty if the edit was made; ``field``: the path at fault;
        ``ask``: whether the sentence asks for a confirmation; ``revision``: that of the document.
        The answer arrives before the state; the page waits until the cards show this revision.
    """
    answer: Json = {"problem": "", "field": "", "ask": False}
    try:
        do()
    except DESIGN_REFUSALS as problem:
        answer = {
            "problem": _without_field(str(problem), getattr(problem, "field", "")),
            "field": getattr(problem, "field", ""),
            "ask": isinstance(problem, OverwriteRefused),
        }
    return {**answer, "revision": desk.revision}


def _without_field(sentence: str, field: str) -> str:
    """Remove the path at the start of a sentence: on the page it stands below its field."""
    rest = sentence.removeprefix(f"{field}: ") if field else sentence
    return in_words(rest[:1].upper() + rest[1:])


def attach(page: Host, picture: Picture) -> "Cards":
    """Add the cards to the page.

    Parameters
    ----------
    page : Host
    picture : Picture
        Knows the units of length that each client has chosen.
    """
    return Cards(page, picture)


class Cards:
    """The cards of one page: the same document for every client, in the units that it has chosen.

    Parameters
    ----------
    page : Host
    picture : Picture
        Knows the units of length that each client has chosen.
    """

    def __init__(self, page: Host, picture: Picture) -> None:
        self.page = page
        self.state = page.state
        self._picture = picture
        self._cards: dict[Units, UnitCards] = {}
        self._open: dict[int, list[str]] = {}
        self._edits: dict[str, tuple[Client, float]] = {}
        self._ranges_task: asyncio.Task[None] | None = None
        self._shown_shelf: tuple[Shelf, tuple[Thread, ...]] | None = None
        self._bench_worker = WorkerProcess(
            run_bench_worker, self._show_bench_figures, self._lost, newest=True, background=True
        )
        self._bench_figures: BenchFigures | None = None
        self._document = self.desk.document_number, self.desk.wrap_name
        self._bench_task: asyncio.Task[None] | None = None
        self._bench_trouble = ""
        self.state.shelf_kinds = [kind.value for kind in ThreadKind]
        self.state.form_kinds = [
            {"kind": kind, "role": str(model.role)} for kind, model in LAYER_KINDS.items()
        ]
        self.show()
        self.desk.on_change(self.show)
        for name, right in _METHODS.items():
            page.methods.declare(name, right, getattr(self, name))
        page.sockets.add_own_state(lambda client: self._cards_of(client).state)
        page.sockets.on_disconnect(self._left)
        page.on_close(self._bench_worker.close)

    @property
    def desk(self) -> Desk:
        """The open document."""
        return self.page.desk

    def show(self) -> None:
        """Update the state of the cards from the document."""
        desk = self.desk
        shown = desk.document_number, desk.wrap_name
        if self._document != shown:
            # Figures of another rod, or of another wrap, must not stand in its place.
            self._document, self._bench_figures = shown, None
        with self.state:
            shelf = desk.shelf, desk.private_threads
            if self._shown_shelf != shelf:
                self._shown_shelf = shelf
                self.state.shelf_threads = state_of_threads(desk)
            self.state.shelf_file = (
                "" if desk.shelf_path is None else printable(desk.shelf_path.name, 255)
            )
        self._update()
        self._request_ranges()
        if not all(cards.is_fresh for cards in self._cards.values()):
            self._request_bench_figures()

    def _update(self) -> None:
        """Update the cards in all units that clients have chosen, and send what has changed."""
        views = self._picture.views
        chosen = dict.fromkeys([view.units for view in views] or [self.desk.design.units])
        self._cards = {
            units: self._cards.get(units) or UnitCards(self.desk, units) for units in chosen
        }
        plan = self.desk.subject.plan()
        for units, cards in self._cards.items():
            changed = cards.update(plan, self._bench_figures, self._bench_trouble)
            self._send(units, changed)

    def _send(self, units: Units, changed: Mapping[str, Any]) -> None:
        """Send changed state of the cards to the clients that have chosen some units."""
        for view in self._picture.views:
            if view.client is not None and view.units is units:
                self.page.sockets.show_to(view.client, changed)

    def _units_of(self, client: Client) -> Units:
        return self._picture.view_of(client).units

    def _cards_of(self, client: Client) -> UnitCards:
        """The cards as a client sees them."""
        units = self._units_of(client)
        if units not in self._cards:
            self.show()
        return self._cards[units]

    # --- methods that a browser may call -----------------------------------------------------

    def desk_change(
        self, client: Client, path: FieldPath, value: Value, gesture: Line = ""
    ) -> Json:
        """Change one field.

        Parameters
        ----------
        client : Client
        path : FieldPath
        value : Value
            New value; a number may be the text that was typed.
        gesture : Line
            Identifier of the gesture, such as one drag of a slider.
        """
        if path == LENGTH_PATH:
            return attempt(self.desk, lambda: self._set_length(client, value, gesture))
        if path == LIST_PATH:
            return attempt(self.desk, lambda: put_guides(self.desk, value, self._units_of(client)))
        field = self._cards_of(client).field(path)
        changes = scheme_renamed(self.desk.design, path, value) or {path: value}
        waits = client.is_owner and field and field["type"] in MAY_WAIT and len(changes) == 1
        if waits and isinstance(value, str | bool) and not gesture:
            return self._attempt_typed(client, path, value)
        return self.desk_changes(client, changes, gesture)

    def desk_changes(self, client: Client, changes: Values, gesture: Line = "") -> Json:
        """Change several fields together.

        Parameters
        ----------
        client : Client
        changes : Values
            New value by path.
        gesture : Line
            Identifier of the gesture.
        """
        answer = attempt(self.desk, lambda: self._change(client, changes, gesture))
        if not answer["problem"]:
            for path in changes:
                self._tell_overridden(client, path)
        return answer

    def desk_swap_thread(self, client: Client, old: Line, new: Line) -> Json:
        """Wind another thread wherever the rod names one; variants keep theirs.

        Where it does not fit yet, it waits.

        Parameters
        ----------
        client : Client
        old, new : Line
            Names of threads.
        """
        design = self.desk.design
        paths = [path for path, name in thread_names(design) if name == old]
        if not client.is_owner:
            return self.desk_changes(client, dict.fromkeys(paths, new))
        gesture = f"swap#{self.desk.revision}"
        for path in paths:
            self._attempt_typed(client, path, new, gesture)
        self.desk.autosave()
        waiting = [path for path in paths if path in self.desk.pending]
        if waiting:
            names = one_of((in_words(f" {path}").strip() for path in waiting), "and")
            self.page.show_status(f"{new} does not fit yet for {names}.", client=client)
        return attempt(self.desk, lambda: None)

    def pending_drop(self, path: FieldPath = "") -> Json:
        """Drop what was typed and does not fit yet.

        Parameters
        ----------
        path : FieldPath
            Path of the field; empty for all.
        """
        return attempt(self.desk, lambda: self.desk.drop_pending(path))

    def desk_settle(self) -> Json:
        """Write the recovery file after a gesture has ended."""
        return attempt(self.desk, self.desk.autosave)

    def desk_clear(self, path: FieldPath) -> Json:
        """Remove a field, so that its default applies.

        Parameters
        ----------
        path : FieldPath
        """
        return attempt(self.desk, lambda: self.desk.clear(path))

    def desk_use_alternative(self, client: Client, path: FieldPath) -> Json:
        """Give a field in place of the alternative that is given now.

        Parameters
        ----------
        client : Client
        path : FieldPath
        """
        return attempt(self.desk, lambda: self._use_alternative(self._units_of(client), path))

    def desk_add(self, path: FieldPath, kind: Line = "") -> Json:
        """Add an entry to a list, like its last one.

        Parameters
        ----------
        path : FieldPath
            Path of the list.
        kind : Line
            Kind of entry, where there are several.
        """
        desk = self.desk
        return attempt(desk, lambda: desk.insert(path, form.new_entry(desk.design, path, kind)))

    def desk_add_layer(self, kind: Line) -> Json:
        """Add a layer.

        Parameters
        ----------
        kind : Line
        """
        return attempt(self.desk, lambda: self.desk.add_layer(kind))

    def desk_set_kind(self, path: FieldPath, kind: Line) -> Json:
        """Replace a layer by one of another kind with the same role.

        Parameters
        ----------
        path : FieldPath
            Path of the layer.
        kind : Line
        """
        return attempt(self.desk, lambda: self.desk.set_kind(path, kind))

    def desk_remove(self, path: FieldPath, confirmed: Flag = False) -> Json:
        """Remove an entry from its list.

        Parameters
        ----------
        path : FieldPath
            Path of the entry.
        confirmed : Flag
            Remove it without asking also if variants lose something with it.
        """
        losses: list[str] = []
        answer = attempt(
            self.desk, lambda: losses.append(losses_by_removal(self.desk.design, path))
        )
        if not answer["problem"] and any(losses) and not confirmed:
            return {**answer, "problem": losses[0], "ask": True}
        return attempt(self.desk, lambda: self.desk.remove(path))

    def desk_move(self, path: FieldPath, to: Place) -> Json:
        """Move an entry within its list.

        Parameters
        ----------
        path : FieldPath
            Path of the entry.
        to : Place
            Its new index.
        """
        return attempt(self.desk, lambda: self.desk.move(path, to))

    def desk_write_out(self, client: Client, path: FieldPath) -> Json:
        """Write out every step of a layer's pattern.

        Parameters
        ----------
        client : Client
        path : FieldPath
            Path of the layer.
        """
        aside: list[str] = []
        answer = attempt(self.desk, lambda: aside.extend(write_out(self.desk, path)))
        if aside:
            names = one_of((f'"{printable(name)}"' for name in aside), "and")
            sentence = f"Set aside, because it does not fit any more: {names}."
            self.page.show_status(sentence, client=client)
        return answer

    def desk_duplicate(self, path: FieldPath) -> Json:
        """Copy an entry.

        Parameters
        ----------
        path : FieldPath
            Path of the entry.
        """
        return attempt(self.desk, lambda: self.desk.duplicate(path))

    def shelf_put(self, given: Typed) -> Json:
        """Put a thread on the builder's own shelf.

        Parameters
        ----------
        given : Typed
            The thread's fields as typed text.
        """
        return attempt(self.desk, lambda: self.desk.put_thread(read_thread(given)))

    def shelf_drop(self, name: Line) -> Json:
        """Remove a thread from the builder's own shelf.

        Parameters
        ----------
        name : Line
            Name of the thread.
        """
        return attempt(self.desk, lambda: self.desk.drop_thread(name))

    def form_opened(self, client: Client, ids: Lines) -> None:
        """Take the list of cards that are open on a page; only their sliders need ranges.

        Parameters
        ----------
        client : Client
        ids : Lines
            Identifiers of the cards.
        """
        self._open[client.number] = ids
        self._request_ranges()

    def desk_units(self, client: Client, units: Line) -> None:
        """Show a client lengths in other units, and read those that it types in them.

        Parameters
        ----------
        client : Client
        units : Line
            Value of a `Units`.
        """
        if units not in tuple(Units):
            raise Refused(f"desk_units: {shown(units)} is no unit here; give {one_of(Units)}.")
        self._picture.view_of(client).show_units(Units(units))
        self.page.sockets.show_to(client, self._cards_of(client).state)
        self._request_ranges()

    # --- inside ------------------------------------------------------------------------------

    def _tell_overridden(self, client: Client, path: str) -> None:
        """Tell who has just changed a field that another has changed it since."""
        now = time.monotonic()
        recent = {of: edit for of, edit in self._edits.items() if now - edit[1] < _OVERLAP}
        other = recent.get(path, (client, now))[0]
        self._edits = {**recent, path: (client, now)}
        if other is client:
            return
        field = self._cards_of(other).field(path)
        if field is not None:
            text = f"{field.get('text', field['value'])} {field.get('unit', '')}".strip()
            self.page.show_status(
                f"{field['label']} was changed by somebody else just after you: it is {text} now.",
                client=other,
            )

    def _attempt_typed(
        self, client: Client, path: str, typed: str | bool, gesture: str = ""
    ) -> Json:
        """Set a field to what was typed or chosen there; it waits if it does not fit."""
        answer = attempt(self.desk, lambda: self._type_in(client, path, typed, gesture))
        if not answer["problem"]:
            self._tell_overridden(client, path)
            if used := self.desk.pending_used:
                names = one_of((in_words(f" {one.path}").strip() for one in used), "and")
                self.page.show_status(f"Set with it, now that it fits: {names}.", client=client)
        return answer

    def _type_in(self, client: Client, path: str, typed: str | bool, gesture: str) -> None:
        units = self._units_of(client)
        text = typed if isinstance(typed, str) else FLAG_WORDS[typed]
        try:
            value = self._read(client, path, typed)
        except DesignProblem as problem:
            self.desk.keep_pending(PendingValue(path, text, None, units, str(problem)))
            raise
        self.desk.type_in(PendingValue(path, text, value, units), gesture)

    def _change(self, client: Client, changes: Mapping[str, object], gesture: str) -> None:
        read = {path: self._read(client, path, value) for path, value in changes.items()}
        self.desk.changes(read, gesture=gesture, units=self._units_of(client))

    def _set_length(self, client: Client, value: object, gesture: str) -> None:
        length = self._read(client, LENGTH_PATH, value)
        if isinstance(length, bool) or not isinstance(length, int | float):
            raise DesignProblem(f"{shown(length)} is no length; give a number.", field=LENGTH_PATH)
        change = end_for(self.desk.design, length, self._units_of(client))
        self.desk.changes(change, gesture=gesture)

    def _read(self, client: Client, path: str, value: object) -> object:
        """Read a number from typed text, if the field holds a number."""
        field = self._cards_of(client).field(path)
        if field is None or not isinstance(value, str):
            return value
        try:
            if field["type"] == "toml":
                return parse_value(value)
            if field["type"] in ("number", "whole"):
                units = self._units_of(client) if field["unit"] in tuple(Units) else None
                return read_number(value, units, whole=field["type"] == "whole")
            return value
        except (DesignProblem, TextProblem) as problem:
            raise DesignProblem(f"{path}: {problem}", field=path) from None

    def _use_alternative(self, units: Units, path: str) -> None:
        known = figures.alternative_values(self.desk.subject.plan(), units)
        if path in known:
            self.desk.change(path, known[path], units=units)
        else:
            self.desk.change(path, form.starting_value(self.desk.design, path))

    def _request_bench_figures(self) -> None:
        """Request the bench figures, once nothing has changed for a moment."""
        if self._bench_task is not None:
            self._bench_task.cancel()
        with contextlib.suppress(RuntimeError):  # before the server runs there is no loop
            self._bench_task = asyncio.get_running_loop().create_task(self._send_bench_request())

    async def _send_bench_request(self) -> None:
        await asyncio.sleep(_BENCH_DELAY)
        units = tuple(self._cards)
        self._bench_worker.send(BenchRequest(self.desk.revision, self.desk.subject, units))

    def _show_bench_figures(self, bench_figures: BenchFigures) -> None:
        if bench_figures.revision != self.desk.revision:
            return
        self._bench_figures, self._bench_trouble = bench_figures, ""
        self.show()

    def _lost(self, loss: Loss, again: bool) -> None:
        """Request the figures from another process."""
        if again:
            sentence = f"Working out the bench's figures was interrupted ({loss}) and starts anew."
            self._request_bench_figures()
        else:
            sentence = (
                f"The bench's figures cannot be worked out ({loss}, again and again); change the "
                "design to try once more, or start Turnlight anew."
            )
        self.page.show_status(sentence)
        self._bench_trouble = sentence
        self._update()

    def _left(self, client: Client) -> None:
        self._open.pop(client.number, None)
        self._edits = {of: edit for of, edit in self._edits.items() if edit[0] is not client}

    def _request_ranges(self) -> None:
        """Compute the ranges of the open cards' sliders, in small steps."""
        if self._ranges_task is not None:
            self._ranges_task.cancel()
        with contextlib.suppress(RuntimeError):  # before the server runs there is no loop
            self._ranges_task = asyncio.get_running_loop().create_task(self._send_ranges())

    async def _send_ranges(self) -> None:
        # Not while a slider is dragged, because its picture would be late.
        await asyncio.sleep(_RANGES_DELAY)
        for units, cards in list(self._cards.items()):
            opened = {
                card
                for view in self._picture.views
                if view.client is not None and view.units is units
                for card in self._open.get(view.client.number, ())
            }
            design, found = cards.design, dict[str, list[float]]()
            for field in form.number_fields(cards.opened(opened)):
                if field["value"] is None or field["path"] == LENGTH_PATH:
                    continue
                await asyncio.sleep(0.01)
                bounds = (field["low"], field["high"], field["step"])
                found[field["path"]] = list(
                    tightened(design, field["path"], field["value"], *bounds)
                )
            self._send(units, cards.set_bounds(found))


_METHODS = dict.fromkeys(
    (
        "desk_change",
        "desk_changes",
        "desk_swap_thread",
        "desk_settle",
        "desk_clear",
        "desk_use_alternative",
        "desk_add",
        "desk_add_layer",
        "desk_set_kind",
        "desk_remove",
        "desk_move",
        "desk_duplicate",
        "desk_write_out",
    ),
    Right.EDIT,
) | {
    "shelf_put": Right.OWN,
    "shelf_drop": Right.OWN,
    "form_opened": Right.LOOK,
    "desk_units": Right.LOOK,
    "pending_drop": Right.OWN,
}
