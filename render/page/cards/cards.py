"""The cards at the side of the page: what the page is told, and what it may ask for."""

import asyncio
import contextlib
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from materials.shelf import Shelf
from materials.thread import Thread, ThreadKind
from materials.toml_text import TextProblem, parse_value
from render.editor.desk import Desk
from render.editor.disk import OverwriteRefused
from render.page.cards import figures, form
from render.page.cards.bounds import tightened
from render.page.cards.numerals import read_number
from render.page.server.arguments import (
    FieldPath,
    Line,
    Lines,
    Place,
    Refused,
    Typed,
    Value,
    Values,
)
from render.page.server.door import Client
from render.page.server.host import Host
from render.page.server.roles import Right
from render.page.workers.bench_worker import BenchFigures, BenchRequest, run_bench_worker
from render.page.workers.worker_process import Loss, WorkerProcess
from scenes.design.document import Design
from scenes.design.layers import LAYER_KINDS
from scenes.problems import DESIGN_REFUSALS, DesignProblem, one_of, printable, shown
from scenes.quantities import Length, Units

__all__ = ["attach", "attempt"]

Json = dict[str, Any]

_STILL = 0.4
"""Seconds without a change before the ends of sliders are looked for again."""

_PLACES = 121
"""Points of the drawn outline of the blank."""

_LENGTH = Length(0, 0, "")

_PAUSE = 0.8
"""Seconds without a change before the bench's figures are worked out anew."""

"""What the desk raises: each a sentence to show where the mistake was made."""


def attempt(desk: Desk, do: Callable[[], object]) -> Json:
    """Do what the page asks; a refusal is its answer, not an error.

    Returns
    -------
    dict
        ``problem``: one sentence, empty if it was done; ``field``: the path at fault; ``ask``:
        whether the sentence asks for a decision; ``revision``: the one at which the cards show
        what was done, for the answer is there before they are.
    """
    told: Json = {"problem": "", "field": "", "ask": False}
    try:
        do()
    except DESIGN_REFUSALS as problem:
        told = {
            "problem": _without_field(str(problem), getattr(problem, "field", "")),
            "field": getattr(problem, "field", ""),
            "ask": isinstance(problem, OverwriteRefused),
        }
    return {**told, "revision": desk.revision}


def _without_field(sentence: str, field: str) -> str:
    """Leave out the path that a sentence begins with: on the page it stands under its field."""
    told = sentence.removeprefix(f"{field}: ") if field else sentence
    return told[:1].upper() + told[1:]


