"""The order in which the render worker draws for several views.

A view is one client's: its turn, its size, its light. The order of work is:

1. The view that somebody moves, then views that have no picture of their present state: after an
   edit every view gets its draft before any view gets a finer picture.
2. Plain pictures of what is looked at, then fine ones, each once its view has been at rest.
3. The ring of the view that was used last.

Nobody waits for ever: who moves alternates with who waits for a draft, the owner's views with those
of the guests, and among these the view that was served longest ago comes first. A picture that
cannot be interrupted is started beside somebody who moves only after a view has waited for it.
"""

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from render.page.workers.render_messages import (
    FINE,
    GRADES,
    PLAIN,
    PREVIEW,
    RING,
    RenderRequest,
    slot_of,
    turn_of,
)

__all__ = ["DrawingOrder", "Step", "ViewProgress"]

_SETTLING = {PLAIN: 0.25, FINE: 0.8}
"""Seconds without another request of a view before a picture of that grade is started: it cannot be
interrupted, and somebody who moves a slider again would wait for it."""

_PATIENCE = {PLAIN: 2.0, FINE: 10.0}
"""Seconds at rest after which a view gets a picture of that grade although another view moves."""

_MOST_UNACKNOWLEDGED = 3
"""Pictures of a view that may be on their way to its browser."""


@dataclass(slots=True)
class ViewProgress:
    """What has been drawn for a view.

    Parameters
    ----------
    request : RenderRequest
        The newest.
    since : float
        Time at which epoch, turn or movement changed last, s.
    done : dict of (str, float) to int
        Place in `GRADES` of what has been drawn of this epoch, by side and turn.
    failed : bool
        Whether this epoch cannot be drawn.
    served : int
        Serial number of the last step for this view.
    unacknowledged : list of int
        Numbers of the pictures that its browser has not acknowledged.
    """

    request: RenderRequest
    since: float
    done: dict[tuple[str, float], int] = field(default_factory=dict)
    failed: bool = False
    served: int = 0
    unacknowledged: list[int] = field(default_factory=list)

    @property
    def may_be_drawn(self) -> bool:
        """Whether its browser keeps up, and its design can be drawn."""
        return not self.failed and len(self.unacknowledged) < _MOST_UNACKNOWLEDGED

    def is_below(self, side: str, turn: float, grade: str) -> bool:
        """Return whether there is no picture of at least this grade.

        Parameters
        ----------
        side : str
        turn : float
            Turn of the rod, rad.
        grade : str
        """
        return self.done.get((side, _key(turn)), -1) < GRADES.index(grade)

    def lacking(self, turn: float) -> list[str]:
        """Sides without any picture at a turn.

        Parameters
        ----------
        turn : float
            Turn of the rod, rad.
        """
        return [side for side in self.request.sides if self.is_below(side, turn, PREVIEW)]

    def take(self, request: RenderRequest, now: float) -> None:
        """Take a newer request.

        Parameters
        ----------
        request : RenderRequest
        now : float
            Time, s.
        """
        before = self.request
        if request.epoch != before.epoch:
            self._begin(request)
        if (request.epoch, request.turn, request.moving) != (
            before.epoch,
            before.turn,
            before.moving,
        ):
            self.since = now
        self.request = request
        self.unacknowledged = [number for number in self.unacknowledged if number > request.seen]

    def _begin(self, request: RenderRequest) -> None:
        self.failed = False
        self.done = {
            (side, _key(turn)): GRADES.index(grade) for (side, turn), grade in request.drawn.items()
        }

    @classmethod
    def begun(cls, request: RenderRequest, now: float) -> "ViewProgress":
        """Progress of a view that has just come.

        Parameters
        ----------
        request : RenderRequest
        now : float
            Time, s.
        """
        made = cls(request, now)
        made._begin(request)
        return made

    def note(self, side: str, turn: float, grade: str, number: int) -> None:
        """Record a picture that was sent; between two slots of the ring only the last is kept.

        Parameters
        ----------
        side : str
        turn : float
            Turn of the rod, rad.
        grade : str
        number : int
            Of the picture.
        """
        if slot_of(turn) is None:
            for place in list(self.done):
                if place[0] == side and slot_of(place[1]) is None:
                    del self.done[place]
        self.done[side, _key(turn)] = GRADES.index(grade)
        self.unacknowledged.append(number)


@dataclass(frozen=True, slots=True)
class Step:
    """What to draw next.

    Parameters
    ----------
    progress : ViewProgress
        Of the view.
    pictures : tuple of (str, float, str)
        Side, turn in rad, and grade of each picture.
    patient : bool
        Whether its view has waited so long that nobody else interrupts it.
    """

    progress: ViewProgress
    pictures: tuple[tuple[str, float, str], ...]
    patient: bool = False


