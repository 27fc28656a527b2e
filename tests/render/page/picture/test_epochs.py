"""Which pictures are passed on to the browsers, whatever is asked for while they are drawn.

The drawing process is stood for: it takes the newest that is wanted, and is done with a picture
whenever a test says so.
"""

import time
from collections.abc import Callable, Coroutine
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from render.editor.desk import Desk
from render.page.app import Page
from render.page.picture import picture
from render.page.picture.kept_frames import KeptFrames
from render.page.server.outgoing import Outgoing
from render.page.server.roles import Role, Session
from render.page.server.sockets import Client
from render.page.workers.render_worker import (
    FINE,
    PLAIN,
    PREVIEW,
    RING,
    Frame,
    RenderRequest,
    turn_of,
)
from tests.loops import run as run_loop
from tests.render.page.server.serving import IdleWorker
from tests.render.page.workers.test_worker_process import until


def client_of(role: Role) -> Client:
    """Stand for somebody's tab."""

    async def send(_: bytes) -> None:
        raise AssertionError("nothing is sent here")

    return Client(1, Session(role.value, role), Outgoing(send, lambda: 0))


OWNER, GUEST = client_of(Role.OWNER), client_of(Role.GUEST)


class Sight:
    """A page, its drawing process, and the pictures that browsers are sent.

    Parameters
    ----------
    page : Page
    monkeypatch : pytest.MonkeyPatch
    """

    def __init__(self, page: Page, monkeypatch: pytest.MonkeyPatch) -> None:
        self.page, self.picture = page, page.picture
        self.shown: list[tuple[int, str, str]] = []
        self._number = 0
        self._at_work: RenderRequest | None = None

        def passed_on(_: str, place: tuple[str, int], epoch: int, frame: dict[str, Any]) -> None:
            assert frame["epoch"] == epoch
            self.shown.append((epoch, frame["side"], frame["grade"]))

        monkeypatch.setattr(page.sockets, "publish_picture", passed_on)
        self.picture._hello(OWNER, 400, 300, 1, 0)

    @property
    def messages(self) -> list[RenderRequest]:
        """All that the drawing process was told."""
        worker: Any = self.picture._render_worker
        messages: list[RenderRequest] = worker.messages
        return messages

    def begin(self) -> None:
        """Let the process begin with what is wanted now."""
        self._at_work = self.messages[-1]

    def finish(self, grade: str = PREVIEW, side: str = "B") -> int:
        """Let it be done with a picture; give the picture's epoch."""
        assert self._at_work is not None
        self._number += 1
        epoch = self._at_work.epoch
        self.picture._received(Frame(self._number, epoch, side, self._at_work.turn, grade, b""))
        return epoch


