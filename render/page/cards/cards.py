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
from render.page.cards.numerals import read_number
from render.page.cards.pending import TYPED, pending_state
from render.page.cards.profile import profile_of
from render.page.cards.shelf_threads import read_thread, sentences_naming, state_of_threads
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
from scenes.design.document import Design
from scenes.design.field_words import in_words
from scenes.design.layers import LAYER_KINDS
from scenes.editing.variant_edits import losses_by_removal
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

"""What the desk raises: each a sentence to show where the mistake was made."""


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


def attach(page: Host) -> None:
    """Add the cards to the page.

    Parameters
    ----------
    page : Host
    """
    Cards(page)


class Cards:
    """The cards of one page.

    Parameters
    ----------
    page : Host
    """

    def __init__(self, page: Host) -> None:
        self.page = page
        self.state = page.state
        self._open: dict[int, list[str]] = {}
        self._edits: dict[str, tuple[Client, float]] = {}
        self._bounds: dict[str, list[float]] = {}
        self._ranges_task: asyncio.Task[None] | None = None
        self._shown_shelf: tuple[Shelf, tuple[Thread, ...]] | None = None
        self._bench_worker = WorkerProcess(
            run_bench_worker, self._show_bench_figures, self._lost, newest=True, background=True
        )
        self._bench_figures: BenchFigures | None = None
        self._bench_task: asyncio.Task[None] | None = None
        self.state.form_bench = {
            "sections": [],
            "warnings": [],
            "private": [],
            "fresh": False,
            "trouble": "",
        }
        self.units = self.desk.design.units
        self._cards: list[Json] = []
        self.state.form_bounds = {}
        self.state.shelf_kinds = [kind.value for kind in ThreadKind]
        self.state.form_kinds = [
            {"kind": kind, "role": str(model.role)} for kind, model in LAYER_KINDS.items()
        ]
        self.show()
        self.desk.on_change(self.show)
        for name, right in _METHODS.items():
            page.methods.declare(name, right, getattr(self, name))
        page.sockets.on_disconnect(self._left)
        page.on_close(self._bench_worker.close)

    @property
    def desk(self) -> Desk:
        """The open document."""
        return self.page.desk

    def show(self) -> None:
        """Update the state of the cards from the document."""
        desk, units = self.desk, self.units
        design = _in_units(desk.design, units)
        cards = form.cards_of(design, units)
        plan = desk.subject.plan()
        derived: dict[str, list[Json]] = {}
        for figure in [*figures.figures_of(plan, units), *self._spools(cards)]:
            derived.setdefault(figure["under"], []).append(figure)
        warned: dict[str, list[str]] = {}
        for warning in figures.warnings_of(design, [field["path"] for field in _all(cards)]):
            warned.setdefault(warning["under"], []).append(warning["text"])
        self._cards = cards
        with self.state:
            self.state.desk_units = units.value
            self.state.form_cards = cards
            self.state.form_figures = derived
            self.state.form_warnings = warned
            self.state.form_pending = pending_state(desk, units)
            self.state.form_profile = profile_of(design, units)
            shelf = desk.shelf, desk.private_threads
            if self._shown_shelf != shelf:
                self._shown_shelf = shelf
                self.state.shelf_threads = state_of_threads(desk)
            self.state.shelf_file = (
                "" if desk.shelf_path is None else printable(desk.shelf_path.name, 255)
            )
            self.state.form_revision = desk.revision
            fresh = (
                self._bench_figures is not None and self._bench_figures.revision == desk.revision
            )
            self.state.form_bench = {**self.state.form_bench, "fresh": fresh}
        self._request_ranges()
        if not fresh:
            self._request_bench_figures()

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
        field = self._field(path)
        if gesture or not client.is_owner or not isinstance(value, str):
            return self.desk_changes(client, {path: value}, gesture)
        if field is None or field["type"] not in TYPED:
            return self.desk_changes(client, {path: value}, gesture)
        answer = attempt(self.desk, lambda: self._type_in(path, value))
        if not answer["problem"]:
            self._tell_overridden(client, path)
            if used := self.desk.pending_used:
                names = one_of((in_words(f" {one.path}").strip() for one in used), "and")
                self.page.show_status(f"Set with it, now that it fits: {names}.", client=client)
        return answer

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
        answer = attempt(self.desk, lambda: self._change(changes, gesture))
        if not answer["problem"]:
            for path in changes:
                self._tell_overridden(client, path)
        return answer

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

    def desk_use_alternative(self, path: FieldPath) -> Json:
        """Give a field in place of the alternative that is given now.

        Parameters
        ----------
        path : FieldPath
        """
        return attempt(self.desk, lambda: self._use_alternative(path))

    def desk_add(self, path: FieldPath, kind: Line = "") -> Json:
        """Add an entry to a list, like its last one.

        Parameters
        ----------
        path : FieldPath
            Path of the list.
        kind : Line
            Kind of entry, where there are several.
        """
        return attempt(self.desk, lambda: self._add(path, kind))

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

    def desk_units(self, units: Line) -> None:
        """Show lengths in other units, and read typed lengths in them.

        Parameters
        ----------
        units : Line
            Value of a `Units`.
        """
        if units not in tuple(Units):
            raise Refused(f"desk_units: {shown(units)} is no unit here; give {one_of(Units)}.")
        self.units = Units(units)
        self._bounds, self._bench_figures = {}, None
        self.show()

    # --- inside ------------------------------------------------------------------------------

    def _tell_overridden(self, client: Client, path: str) -> None:
        """Tell who has just changed a field that another has changed it since."""
        now = time.monotonic()
        recent = {of: edit for of, edit in self._edits.items() if now - edit[1] < _OVERLAP}
        other = recent.get(path, (client, now))[0]
        self._edits = {**recent, path: (client, now)}
        field = self._field(path)
        if other is not client and field is not None:
            text = f"{field.get('text', field['value'])} {field.get('unit', '')}".strip()
            self.page.show_status(
                f"{field['label']} was changed by somebody else just after you: it is {text} now.",
                client=other,
            )

    def _add(self, path: str, kind: str) -> None:
        self.desk.insert(path, form.new_entry(self.desk.design, path, kind))

    def _field(self, path: str) -> Json | None:
        return next((field for field in _all(self._cards) if field["path"] == path), None)

    def _type_in(self, path: str, text: str) -> None:
        try:
            value = self._read(path, text)
        except DesignProblem as problem:
            self.desk.keep_pending(PendingValue(path, text, None, self.units, str(problem)))
            raise
        self.desk.type_in(path, text, value, self.units)

    def _change(self, changes: Mapping[str, object], gesture: str) -> None:
        read = {path: self._read(path, value) for path, value in changes.items()}
        self.desk.changes(read, gesture=gesture, units=self.units)

    def _read(self, path: str, value: object) -> object:
        """Read a number from typed text, if the field holds a number."""
        field = self._field(path)
        if field is None or not isinstance(value, str):
            return value
        try:
            if field["type"] == "toml":
                return parse_value(value)
            if field["type"] in ("number", "whole"):
                return read_number(value, self.units if field["unit"] in tuple(Units) else None)
            return value
        except (DesignProblem, TextProblem) as problem:
            raise DesignProblem(f"{path}: {problem}", field=path) from None

    def _use_alternative(self, path: str) -> None:
        known = figures.alternative_values(self.desk.subject.plan(), self.units)
        if path in known:
            self.desk.change(path, known[path], units=self.units)
        else:
            self.desk.change(path, form.starting_value(self.desk.design, path))

    def _spools(self, cards: list[Json]) -> list[Json]:
        """Amounts of thread, to show below each layer's thread; none if they are out of date."""
        if self._bench_figures is None or self._bench_figures.revision != self.desk.revision:
            return []
        paths = {field["path"] for field in form.all_fields(cards)}
        found = []
        for use, text in self._bench_figures.threads:
            named = [f"{use}.{key}" for key in ("thread", "threads", "grade")]
            under = next((path for path in named if path in paths), "")
            if under:
                found.append({"under": under, "text": text, "take": None})
        return found

    def _request_bench_figures(self) -> None:
        """Request the bench figures, once nothing has changed for a moment."""
        if self._bench_task is not None:
            self._bench_task.cancel()
        with contextlib.suppress(RuntimeError):  # before the server runs there is no loop
            self._bench_task = asyncio.get_running_loop().create_task(self._send_bench_request())

    async def _send_bench_request(self) -> None:
        await asyncio.sleep(_BENCH_DELAY)
        self._bench_worker.send(BenchRequest(self.desk.revision, self.desk.subject, self.units))

    def _show_bench_figures(self, bench_figures: BenchFigures) -> None:
        if bench_figures.revision != self.desk.revision:
            return
        self._bench_figures = bench_figures
        with self.state:
            self.state.form_bench = {
                "sections": bench_figures.sections,
                "warnings": bench_figures.warnings,
                "private": sentences_naming(self.desk.private_threads, bench_figures.warnings),
                "fresh": True,
                "trouble": "",
            }
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
        with self.state:
            self.state.form_bench = {**self.state.form_bench, "trouble": sentence}

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
        design = _in_units(self.desk.design, self.units)
        opened = {card for ids in self._open.values() for card in ids}
        cards = [card for card in self._cards if card["id"] in opened]
        found: dict[str, list[float]] = {}
        for field in form.number_fields(cards):
            if field["value"] is None:
                continue
            await asyncio.sleep(0.01)
            found[field["path"]] = list(
                tightened(
                    design,
                    field["path"],
                    field["value"],
                    field["low"],
                    field["high"],
                    field["step"],
                )
            )
        if found != self._bounds:
            self._bounds = found
            with self.state:
                self.state.form_bounds = found


_METHODS = dict.fromkeys(
    (
        "desk_change",
        "desk_changes",
        "desk_settle",
        "desk_clear",
        "desk_use_alternative",
        "desk_add",
        "desk_add_layer",
        "desk_set_kind",
        "desk_remove",
        "desk_move",
        "desk_duplicate",
        "desk_units",
    ),
    Right.EDIT,
) | {
    "shelf_put": Right.OWN,
    "shelf_drop": Right.OWN,
    "form_opened": Right.LOOK,
    "pending_drop": Right.OWN,
}


def _in_units(design: Design, units: Units) -> Design:
    """The same design in other units, without its variants."""
    return design.without_variants().model_copy(update={"units": units})


def _all(cards: list[Json]) -> list[Json]:
    return list(form.all_fields(cards))
