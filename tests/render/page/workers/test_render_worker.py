"""The drawing process: what it draws in which order, and that no way to a design shows in it.

Every picture is held against that of a process which has drawn nothing else before.
"""

import signal
import time
from collections.abc import Iterator
from dataclasses import replace
from typing import Any, cast

import pytest

from materials.shelf import Shelf
from render.page.workers import drawing_order, render_worker
from render.page.workers.render_messages import (
    FINE,
    PLAIN,
    PREVIEW,
    Frame,
    RenderProblem,
    RenderRequest,
)
from render.page.workers.render_worker import run_render_worker
from render.request.subject import Subject
from scenes.building.build import Plan, Wrap, build
from scenes.design.document import with_changes
from scenes.files import samples

pytestmark = pytest.mark.render

_SIZE = (128, 72)


@pytest.fixture(autouse=True)
def _process(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """What a process of its own does for itself; nobody moves a slider here."""
    monkeypatch.setattr(drawing_order, "_SETTLING", {PLAIN: 0.0, FINE: 0.0})
    before = signal.getsignal(signal.SIGINT)
    yield
    signal.signal(signal.SIGINT, before)


class _Pipe:
    """Hands out one message whenever the process has nothing left to do, then hangs up."""

    def __init__(self, *messages: RenderRequest | tuple[RenderRequest, ...]) -> None:
        self._messages = [
            (message,) if isinstance(message, RenderRequest) else message for message in messages
        ]
        self.answers: list[list[Frame]] = []
        self.troubles: list[RenderProblem] = []

    def recv(self) -> tuple[RenderRequest, ...]:
        if not self._messages:
            raise EOFError
        self.answers.append([])
        return self._messages.pop(0)

    def poll(self, seconds: float = 0.0) -> bool:
        time.sleep(seconds)
        return False

    def send(self, answer: Frame | RenderProblem) -> None:
        if isinstance(answer, RenderProblem):
            self.troubles.append(answer)
        else:
            self.answers[-1].append(answer)


def _answers(*messages: RenderRequest) -> list[dict[str, bytes]]:
    """Pictures by grade, in the order in which they come, that each message is answered with."""
    pipe = _Pipe(*messages)
    run_render_worker(cast(Any, pipe))
    assert not pipe.troubles
    return [{frame.grade: frame.jpeg for frame in frames} for frames in pipe.answers]


def _request(epoch: int, changes: dict[str, object] | None = None, **given: Any) -> RenderRequest:
    design = samples.load("ringed-guide").without_variants()
    subject = Subject(with_changes(design, changes or {}), Shelf.shipped())
    asked = {"view": 1, "size": _SIZE, "seen": 10**6, "fill": False, **given}
    return RenderRequest(epoch=epoch, sides={"B": subject}, **asked)


def test_pictures_do_not_tell_what_was_drawn_before() -> None:
    # A hand at a slider holds back what cannot be broken off: the finest, and the ring.
    held, let_go = _answers(
        replace(_request(1, turn=1.0), held=True, fill=True), _request(1, turn=1.0)
    )
    assert list(held) == [PREVIEW, PLAIN]
    assert list(let_go) == [FINE]
    dry = {"finish.coats": 0, "blank.colour": "#7a3b1e"}
    before, draft, _, other, moving, good = _answers(
        # A slider is dragged,
        _request(1, dry, turn=1.0, moving=True),
        _request(2, turn=1.0, moving=True),
        # let go elsewhere, where the card behind the rod is another,
        _request(3, {**dry, "camera.zoom": 1.3}, held=True),
        # and moved back; then the rod is turned by hand.
        _request(4, turn=0.4, held=True),
        _request(4, turn=1.0, moving=True),
        _request(4, turn=1.0),
    )
    assert draft == {PREVIEW: held[PREVIEW]} != before
    assert list(other) == [PREVIEW, PLAIN]
    assert list(moving) == [PREVIEW]
    assert good == {PLAIN: held[PLAIN], FINE: let_go[FINE]}


def test_what_a_process_before_has_drawn_is_not_drawn_again() -> None:
    (answer,) = _answers(_request(1, turn=1.0, drawn={("B", 1.0): PLAIN}))
    assert list(answer) == [FINE]


def test_a_fault_that_nobody_foresaw_is_told_once_and_the_next_design_is_drawn(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    built = build

    def faulty(plan: Plan, *given: Any, **more: Any) -> Wrap:
        if plan.design.finish.coats == 0:
            raise ValueError("a grid of 7 by 9 cannot be\nthinned by 2")
        return built(plan, *given, **more)

    monkeypatch.setattr(render_worker, "build", faulty)
    dry: dict[str, object] = {"finish.coats": 0}
    pipe = _Pipe(
        _request(1, moving=True),
        # Asked for again, and at another turn: nothing of this epoch is tried once more.
        *(_request(2, dry, moving=True), _request(2, dry, moving=True), _request(2, dry, turn=1.0)),
        # The slider is dragged on, over a design with the same fault.
        _request(3, {**dry, "camera.zoom": 1.3}, moving=True),
        _request(4, moving=True),
    )
    run_render_worker(cast(Any, pipe))
    assert [trouble.epoch for trouble in pipe.troubles] == [2, 3]
    assert "fault of Turnlight itself" in pipe.troubles[0].sentence
    assert "ValueError: a grid of 7 by 9 cannot be" in pipe.troubles[0].sentence
    assert "\n" not in pipe.troubles[0].sentence
    assert [one.exc_info is not None for one in caplog.records] == [True]
    frames = [[frame.jpeg for frame in frames] for frames in pipe.answers]
    assert list(map(len, frames)) == [1, 0, 0, 0, 0, 1]
    assert frames[5] == frames[0]


def test_between_places_of_the_ring_only_the_last_turn_drawn_counts() -> None:
    # Nobody keeps more of them: the page neither, so what is turned back to is drawn anew.
    answers = _answers(
        *(_request(1, turn=turn, moving=True) for turn in (0.011, 0.022, 0.022, 0.011))
    )
    assert list(map(len, answers)) == [1, 1, 0, 1]
    assert answers[3] == answers[0]


def test_both_sides_are_drawn_though_something_newer_is_wanted_with_every_picture() -> None:
    class Hurried(_Pipe):
        """Asks for something else whenever it is looked into."""

        def __init__(self) -> None:
            super().__init__()
            self.epoch = 0

        def recv(self) -> tuple[RenderRequest, ...]:
            self.epoch += 1
            if self.epoch > 4:
                raise EOFError
            self.answers.append([])
            one = _request(self.epoch, {"camera.zoom": 1 + self.epoch / 10}, moving=True)
            return (replace(one, sides={"A": one.sides["B"], "B": one.sides["B"]}),)

        def poll(self, seconds: float = 0.0) -> bool:
            # Once after each piece of work.
            return bool(self.answers[-1])

    pipe = Hurried()
    run_render_worker(cast(Any, pipe))
    drawn = [[(frame.side, frame.epoch) for frame in frames] for frames in pipe.answers]
    assert drawn == [[("A", epoch), ("B", epoch)] for epoch in range(1, 5)]


def test_views_do_not_tell_of_each_other() -> None:
    """Clients at other turns, sizes and lights: each gets what it would get alone."""
    dry: dict[str, object] = {"finish.coats": 0, "light.kind": "low sun"}
    views = (
        _request(1, turn=1.0, held=True),
        _request(7, dry, view=2, size=(96, 128), turn=0.4, held=True),
        _request(3, {"camera.zoom": 1.5}, view=3, size=(96, 64), turn=0.4, held=True),
    )
    pipe = _Pipe(views)
    run_render_worker(cast(Any, pipe))
    (frames,) = pipe.answers
    # All drafts first.
    assert [(frame.view, frame.grade) for frame in frames] == [
        (view, grade) for grade in (PREVIEW, PLAIN) for view in (1, 2, 3)
    ]
    plain = {frame.view: frame.jpeg for frame in frames if frame.grade == PLAIN}
    for request in views[1:]:
        assert _answers(request)[0][PLAIN] == plain[request.view]


def test_what_cannot_be_drawn_for_one_view_is_drawn_for_another(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    built = build

    def faulty(plan: Plan, *given: Any, **more: Any) -> Wrap:
        if plan.design.finish.coats == 0:
            raise ValueError("no such grid")
        return built(plan, *given, **more)

    monkeypatch.setattr(render_worker, "build", faulty)
    pipe = _Pipe((_request(4, {"finish.coats": 0}, view=1), _request(1, view=2)))
    run_render_worker(cast(Any, pipe))
    assert [(trouble.view, trouble.epoch) for trouble in pipe.troubles] == [(1, 4)]
    assert [(frame.view, frame.grade) for frame in pipe.answers[0]] == [
        (2, PREVIEW),
        (2, PLAIN),
        (2, FINE),
    ]


def test_memory_is_given_back_once_a_new_wrap_is_drawn(monkeypatch: pytest.MonkeyPatch) -> None:
    pipe = _Pipe(_request(1, moving=True), _request(1), _request(2, {"finish.coats": 0}))
    given_back: list[int] = []
    monkeypatch.setattr(
        render_worker,
        "give_back_freed_memory",
        lambda: given_back.append(sum(map(len, pipe.answers))),
    )
    run_render_worker(cast(Any, pipe))
    grades = [frame.grade for frames in pipe.answers for frame in frames]
    assert grades == [PREVIEW, PLAIN, FINE, PREVIEW, PLAIN, FINE]
    # Numbers of pictures sent by then: each first one at full detail.
    assert given_back == [2, 5]
