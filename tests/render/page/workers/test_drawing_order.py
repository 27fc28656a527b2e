"""The order in which several views are drawn for, without anything that draws."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from materials.shelf import Shelf
from render.page.workers.drawing_order import DrawingOrder, Step
from render.page.workers.render_messages import (
    FINE,
    PLAIN,
    PREVIEW,
    RING,
    RenderRequest,
    turn_of,
)
from render.request.subject import Subject
from scenes.files import samples

SUBJECT = Subject(samples.load("ringed-guide").without_variants(), Shelf.shipped())


def request(view: int, epoch: int = 1, **given: Any) -> RenderRequest:
    """A request whose browser has acknowledged everything."""
    given = {"size": (64, 64), "seen": 10**6, "fill": False, **given}
    return RenderRequest(view, epoch, given.pop("sides", {"B": SUBJECT}), **given)


class Drawing:
    """An order of work, a clock that is set by hand, and what was drawn."""

    def __init__(self) -> None:
        self.now = 100.0
        self.order = DrawingOrder(clock=lambda: self.now)
        self.drawn: list[tuple[int, float, str]] = []

    def take(self, *requests: RenderRequest) -> None:
        self.order.take(requests)

    def step(self) -> Step | float | None:
        """What is to be drawn now, or the seconds until then."""
        return self.order.next(lambda _: True)

    def draw(self, most: int = 1) -> list[tuple[int, float, str]]:
        """Draw so many pictures at most, without waiting; give view, turn and grade of each."""
        before = len(self.drawn)
        while len(self.drawn) - before < most:
            self.order.take(self.order.requests)
            step = self.step()
            if not isinstance(step, Step):
                break
            self.order.served(step.progress)
            for side, turn, grade in step.pictures:
                step.progress.note(side, turn, grade, len(self.drawn) + 1)
                self.drawn.append((step.progress.request.view, turn, grade))
        return self.drawn[before:]

    def finish(self, *requests: RenderRequest) -> None:
        """Draw all that there is to draw, however long it takes."""
        self.take(*requests)
        self.now += 60
        self.draw(10_000)


@pytest.mark.parametrize("first", [1, 2])
def test_after_an_edit_every_view_gets_its_draft_before_any_gets_better(first: int) -> None:
    """Two clients at other turns: the first two pictures are the drafts of both."""
    drawing = Drawing()
    views = {1: request(1, turn=0.5, guest=False), 2: request(2, turn=2.0, guest=True)}
    drawing.finish(*views.values())
    # The ring of one of them was being filled; either may have been used last.
    ahead = [views.pop(first), *views.values()]
    drawing.take(*(replace(one, epoch=2) for one in ahead))
    drafts = drawing.draw(2)
    assert {(view, grade) for view, _, grade in drafts} == {(1, PREVIEW), (2, PREVIEW)}
    assert {view: turn for view, turn, _ in drafts} == {1: 0.5, 2: 2.0}
    assert [grade for *_, grade in drawing.draw(2)] == [PLAIN, PLAIN]
    assert drawing.step() == pytest.approx(0.8)
    drawing.now += 0.8
    assert [grade for *_, grade in drawing.draw(2)] == [FINE, FINE]


def test_who_moves_is_drawn_first_and_who_waits_gets_the_next() -> None:
    drawing = Drawing()
    moving = request(2, turn=0.1, moving=True)
    drawing.take(request(1), moving)
    assert drawing.draw() == [(2, 0.1, PREVIEW)]
    # Its hand goes on: the other view has no picture yet, and gets one in between.
    drawing.take(request(1), replace(moving, turn=0.2))
    assert drawing.draw() == [(1, 0.0, PREVIEW)]
    assert drawing.draw() == [(2, 0.2, PREVIEW)]
    for turn in (0.3, 0.4):
        drawing.take(request(1), replace(moving, turn=turn))
        assert drawing.draw(5) == [(2, turn, PREVIEW)]


def test_two_hands_are_served_in_turn() -> None:
    drawing = Drawing()
    for step in range(1, 9):
        drawing.take(*(request(view, turn=step / 10 + view, moving=True) for view in (1, 2)))
        drawing.draw()
    assert [view for view, *_ in drawing.drawn] == [1, 2] * 4


def test_many_guests_get_no_more_than_the_owner() -> None:
    drawing = Drawing()
    for step in range(1, 13):
        drawing.take(
            *(
                request(view, turn=step / 10 + view, moving=True, guest=view != 3)
                for view in range(1, 7)
            )
        )
        drawing.draw()
    views = [view for view, *_ in drawing.drawn]
    assert views.count(3) == 6
    assert all(views.count(guest) >= 1 for guest in (1, 2, 4, 5, 6))


def test_a_hand_that_never_rests_keeps_nobody_from_a_plain_picture_for_ever() -> None:
    drawing = Drawing()
    resting = request(1)
    for step in range(40):
        drawing.take(request(2, turn=step / 10, moving=True), resting)
        drawing.draw(9)
        drawing.now += 0.1
    grades = [grade for view, _, grade in drawing.drawn if view == 1]
    assert grades == [PREVIEW, PLAIN]
    # Nothing that comes meanwhile breaks this one off.
    order, resting = drawing.order, request(1, epoch=2)
    drawing.take(resting)
    drawing.draw()
    drawing.now += 5
    drawing.take(request(2, turn=9.0, moving=True), resting)
    step = drawing.step()
    assert isinstance(step, Step)
    assert step.patient
    assert not order.is_stale(step, [request(2, turn=9.1, moving=True), resting])


def test_a_hand_that_asks_for_more_than_can_be_drawn_keeps_nobody_from_a_plain_picture() -> None:
    drawing = Drawing()
    resting = request(1)
    for step in range(40):
        drawing.take(request(2, turn=step / 10, moving=True), resting)
        drawing.draw()
        drawing.now += 0.1
    plain = [place for place, (view, _, grade) in enumerate(drawing.drawn) if grade == PLAIN]
    assert [drawing.drawn[place][0] for place in plain] == [1]
    assert plain[0] <= 22


def test_the_ring_of_the_view_used_last_is_filled_and_no_other() -> None:
    drawing = Drawing()
    views = [request(2, turn=turn_of(7), fill=True), request(1, fill=True)]
    drawing.take(*views)
    drawing.now += 1
    assert len(drawing.draw(6)) == 6
    ring = drawing.draw(10_000)
    assert {view for view, *_ in ring} == {2}
    assert len(ring) == 2 * (RING - 1)
    assert {round(abs(turn - turn_of(7)), 6) for _, turn, _ in ring[:2]} == {
        round(turn_of(1), 6),
    }
    # The other one is used now.
    drawing.take(*reversed(views))
    assert {view for view, *_ in drawing.draw(10_000)} == {1}
    assert drawing.step() is None


def test_a_browser_that_acknowledges_nothing_slows_its_own_view_only() -> None:
    drawing = Drawing()
    for step in range(1, 9):
        drawing.take(
            request(1, epoch=step, seen=0, moving=True), request(2, epoch=step, moving=True)
        )
        drawing.draw(2)
    assert [view for view, *_ in drawing.drawn].count(1) == 3
    assert [view for view, *_ in drawing.drawn].count(2) == 8
    drawing.take(request(1, epoch=8, seen=5, moving=True))
    assert drawing.draw() == [(1, 0.0, PREVIEW)]


def test_a_slider_in_a_hand_holds_back_fine_pictures_and_the_ring_of_every_view() -> None:
    drawing = Drawing()
    drawing.finish(request(1, held=True, fill=True), request(2, held=True, fill=True))
    assert {grade for *_, grade in drawing.drawn} == {PREVIEW, PLAIN}
    assert len(drawing.drawn) == 4


def test_a_view_that_has_gone_is_drawn_for_no_longer() -> None:
    drawing = Drawing()
    drawing.take(request(1), request(2))
    drawing.draw()
    step = drawing.step()
    assert isinstance(step, Step)
    left = 3 - step.progress.request.view
    assert drawing.order.is_stale(step, [request(left)])
    drawing.take(request(left))
    drawing.now += 60
    assert {view for view, *_ in drawing.draw(99)} == {left}


@pytest.mark.parametrize(
    ("what", "stale"),
    [
        (lambda one: replace(one, turn=1.0), False),
        (lambda one: replace(one, epoch=2), True),
        (lambda one: replace(one, turn=1.0, moving=True), True),
    ],
)
@pytest.mark.parametrize("other", [False, True])
def test_what_is_in_hand_is_broken_off_for_what_is_wanted_at_once(
    what: Callable[[RenderRequest], RenderRequest], stale: bool, other: bool
) -> None:
    """By the view itself, and by another one alike."""
    drawing = Drawing()
    views = [request(1), request(2)]
    drawing.take(*views)
    drawing.draw(2)
    step = drawing.step()
    assert isinstance(step, Step)
    assert step.pictures[0][2] == PLAIN
    mine = step.progress.request
    newest = [what(one) if (one.view != mine.view) is other else one for one in views]
    assert drawing.order.is_stale(step, newest) is stale
