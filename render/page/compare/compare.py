"""Comparison: a client's pinned design A beside the open design B, and a sweep of a field."""

import base64
import math
from dataclasses import dataclass, field
from functools import partial
from typing import Any
from weakref import WeakKeyDictionary

from render.editor.pin import Pin
from render.page.cards import form
from render.page.picture.client_view import MODES, ClientView
from render.page.picture.picture import Picture
from render.page.send.send import Exports
from render.page.server.arguments import FieldPath, Line, Place, Refused
from render.page.server.host import Host
from render.page.server.roles import Right
from render.page.server.sockets import Client
from render.page.workers.background import run_in_background
from render.page.workers.export_worker import JobEnded, Thumbnail
from render.request.subject import Subject
from scenes.design import paths
from scenes.design.document import Design, document_of
from scenes.design.field_words import in_words
from scenes.design.variants import sweep
from scenes.problems import DESIGN_REFUSALS, DesignProblem, shown
from scenes.quantities import plain_number

__all__ = ["Side"]

Json = dict[str, Any]

_ROW = 5
"""Number of values that are proposed for a sweep."""

_SMALL = (384, 168)
"""Size of a small picture, pixels."""


@dataclass(slots=True)
class _Sweep:
    """What a client tries: values of one field, each as a small picture.

    Parameters
    ----------
    path : str
        Path of the field.
    values : str
        As typed, with commas.
    tries : list of dict
        ``label``, ``picture``: a data URL, empty until it is drawn; ``value``.
    job : int
        Number of the job that draws them; 0 before the first.
    working : bool
        Whether it runs or waits.
    problem : str
        Why nothing is drawn, or taken; empty if it is.
    shown : dict
        State that the client's page was sent last.
    """

    path: str = ""
    values: str = ""
    tries: list[Json] = field(default_factory=list)
    job: int = 0
    working: bool = False
    problem: str = ""
    shown: Json = field(default_factory=dict)

    @property
    def state(self) -> Json:
        """State of the client's page."""
        return {
            "side_path": self.path,
            "side_values": self.values,
            "side_row": self.tries,
            "side_working": self.working,
            "side_problem": self.problem,
        }