@pytest.fixture
def on_sight(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Callable[[Callable[[Sight], Coroutine[Any, Any, None]]], None]:
    """Run a test on a page that is not served."""
    monkeypatch.setenv("TURNLIGHT_STATE", str(tmp_path / "state"))
    monkeypatch.setattr(picture, "WorkerProcess", IdleWorker)

    def run(test: Callable[[Sight], Coroutine[Any, Any, None]]) -> None:
        async def on_loop() -> None:
            page = Page(Desk.open("sample:half-scale"), shared=False, announce=lambda _: None)
            try:
                await test(Sight(page, monkeypatch))
            finally:
                page.close()

        run_loop(on_loop())

    return run


OnSight = Callable[[Callable[[Sight], Coroutine[Any, Any, None]]], None]


def test_a_drag_faster_than_the_pictures_shows_them_and_ends_at_the_newest(
    on_sight: OnSight,
) -> None:
    async def test(sight: Sight) -> None:
        for step in range(40):
            if step % 8 == 0:
                sight.begin()
            sight.picture._look_changed(OWNER, {"zoom": 1 + step / 40}, True)
            if step % 8 == 7:
                sight.finish()
        sight.picture._look_changed(OWNER, {}, False)
        epochs = [epoch for epoch, *_ in sight.shown]
        assert len(epochs) == 5
        assert epochs == sorted(set(epochs))
        assert epochs[-1] < sight.picture._epoch
        # None of them is kept: they are of no use once something else is to be seen.
        assert not len(sight.picture._kept)
        assert sight.messages[-1].epoch == sight.picture._epoch
        sight.begin()
        assert sight.finish() == sight.finish(PLAIN) == sight.finish(FINE) == sight.picture._epoch
        assert [grade for *_, grade in sight.shown[-3:]] == [PREVIEW, PLAIN, FINE]
        assert len(sight.picture._kept) == 1

    on_sight(test)


def test_a_slider_faster_than_the_pictures_shows_them(on_sight: OnSight) -> None:
    async def test(sight: Sight) -> None:
        for step in range(6):
            sight.begin()
            sight.page.desk.changes({"relief.gap": 20 + step}, gesture="one")
            sight.finish()
        assert len(sight.shown) == 6

    on_sight(test)


def test_what_is_late_and_no_way_to_what_is_wanted_is_not_shown(on_sight: OnSight) -> None:
    async def test(sight: Sight) -> None:
        def late(change: Callable[[], object], grade: str = PREVIEW) -> list[object]:
            sight.begin()
            before = len(sight.shown)
            change()
            sight.finish(grade)
            # Nobody will acknowledge it: the process must not wait for that.
            assert sight.messages[-1].seen == sight._number
            return list(sight.shown[before:])

        # A picture of a better grade is no quick glance at the way.
        assert not late(lambda: sight.picture._look_changed(OWNER, {"zoom": 2}, True), PLAIN)
        # Another size, another number of sides, another document.
        assert not late(lambda: sight.picture._hello(OWNER, 500, 300, 1, 0))
        assert not late(lambda: sight.page.desk.open_sample("full-mesh"))
        sight.page.desk.pin()
        assert not late(lambda: sight.picture.compare("stacked"))

    on_sight(test)


def test_looks_of_guests_are_fewer_than_they_ask_for_and_end_at_the_newest(
    on_sight: OnSight,
) -> None:
    async def test(sight: Sight) -> None:
        before = sight.picture._epoch
        sight.picture._look_changed(GUEST, {"light": "low sun"}, True)
        for step in range(200):
            sight.picture._look_changed(GUEST, {"zoom": 1 + step / 200}, True)
        assert sight.picture._epoch == before + 1
        sight.picture._look_changed(GUEST, {"walk": 20}, False)
        await until(lambda: sight.picture.look["walk"] == 20)
        assert sight.picture._epoch == before + 2
        assert sight.picture.look["zoom"] == pytest.approx(1 + 199 / 200)
        assert sight.picture.look["light"] == "low sun"
        assert not sight.messages[-1].moving

    on_sight(test)


def test_the_owner_waits_for_no_guest_and_is_not_overruled_by_an_older_look(
    on_sight: OnSight,
) -> None:
    async def test(sight: Sight) -> None:
        before = sight.picture._epoch
        sight.picture._look_changed(GUEST, {"zoom": 2}, True)
        sight.picture._look_changed(GUEST, {"zoom": 3, "walk": 20}, True)
        for step in range(5):
            sight.picture._look_changed(OWNER, {"zoom": 4 + step}, True)
            assert sight.picture.look["zoom"] == 4 + step
        assert sight.picture.look["walk"] == 20
        assert sight.picture._epoch == before + 6
        # What waited is in it, and does not come once more.
        await until(lambda: sight.picture._guest_looks._timer is None)
        assert sight.picture._epoch == before + 6
        assert sight.picture.look["zoom"] == 8

    on_sight(test)


@pytest.mark.parametrize("gesture", ["turn", "look"])
def test_a_hand_that_says_nothing_more_holds_no_better_picture_back(
    on_sight: OnSight, monkeypatch: pytest.MonkeyPatch, gesture: str
) -> None:
    async def test(sight: Sight) -> None:
        if gesture == "turn":
            sight.picture._turned(30, True, False)
        else:
            sight.picture._look_changed(OWNER, {"zoom": 2}, True)
        sight.picture._tick()
        assert sight.messages[-1].moving
        later = time.monotonic() + 2 * picture._MOVING_TIMEOUT
        monkeypatch.setattr(picture, "monotonic", lambda: later)
        sight.picture._tick()
        assert not sight.messages[-1].moving

    on_sight(test)


def test_kept_pictures_are_bounded_however_the_rod_is_turned() -> None:
    kept = KeptFrames()
    for number in range(2000):
        kept.put(Frame(number, 1, "B", number * 0.00314159, FINE, b""))
    assert len(kept) <= RING + 1
    last = 1999 * 0.00314159
    assert kept.has_fine("B", last)
    assert not kept.has_fine("B", last - 0.00314159)
    assert next(iter(kept)).number == 1999
    kept.put(Frame(2000, 1, "B", turn_of(7), PLAIN, b""))
    assert not kept.has_fine("B", turn_of(7))
    assert kept.grades[("B", round(turn_of(7), 6))] == PLAIN
    assert kept.has_fine("B", last)


def test_a_page_whose_place_changes_its_size_turns_nothing_back(on_sight: OnSight) -> None:
    """Another tab may do so at any moment, and has not been told of the turn."""

    async def test(sight: Sight) -> None:
        sight.picture._turned(200.5, False, False)
        sight.picture._hello(OWNER, 500, 300, 1, 0)
        assert sight.messages[-1].turn == pytest.approx(np.deg2rad(200.5))
        # Whoever opens the page anew begins at the design's turn.
        sight.picture._left(OWNER)
        sight.picture._hello(OWNER, 500, 300, 1, 0)
        assert sight.messages[-1].turn == 0

    on_sight(test)