def attach(page: Host) -> None:
    """Set the first state of the cards, and answer what they ask."""
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
        self._bounds: dict[str, list[float]] = {}
        self._bounding: asyncio.Task[None] | None = None
        self._shelf: Shelf | None = None
        self._bench_worker = WorkerProcess(run_bench_worker, self._take, self._lost, newest=True)
        self._bench_figures: BenchFigures | None = None
        self._bench_task: asyncio.Task[None] | None = None
        self.state.form_bench = {"sections": [], "warnings": [], "fresh": False, "trouble": ""}
        self.units = self.desk.design.units
        self._cards: list[Json] = []
        self.state.form_bounds = {}
        self.state.shelf_kinds = [kind.value for kind in ThreadKind]
        self.state.form_kinds = [
            {"kind": kind, "role": str(model.role)} for kind, model in LAYER_KINDS.items()
        ]
        self.show()
        self.desk.on_change(self.show)
        for name, right in _ASKED.items():
            page.methods.declare(name, right, getattr(self, name))
        page.door.on_left(self._left)
        page.on_close(self._bench_worker.close)

    @property
    def desk(self) -> Desk:
        """The open document."""
        return self.page.desk

    def show(self) -> None:
        """Tell the page how the document stands."""
        desk, units = self.desk, self.units
        design = _in_units(desk.design, units)
        cards = form.cards_of(design, units)
        plan = desk.subject.plan()
        told: dict[str, list[Json]] = {}
        for figure in [*figures.figures_of(plan, units), *self._spools(cards)]:
            told.setdefault(figure["under"], []).append(figure)
        warned: dict[str, list[str]] = {}
        for warning in figures.warnings_of(design, [field["path"] for field in _all(cards)]):
            warned.setdefault(warning["under"], []).append(warning["text"])
        self._cards = cards
        with self.state:
            self.state.desk_units = units.value
            self.state.form_cards = cards
            self.state.form_figures = told
            self.state.form_warnings = warned
            self.state.form_profile = _profile(design, units)
            self.state.form_variants = [variant.name for variant in desk.design.variants]
            if self._shelf is not desk.shelf:
                self._shelf = desk.shelf
                self.state.shelf_threads = _threads(desk)
            self.state.shelf_file = (
                "" if desk.shelf_path is None else printable(desk.shelf_path.name, 255)
            )
            self.state.form_revision = desk.revision
            fresh = (
                self._bench_figures is not None and self._bench_figures.revision == desk.revision
            )
            self.state.form_bench = {**self.state.form_bench, "fresh": fresh}
        self._bound_anew()
        if not fresh:
            self._request_bench_figures()

    # --- what the page may ask ---------------------------------------------------------------

    def desk_change(self, path: FieldPath, value: Value, gesture: Line = "") -> Json:
        """Change one field; a number may come as it was typed."""
        return attempt(self.desk, lambda: self._change({path: value}, gesture))

    def desk_changes(self, changes: Values, gesture: Line = "") -> Json:
        """Change fields together."""
        return attempt(self.desk, lambda: self._change(changes, gesture))

    def desk_settle(self) -> Json:
        """A gesture has ended: what it changed is written down."""
        return attempt(self.desk, self.desk.autosave)

    def desk_clear(self, path: FieldPath) -> Json:
        """Leave a field out again."""
        return attempt(self.desk, lambda: self.desk.clear(path))

    def desk_use_alternative(self, path: FieldPath) -> Json:
        """Give a field in place of another of which a layer has one."""
        return attempt(self.desk, lambda: self._use_alternative(path))

    def desk_add(self, path: FieldPath, kind: Line = "") -> Json:
        """Add an entry to a list, like the last one there."""
        return attempt(self.desk, lambda: self._add(path, kind))

    def desk_add_layer(self, kind: Line) -> Json:
        """Add a layer."""
        return attempt(self.desk, lambda: self.desk.add_layer(kind))

    def desk_set_kind(self, path: FieldPath, kind: Line) -> Json:
        """Make a layer another of its role."""
        return attempt(self.desk, lambda: self.desk.set_kind(path, kind))

    def desk_remove(self, path: FieldPath) -> Json:
        """Take an entry out of its list."""
        return attempt(self.desk, lambda: self.desk.remove(path))

    def desk_move(self, path: FieldPath, to: Place) -> Json:
        """Move an entry within its list."""
        return attempt(self.desk, lambda: self.desk.move(path, to))

    def desk_duplicate(self, path: FieldPath) -> Json:
        """Copy an entry."""
        return attempt(self.desk, lambda: self.desk.duplicate(path))

    def desk_keep_variant(self, name: Line) -> Json:
        """Keep what has changed since the pin as a variant."""
        told = attempt(self.desk, lambda: self.desk.keep_variant(name.strip()))
        if not told["problem"]:
            self.page.show_status(
                f"{name.strip()} is kept among the variants; the design is A again.", guests=True
            )
        return told

    def desk_take_variant(self, name: Line) -> Json:
        """Make the design one of its variants."""
        return attempt(self.desk, lambda: self.desk.take_variant(name))

    def shelf_put(self, given: Typed) -> Json:
        """Put a thread on the builder's own shelf."""
        return attempt(self.desk, lambda: self.desk.put_thread(_thread(given)))

    def shelf_drop(self, name: Line) -> Json:
        """Take a thread off the builder's own shelf."""
        return attempt(self.desk, lambda: self.desk.drop_thread(name))

    def form_opened(self, client: Client, ids: Lines) -> None:
        """A page says which cards are open there: only their sliders need their ends."""
        self._open[client.number] = ids
        self._bound_anew()

    def desk_units(self, units: Line) -> None:
        """Show lengths in other units, and read what is typed in them."""
        if units not in tuple(Units):
            raise Refused(f"desk_units: {shown(units)} is no unit here; give {one_of(Units)}.")
        self.units = Units(units)
        self._bounds, self._bench_figures = {}, None
        self.show()

    # --- inside ------------------------------------------------------------------------------

    def _add(self, path: str, kind: str) -> None:
        self.desk.insert(path, form.new_entry(self.desk.design, path, kind))

    def _change(self, changes: Mapping[str, object], gesture: str) -> None:
        read = {path: self._read(path, value) for path, value in changes.items()}
        self.desk.changes(read, gesture=gesture, units=self.units)

    def _read(self, path: str, value: object) -> object:
        """Read a number from what was typed, where the field holds one."""
        field = next((field for field in _all(self._cards) if field["path"] == path), None)
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
        """Say under each layer's thread how much it takes, as long as that is still true."""
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
        """Have the bench's figures worked out, once nothing has changed for a moment."""
        if self._bench_task is not None:
            self._bench_task.cancel()
        with contextlib.suppress(RuntimeError):  # before the server runs there is no loop
            self._bench_task = asyncio.get_running_loop().create_task(self._send_bench_request())

    async def _send_bench_request(self) -> None:
        await asyncio.sleep(_PAUSE)
        self._bench_worker.send(BenchRequest(self.desk.revision, self.desk.subject, self.units))

    def _take(self, bench_figures: BenchFigures) -> None:
        if bench_figures.revision != self.desk.revision:
            return
        self._bench_figures = bench_figures
        with self.state:
            self.state.form_bench = {
                "sections": bench_figures.sections,
                "warnings": bench_figures.warnings,
                "fresh": True,
                "trouble": "",
            }
        self.show()

    def _lost(self, loss: Loss, again: bool) -> None:
        """Work the figures out with another process."""
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

    def _bound_anew(self) -> None:
        """Look for the ends of the open cards' sliders, a little at a time."""
        if self._bounding is not None:
            self._bounding.cancel()
        with contextlib.suppress(RuntimeError):  # before the server runs there is no loop
            self._bounding = asyncio.get_running_loop().create_task(self._bound())

    async def _bound(self) -> None:
        # Not while a slider is dragged: its picture is waited for.
        await asyncio.sleep(_STILL)
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