class Side:
    """The comparisons of one page: each client has its own.

    Parameters
    ----------
    page : Host
    picture : Picture
        Shows one design or both.
    exports : Exports
        Draws the small pictures of a sweep.
    """

    def __init__(self, page: Host, picture: Picture, exports: Exports) -> None:
        self._page = page
        self._picture = picture
        self._exports = exports
        self._state = page.state
        # A page that is opened anew goes on with its view, and so with its sweep.
        self._sweeps: WeakKeyDictionary[ClientView, _Sweep] = WeakKeyDictionary()
        self._fields: dict[str, Json] = {}
        self._state.update({"side_fields": [], "side_kept": "", "side_unkept": ""})
        for name, right, answer in (
            ("side_pin", Right.LOOK, self._pin),
            ("side_unpin", Right.LOOK, self._unpin),
            ("side_mode", Right.LOOK, self._set_mode),
            ("side_fields", Right.EDIT, self._list_fields),
            ("side_suggest", Right.EDIT, self._suggest),
            ("side_sweep", Right.EDIT, self._sweep),
            ("side_take", Right.EDIT, self._take),
        ):
            page.methods.declare(name, right, answer)
        page.sockets.add_own_state(self._state_of)
        self._of = self._seen_from()
        page.desk.on_change(self._follow)

    def _state_of(self, client: Client) -> Json:
        """State of a page that is opened; whether its bar is open it decides itself later."""
        view = self._picture.view_of(client)
        trial = self._sweep_of(view)
        trial.shown = trial.state
        return {"side_open": view.mode != MODES[0], **trial.shown}

    def pin_of(self, client: Client) -> Pin | None:
        """Return what a client has pinned as A.

        Parameters
        ----------
        client : Client
        """
        return self._picture.view_of(client).pin

    def pin(self, client: Client, pin: Pin | None) -> None:
        """Choose what a client has as A; others see what they saw.

        Parameters
        ----------
        client : Client
        pin : Pin or None
            None for no design.
        """
        self._picture.pin(client, pin)

    def show_beside(self, client: Client, pin: Pin) -> None:
        """Choose what a client has as A, and show it beside the open design.

        Parameters
        ----------
        client : Client
        pin : Pin
        """
        self.pin(client, pin)
        if self._picture.view_of(client).mode == MODES[0]:
            self._picture.compare(client, "stacked")

    def _pin(self, client: Client) -> None:
        self.show_beside(client, self._page.desk.pin())
        self._page.show_status("Kept as A. Whatever is changed now is B.", client=client)

    def _unpin(self, client: Client) -> None:
        self.pin(client, None)
        self._page.show_status("", client=client)

    def _set_mode(self, client: Client, mode: Line) -> None:
        if mode in MODES and (mode == MODES[0] or self.pin_of(client) is not None):
            self._picture.compare(client, mode)

    # --- sweep of a field's values ----------------------------------------------------------

    def _sweep_of(self, view: ClientView) -> _Sweep:
        return self._sweeps.setdefault(view, _Sweep())

    def _seen_from(self) -> tuple[int, str]:
        """What the paths of fields lead through: the document, and the wrap it is seen from."""
        return self._page.desk.document_number, self._page.desk.wrap_name

    def _follow(self) -> None:
        """Forget fields and values of a design that is not open any more; pages ask anew."""
        if self._seen_from() == self._of:
            return
        self._of = self._seen_from()
        self._fields = {}
        with self._state:
            self._state.side_fields = []
        for view, trial in list(self._sweeps.items()):
            job, shown = trial.job, trial.shown
            self._sweeps[view] = _Sweep(shown=shown)
            if job:
                self._exports.cancel(job)
            self._show(view)

    def _show(self, view: ClientView) -> None:
        """Send a client what has changed of its sweep, and no text that it may be changing."""
        trial = self._sweep_of(view)
        before, trial.shown = trial.shown, trial.state
        changed = {key: value for key, value in trial.shown.items() if before.get(key) != value}
        if view.client is not None:
            self._page.sockets.show_to(view.client, changed)

    async def _list_fields(self, client: Client) -> None:
        """List the fields that can be swept; finding their ranges takes a second."""
        view = self._picture.view_of(client)
        while True:
            of, design = self._seen_from(), self._page.desk.design
            found = await run_in_background(partial(form.sweepable, design))
            if of == self._seen_from():
                break
        with self._state:
            self._fields = {field["path"]: field for field in found}
            self._state.side_fields = [
                {"path": path, "label": f"{field['label']}{field['unit'] and ', '}{field['unit']}"}
                for path, field in self._fields.items()
            ]
            if found and self._sweep_of(view).path not in self._fields:
                elsewhere = ("blank.", "placement.")
                laid = [path for path in self._fields if not path.startswith(elsewhere)]
                gaps = [path for path in laid if path.endswith(".gap")]
                self._propose(view, (gaps or laid or list(self._fields))[0])

    def _suggest(self, client: Client, path: FieldPath) -> str:
        """Propose valid values around the present one."""
        if path not in self._fields:
            raise Refused(f"side_suggest: {shown(path)} is no field that can be swept.")
        return self._propose(self._picture.view_of(client), path)

    def _propose(self, view: ClientView, path: str) -> str:
        trial = self._sweep_of(view)
        trial.path = path
        trial.values = ", ".join(map(plain_number, _spread(self._fields[path])))
        self._show(view)
        return trial.values

    def _sweep(self, client: Client, path: FieldPath, values: Line) -> None:
        """Start to draw the small pictures of a sweep, as a client looks at the design."""
        desk = self._page.desk
        view = self._picture.view_of(client)
        trial = self._sweep_of(view)
        trial.problem = ""
        try:
            made = sweep(desk.design, f"{path}={values}")
            subjects = tuple(
                view.as_viewed(Subject(design, desk.shelf_to_choose_from, desk.beside))
                for _, design in made
            )
            for subject in subjects:
                subject.plan().prepare()
        except DESIGN_REFUSALS as problem:
            trial.problem = in_words(str(problem))
            self._show(view)
            return
        trial.path, trial.values = path, values
        trial.tries = [
            {"label": label, "picture": "", "value": _value_at(design, path)}
            for label, design in made
        ]
        if trial.job:
            self._exports.cancel(trial.job)
        trial.working = True
        trial.job = self._exports.row(subjects, _SMALL, partial(self._arrived, view))
        self._show(view)

    def _arrived(self, view: ClientView, message: Thumbnail | JobEnded) -> None:
        trial = self._sweep_of(view)
        if message.number != trial.job:
            return
        if isinstance(message, JobEnded):
            trial.working = False
            trial.problem = message.problem or trial.problem
        else:
            text = base64.b64encode(message.jpeg).decode("ascii")
            row = list(trial.tries)
            row[message.place] = {**row[message.place], "picture": f"data:image/jpeg;base64,{text}"}
            trial.tries = row
        self._show(view)

    def _take(self, client: Client, place: Place) -> None:
        """Set the field to the value of one of the small pictures."""
        view = self._picture.view_of(client)
        trial = self._sweep_of(view)
        try:
            if place >= len(trial.tries):
                raise DesignProblem("That picture is no longer there; choose another.")
            taken = trial.tries[place]
            self._page.desk.change(trial.path, taken["value"])
        except DESIGN_REFUSALS as problem:
            trial.problem = in_words(str(problem))
            self._show(view)
            return
        self._page.show_status(f"Taken: {taken['label']}.", client=client)


def _spread(field: Json) -> list[float]:
    """Valid values around the present one, in round steps."""
    value, low, high = field["value"], field["low"], field["high"]
    if isinstance(value, int):
        stride = max(1, round((high - low) / 12))
    else:
        stride = _round_step(max(min(abs(value) * 0.25, (high - low) / 4), 1e-3))
    values = [value + k * stride for k in range(-(_ROW // 2), _ROW // 2 + 1)]
    kept = [round(min(max(value, low), high), 6) for value in values]
    return list(dict.fromkeys(kept))


def _round_step(rough: float) -> float:
    """The largest of 1, 2, 5 times a power of ten that is not above `rough`."""
    power = 10.0 ** math.floor(math.log10(rough))
    return next(k * power for k in (5, 2, 1) if k * power <= rough * (1 + 1e-9))


def _value_at(design: Design, path: str) -> Any:
    """Value of a design's field, in the design's own units."""
    here: Any = document_of(design, defaults=True)
    for key in paths.route(here, path):
        here = here[key]
    return here
