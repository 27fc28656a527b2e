"""The card "I wish…": from wishes to a design, by the search of ``turnlight fit``.

What may be wished is named at once; what the wrap must be built for is measured by a process of its
own, in which the search runs too: a search that is asked for meanwhile begins when that is done. To
cancel it is to end that process. What it has found is offered until the design changes, because the
offered values were fitted to the design as it was.
"""

from collections.abc import Iterable
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
    choices_for,
    run_fit_worker,
)
from render.page.workers.worker_process import Loss, WorkerProcess
from render.timing.kept_times import Basis, KeptTimes
from render.timing.searches import work_of_search
from render.timing.work import Work
from scenes.design.document import Design
from scenes.fit.measures import MEASURES
from scenes.problems import DesignProblem, one_of, shown
from scenes.quantities import Units, counted

__all__ = ["NO_WISHES", "Wishes", "attach"]

Json = dict[str, Any]

NO_WISHES: Json = {
    "measures": [],
    "fields": [],
    "units": "",
    "measuring": False,
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

``measuring``: whether the present values that need a built wrap are still to come. While it
searches, ``busy`` names the stage, ``share`` is the part done of the whole search, and ``tried``
says how many designs were tried and how long the search still takes."""

_DONE = {"busy": "", "share": None, "tried": ""}

_NOTHING_FOUND = {"heading": "", "reason": "", "columns": [], "rows": []}

_BEGINS = "The search begins as soon as Turnlight is ready for it …"

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
        self._number = self._search_number = 0
        self._searching = False
        self._changes: list[dict[str, Any]] = []
        self._lines: list[list[str]] = []
        self._units = Units.MM
        self._measured: Design | None = None
        self._asked: WishRequest | None = None
        self._points = 0.0
        self._times = KeptTimes()
        self._work: Work | None = None
        self._expected: float | None = None
        self._fitted: Design | None = None
        self._process = WorkerProcess(
            run_fit_worker, self._received, self._lost, newest=True, background=True
        )
        for name, answer in (
            ("wish_open", self._open),
            ("wish_takes", self._takes),
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
        if self._measured is design and self._state.wish["units"] == units:
            return
        self._measured = design
        request = WishRequest(self._next(), self._page.desk.subject, read)
        choices = choices_for(request, built=False)
        self._asked = None if choices.problem else request
        self._points = choices.points
        self._show(
            units=units,
            problem=choices.problem,
            measures=choices.measures,
            fields=choices.fields,
            measuring=self._asked is not None,
        )
        self._measure()

    def _takes(self, names: Lines) -> str:
        """Say how long a search will take, for the names of what is wished."""
        return self._times.forecast(self._work_of(names)).short

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
        self._work = self._work_of(text.partition("=")[0] for text in (*wish, *at_most, *at_least))
        forecast = self._times.forecast(self._work)
        self._expected = forecast.seconds if forecast.basis is Basis.MEASURED else None
        busy = "Searching …" if self._asked is None else _BEGINS
        self._show(busy=busy, share=0.0, tried="", problem="", stale="", **_NOTHING_FOUND)
        self._search_number = self._next()
        self._process.send(
            FitRequest(
                self._search_number,
                self._page.desk.subject,
                read,
                tuple(wish),
                tuple(at_most),
                tuple(at_least),
                tuple(free),
                self._expected,
            )
        )

    def _cancel(self) -> None:
        """End a search."""
        if self._searching:
            self._searching = False
            self._process.close()
            self._show(problem="The search was cancelled.", **_DONE)
            self._measure()

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

    def _work_of(self, names: Iterable[str]) -> Work:
        """The work of a search for what has some names."""
        known = {name.strip() for name in names}
        built = any(name in MEASURES and MEASURES[name].slow for name in known)
        return work_of_search(known, self._points, built=built)

    def _measure(self) -> None:
        """Have measured what the wrap must be built for, unless a search is under way."""
        if self._asked is not None and not self._searching:
            self._process.send(self._asked)

    def _received(self, message: FitChoices | FitStep | FitResult) -> None:
        if isinstance(message, FitChoices):
            if self._asked is not None and message.number == self._asked.number:
                self._asked = None
                self._show(
                    measuring=False,
                    problem=message.problem or self._state.wish["problem"],
                    measures=message.measures,
                    fields=message.fields,
                )
                if self._searching:
                    self._show(busy="Searching …")
        elif not self._searching or message.number != self._search_number:
            return  # of a search that was cancelled
        elif isinstance(message, FitStep):
            tried = counted(message.tried, "design")
            left = ""
            if message.left is not None:
                # Most searches end with their first stage: without a measure it is a bound.
                how = "at most" if self._expected is None else "about"
                left = f", {how} {duration_text(message.left)} left"
            self._show(
                busy=f"Searching: {message.stage}",
                share=message.share,
                tried=f"{tried} tried{left}",
            )
        else:
            self._searching = False
            if message.seconds and self._work is not None:
                self._times.record(self._work, message.seconds)
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
            self._measure()

    def _changed(self) -> None:
        """Mark what was found for an earlier state of the design."""
        stale = self._changes and self._page.desk.design is not self._fitted
        words = _STALE if stale else ""
        if self._state.wish["stale"] != words:
            self._show(stale=words)

    def _lost(self, loss: Loss, again: bool) -> None:
        what = "search" if self._searching else "weighing"
        self._searching = False
        self._measured = self._asked = None
        then = "try once more" if again else "start Turnlight anew"
        self._show(
            problem=f"The {what} was interrupted ({loss}); {then}.", measuring=False, **_DONE
        )


def _units(text: str) -> Units:
    if text not in tuple(Units):
        raise Refused(f"wish: {shown(text)} is no unit here; give {one_of(Units)}.")
    return Units(text)


def _refuse_stale() -> None:
    raise DesignProblem(_STALE)