_ASKED = dict.fromkeys(
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
        "desk_keep_variant",
        "desk_take_variant",
        "desk_units",
    ),
    Right.EDIT,
) | {"shelf_put": Right.OWN, "shelf_drop": Right.OWN, "form_opened": Right.LOOK}


def _in_units(design: Design, units: Units) -> Design:
    """The same design as if its file had other units, without its variants."""
    return design.without_variants().model_copy(update={"units": units})


def _all(cards: list[Json]) -> list[Json]:
    return list(form.all_fields(cards))


def _profile(design: Design, units: Units) -> Json:
    """What is drawn of the blank, all in the units shown."""
    blank, place = design.blank.measured(), design.placement
    stations = design.blank.stations
    spans = [fitting.span for fitting in design.blank.fitted]
    covered = [layer.extent(place) for layer in design.layers]
    ends = [stations[0].at, stations[-1].at, *(end for span in spans for end in span)]
    first, last = min(ends), max(ends)
    z = np.linspace(first, last, _PLACES)

    def to(mm: float) -> float:
        return round(_LENGTH.write(float(mm), units), 4)

    return {
        "first": to(first),
        "last": to(last),
        "outline": [[to(a), to(2 * r)] for a, r in zip(z, blank.radius(z), strict=True)],
        "stations": [
            {"path": f"blank.stations.{i}", "at": to(station.at), "diameter": to(station.diameter)}
            for i, station in enumerate(stations)
        ],
        "fitted": [
            {
                "path": f"blank.fitted.{i}",
                "kind": fitting.kind,
                "from": to(fitting.span[0]),
                "to": to(fitting.span[1]),
                "diameter": to(getattr(fitting, "diameter", 0.0)),
            }
            for i, fitting in enumerate(design.blank.fitted)
        ],
        "from": to(place.start),
        "to": to(place.end),
        "wound": [to(min(a for a, _ in covered)), to(max(b for _, b in covered))],
        "unit": units.value,
        "step": 0.05 if units is Units.IN else 1.0,
        "fine": 0.005 if units is Units.IN else 0.05,
    }


def _threads(desk: Desk) -> list[Json]:
    own = desk.own_threads
    return [
        {
            "name": thread.name,
            "kind": thread.kind.value,
            "size": thread.size,
            "colour": thread.colour,
            "diameter": thread.diameter_mm,
            "tex": thread.tex,
            "spool": thread.spool_m,
            "price": thread.price,
            "own": thread in own,
        }
        for thread in desk.shelf.threads
    ]


def _thread(given: Mapping[str, object]) -> Thread:
    """Read a thread as it was typed.

    Raises
    ------
    DesignProblem, MaterialProblem
    """
    numbers: dict[str, float] = {}
    for name in ("diameter", "tex", "spool", "price"):
        text = str(given.get(name, "")).strip()
        try:
            numbers[name] = float(read_number(text, Units.MM if name == "diameter" else None))
        except DesignProblem as problem:
            raise DesignProblem(f"{name}: {problem}", field=name) from None
    words = {name: str(given.get(name, "")).strip() for name in ("name", "size", "colour", "kind")}
    if words["kind"] not in tuple(ThreadKind):
        raise DesignProblem(f"kind: give one of {', '.join(ThreadKind)}.", field="kind")
    return Thread(
        words["name"],
        ThreadKind(words["kind"]),
        words["size"],
        words["colour"],
        diameter_mm=numbers["diameter"],
        tex=numbers["tex"],
        spool_m=numbers["spool"],
        price=numbers["price"],
    )