class DrawingOrder:
    """Chooses what to draw next, for several views.

    Parameters
    ----------
    clock : callable
        Returns the time, s.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._views: dict[int, ViewProgress] = {}
        self._served = 0
        self._served_role = {False: 0, True: 0}
        self._mover_last = False

    @property
    def requests(self) -> list[RenderRequest]:
        """The newest request of each view, the view that was used last first."""
        return [progress.request for progress in self._views.values()]

    def take(self, requests: Sequence[RenderRequest]) -> None:
        """Take the newest requests; views that are not among them have gone.

        Parameters
        ----------
        requests : sequence of RenderRequest
            The view that was used last first.
        """
        now = self._clock()
        known, self._views = self._views, {}
        for request in requests:
            progress = known.get(request.view)
            if progress is None:
                progress = ViewProgress.begun(request, now)
            else:
                progress.take(request, now)
            self._views[request.view] = progress

    def next(self, is_settled: Callable[[RenderRequest], bool]) -> Step | float | None:
        """Choose what to draw next.

        Parameters
        ----------
        is_settled : callable
            Returns whether a picture of a request can be drawn without building anything first.

        Returns
        -------
        Step, float or None
            A step; or the seconds after which there will be one, without another message; or None
            if there is nothing to do.
        """
        views = [progress for progress in self._views.values() if progress.may_be_drawn]
        waiting = [progress for progress in views if progress.lacking(progress.request.turn)]
        moved = any(request.moving for request in self.requests)
        resting = [
            progress
            for progress in views
            if not progress.request.moving and progress not in waiting
        ]
        if waiting:
            # A hand may ask for more than can be drawn: what has waited long enough is due.
            due = self._better(resting, PLAIN, moved, is_settled) if moved else None
            if isinstance(due, Step):
                return due
            return self._first_pictures(self._next_waiting(waiting))
        for grade in (PLAIN, FINE):
            step = self._better(resting, grade, moved, is_settled)
            if step is not None:
                return step
        return None if moved else self._ring()

    def served(self, progress: ViewProgress) -> None:
        """Record that a view has had its turn.

        Parameters
        ----------
        progress : ViewProgress
        """
        self._served += 1
        progress.served = self._served_role[progress.request.guest] = self._served

    def is_stale(self, step: Step, newest: Sequence[RenderRequest]) -> bool:
        """Return whether newer requests make a step useless, or something else more urgent.

        Parameters
        ----------
        step : Step
        newest : sequence of RenderRequest
        """
        mine = step.progress.request
        now = next((request for request in newest if request.view == mine.view), None)
        if now is None or now.epoch != mine.epoch or now.moving:
            return True
        return not step.patient and any(
            self._will_wait(request) for request in newest if request is not now
        )

    # --- inside -----------------------------------------------------------------------------

    def _will_wait(self, request: RenderRequest) -> bool:
        """Whether a view of a newer request has no picture of its present state."""
        progress = self._views.get(request.view)
        if progress is None or progress.request.epoch != request.epoch:
            return True
        return progress.may_be_drawn and request.moving and bool(progress.lacking(request.turn))

    def _rank(self, progress: ViewProgress) -> tuple[int, int]:
        return self._served_role[progress.request.guest], progress.served

    def _next_waiting(self, waiting: list[ViewProgress]) -> ViewProgress:
        """Of the views without a picture, the one to serve: who moves first, then in turn."""
        movers = [progress for progress in waiting if progress.request.moving]
        others = [progress for progress in waiting if not progress.request.moving]
        chosen = others if others and (self._mover_last or not movers) else movers
        self._mover_last = chosen is movers
        return min(chosen, key=self._rank)

    def _first_pictures(self, progress: ViewProgress) -> Step:
        """First pictures of a turn, of all sides: previews, if somebody waits for them."""
        request = progress.request
        moved = any(other.moving for other in self.requests)
        pictures = []
        for side in progress.lacking(request.turn):
            waits = moved or not any(drawn == side for drawn, _ in progress.done)
            pictures.append((side, request.turn, PREVIEW if waits else PLAIN))
        return Step(progress, tuple(pictures))

    def _better(
        self,
        resting: list[ViewProgress],
        grade: str,
        moved: bool,
        is_settled: Callable[[RenderRequest], bool],
    ) -> Step | float | None:
        """The next picture of a grade of what is looked at, or the time until it is due, s."""
        now = self._clock()
        soonest = None
        for progress in sorted(resting, key=self._rank):
            request = progress.request
            if grade == FINE and request.held:
                continue
            side = next(
                (name for name in request.sides if progress.is_below(name, request.turn, grade)),
                None,
            )
            if side is None:
                continue
            if moved:
                delay = _PATIENCE[grade]
            else:
                delay = 0.0 if grade == PLAIN and is_settled(request) else _SETTLING[grade]
            left = progress.since + delay - now
            if left <= 0:
                return Step(progress, ((side, request.turn, grade),), patient=moved)
            soonest = left if soonest is None else min(soonest, left)
        return soonest

    def _ring(self) -> Step | None:
        """The next picture of the ring of the view that was used last."""
        progress = next(iter(self._views.values()), None)
        if progress is None or not progress.may_be_drawn:
            return None
        request = progress.request
        if not request.fill or request.held:
            return None
        here = request.turn / (2 * np.pi) * RING
        for grade in (PLAIN, FINE):
            for slot in _slots(here, ahead=request.ahead):
                for side in request.sides:
                    if progress.is_below(side, turn_of(slot), grade):
                        return Step(progress, ((side, turn_of(slot), grade),))
        return None


def _slots(here: float, *, ahead: bool) -> list[int]:
    """Slots of the ring in the order in which they are likely to be viewed."""
    if ahead:
        return sorted(range(RING), key=lambda slot: (slot - here + 1e-6) % RING)
    return sorted(range(RING), key=lambda slot: abs((slot - here + RING / 2) % RING - RING / 2))


def _key(turn: float) -> float:
    return round(turn % (2 * np.pi), 6)
