"""The card "I wish…": from wishes to a design, by the search of ``turnlight fit``.

The search runs in a process of its own; to cancel it is to end that process. What it has found is
offered until the design changes, because the offered values were fitted to the design as it was.
"""

from typing import Any

from render.common.durations import duration_text
from render.page.cards.cards import attempt
from render.page.server.arguments import Line, Lines, Place, Refused
from render.page.server.host import Host
from render.page.server.roles import Right
from render.page.workers.fit_worker import (
    FitChoices,
    FitRequest,
    FitResult,
    FitStep,
    WishRequest,
    run_fit_worker,
)
from render.page.workers.worker_process import Loss, WorkerProcess
from scenes.design.document import Design
from scenes.problems import DesignProblem, one_of, shown
from scenes.quantities import Units, counted

__all__ = ["NO_WISHES", "Wishes", "attach"]

Json = dict[str, Any]

NO_WISHES: Json = {
    "measures": [],
    "fields": [],
    "units": "",
    "busy": "",
    "share": None,
    "tried": "",
    "problem": "",
    "stale": "",
    "heading": "",
    "reason": "",
    "columns": [],
    "rows": [],
}
"""State of the card before it is opened.

While it searches, ``share`` is the part done of the stage that ``busy`` names, and ``tried`` says
how many designs were tried and how long the stage may still take."""

_DONE = {"busy": "", "share": None, "tried": ""}

_NOTHING_FOUND = {"heading": "", "reason": "", "columns": [], "rows": []}

_STALE = "The design has changed since this was found; search again."


def attach(page: Host) -> None:
    """Add wishes to the page.

    Parameters
    ----------
    page : Host
    """
    Wishes(page)


class Wishes:
    """The wishes of one page; for the builder alone, since a search keeps a core busy.

    Parameters
    ----------
    page : Host
    """

    def __init__(self, page: Host) -> None:
        self._page = page
        self._state = page.state
        self._state.wish = NO_WISHES
        self._number = 0
        self._searching = False
        self._changes: list[dict[str, Any]] = []
        self._lines: list[list[str]] = []
        self._units = Units.MM
        self._measured: Design | None = None
        self._fitted: Design | None = None
        self._process = WorkerProcess(
            run_fit_worker, self._received, self._lost, newest=True, background=True
        )
        for name, answer in (
            ("wish_open", self._open),
            ("wish_search", self._search),
            ("wish_cancel", self._cancel),
            ("wish_take", self._take),
            ("wish_leave", self._leave),
        ):
            page.methods.declare(name, Right.OWN, answer)
        page.desk.on_change(self._changed)
        page.on_close(self._process.close)

    # --- methods that a browser may call -----------------------------------------------------

    def _open(self, units: Line) -> None:
        """Find what may be wished of the present design."""
        read = _units(units)
        design = self._page.desk.design
        if self._searching or (self._measured is design and self._state.wish["units"] == units):
            return
        self._measured = design
        self._show(busy="The design is being measured …", problem="", units=units)
        self._process.send(WishRequest(self._next(), self._page.desk.subject, read))

    def _search(
        self, units: Line, wish: Lines, at_most: Lines, at_least: Lines, free: Lines
    ) -> None:
        """Look for designs that meet wishes, written as on the command line."""
        read = _units(units)
        if self._searching:
            return
        self._searching = True
        self._units, self._fitted = read, self._page.desk.design
        self._changes = []
        self._show(busy="Searching …", share=0.0, problem="", stale="", **_NOTHING_FOUND)
        self._process.send(
            FitRequest(
                self._next(),
                self._page.desk.subject,
                read,
                tuple(wish),
                tuple(at_most),
                tuple(at_least),
                tuple(free),
            )
        )

    def _cancel(self) -> None:
        """End a search."""
        if self._searching:
            self._searching = False
            self._next()
            self._process.close()
            self._show(problem="The search was cancelled.", **_DONE)

    def _take(self, place: Place) -> Json:
        """Give the design the values of a row of the table, 0 being the design as it was."""
        if not 0 < place < len(self._changes):
            raise Refused(f"wish_take: {place} is not in the table; search again.")
        desk = self._page.desk
        if desk.design is not self._fitted:
            return attempt(desk, _refuse_stale)
        changes, lines = self._changes[place], self._lines[place]
        answer = attempt(desk, lambda: desk.changes(changes, units=self._units))
        if not answer["problem"]:
            self._leave()
            self._page.show_status(f"Taken: {'; '.join(lines)}.")
        return answer

    def _leave(self) -> None:
        """Drop what was found; the design stays as it is."""
        self._changes = []
        self._show(problem="", stale="", **_NOTHING_FOUND)

    # --- inside -------------------------------------------------------------------------------

    def _next(self) -> int:
        self._number += 1
        return self._number

    def _show(self, **changed: Any) -> None:
        with self._state:
            self._state.wish = {**self._state.wish, **changed}

    def _received(self, message: FitChoices | FitStep | FitResult) -> None:
        if message.number != self._number:
            return  # of a request that another one has replaced
        if isinstance(message, FitStep):
            tried = counted(message.tried, "design")
            left = "" if message.left is None else f", about {duration_text(message.left)} left"
            self._show(
                busy=f"Searching: {message.stage}",
                share=message.share,
                tried=f"{tried} tried{left}",
            )
        elif isinstance(message, FitChoices):
            self._show(
                busy="",
                problem=message.problem,
                measures=message.measures,
                fields=message.fields,
            )
        else:
            self._searching = False
            self._changes = [row["changes"] for row in message.rows]
            self._lines = [row["lines"] for row in message.rows]
            rows = [{**row, "changes": bool(row["changes"])} for row in message.rows]
            self._show(
                **_DONE,
                problem=message.problem,
                heading=message.heading,
                reason=message.reason,
                columns=message.columns,
                rows=rows,
            )
            self._changed()

    def _changed(self) -> None:
        """Mark what was found for an earlier state of the design."""
        stale = self._changes and self._page.desk.design is not self._fitted
        words = _STALE if stale else ""
        if self._state.wish["stale"] != words:
            self._show(stale=words)

    def _lost(self, loss: Loss, again: bool) -> None:
        self._searching = False
        self._measured = None
        then = "try once more" if again else "start Turnlight anew"
        self._show(problem=f"The search was interrupted ({loss}); {then}.", **_DONE)


def _units(text: str) -> Units:
    if text not in tuple(Units):
        raise Refused(f"wish: {shown(text)} is no unit here; give {one_of(Units)}.")
    return Units(text)


def _refuse_stale() -> None:
    raise DesignProblem(_STALE)
