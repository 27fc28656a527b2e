"""Which pictures are passed on to which browser, whatever is asked for while they are drawn.

The drawing process is stood for: it takes the newest that is wanted, and is done with a picture
whenever a test says so.
"""

import time
from collections.abc import Callable, Coroutine
from itertools import count
from pathlib import Path
from typing import Any

import msgpack
import numpy as np
import pytest

from render.editor.desk import Desk
from render.page.app import Page
from render.page.picture import client_view, picture
from render.page.picture.client_view import ClientView
from render.page.picture.kept_frames import KeptFrames
from render.page.server.outgoing import Outgoing
from render.page.server.roles import Role, Session
from render.page.server.sockets import Client
from render.page.workers.render_messages import (
    FINE,
    PLAIN,
    PREVIEW,
    RING,
    Frame,
    RenderProblem,
    RenderRequest,
    turn_of,
)
from tests.loops import run as run_loop
from tests.render.page.server.serving import IdleWorker
from tests.render.page.workers.test_worker_process import until

NUMBERS = count(1)


class Tab:
    """Somebody's tab, and what it is sent.

    Parameters
    ----------
    role : Role
    name : str
        Of its session; that of the role by default.
    """

    def __init__(self, role: Role, name: str = "") -> None:
        async def send(_: bytes) -> None:
            raise AssertionError("nothing is sent here")

        outgoing = Outgoing(send, lambda: 0)
        self.client = Client(next(NUMBERS), Session(name or role.value, role), outgoing)
        self.shown: list[tuple[int, str, str]] = []
        self.state: dict[str, Any] = {}

        def passed_on(place: tuple[str, int], epoch: int, message: bytes) -> None:
            frame = msgpack.unpackb(message)["result"]
            assert frame["epoch"] == epoch
            assert frame["side"] == place[0]
            self.shown.append((epoch, frame["side"], frame["grade"]))

        outgoing.picture = passed_on  # type: ignore[method-assign, assignment]
        outgoing.state = self.state.update  # type: ignore[method-assign]


class Sight:
    """A page, its drawing process, and the tab of its owner.

    Parameters
    ----------
    page : Page
    """

    def __init__(self, page: Page) -> None:
        self.page, self.picture = page, page.picture
        self.owner = Tab(Role.OWNER)
        self._number = 0
        self._at_work: tuple[RenderRequest, ...] = ()
        self.hello(self.owner)

    def hello(self, tab: Tab, width: float = 400, height: float = 300, turn: float = 0) -> None:
        self.picture._hello(tab.client, width, height, 1, turn)

    def look(self, tab: Tab, changes: dict[str, Any], moving: bool = False) -> None:
        self.picture._look_changed(tab.client, changes, moving)

    def view(self, tab: Tab) -> ClientView:
        return self.picture.view_of(tab.client)

    @property
    def shown(self) -> list[tuple[int, str, str]]:
        """Pictures that the owner's tab was sent."""
        return self.owner.shown

    @property
    def messages(self) -> list[tuple[RenderRequest, ...]]:
        """All that the drawing process was told."""
        worker: Any = self.picture._render_worker
        messages: list[tuple[RenderRequest, ...]] = worker.messages
        return messages

    def wanted(self, tab: Tab | None = None) -> RenderRequest:
        """What is wanted for a tab now."""
        number = self.view(tab or self.owner).number
        return next(one for one in self.messages[-1] if one.view == number)

    def begin(self) -> None:
        """Let the process begin with what is wanted now."""
        self._at_work = self.messages[-1]

    def finish(
        self, grade: str = PREVIEW, side: str = "B", *, tab: Tab | None = None, size: int = 0
    ) -> int:
        """Let it be done with a picture; give the picture's epoch."""
        number = self.view(tab or self.owner).number
        one = next(one for one in self._at_work if one.view == number)
        self._number += 1
        frame = Frame(self._number, number, one.epoch, side, one.turn, grade, bytes(size))
        self.picture._received(frame)
        return one.epoch


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
                await test(Sight(page))
            finally:
                page.close()

        run_loop(on_loop())

    return run


OnSight = Callable[[Callable[[Sight], Coroutine[Any, Any, None]]], None]


def test_a_drag_faster_than_the_pictures_shows_them_and_ends_at_the_newest(
    on_sight: OnSight,
) -> None:
    async def test(sight: Sight) -> None:
        view = sight.view(sight.owner)
        for step in range(40):
            if step % 8 == 0:
                sight.begin()
            sight.look(sight.owner, {"zoom": 1 + step / 40}, True)
            if step % 8 == 7:
                sight.finish()
        sight.look(sight.owner, {})
        epochs = [epoch for epoch, *_ in sight.shown]
        assert len(epochs) == 5
        assert epochs == sorted(set(epochs))
        assert epochs[-1] < view.epoch
        # None of them is kept: they are of no use once something else is to be seen.
        assert not len(view.kept)
        assert sight.wanted().epoch == view.epoch
        sight.begin()
        assert sight.finish() == sight.finish(PLAIN) == sight.finish(FINE) == view.epoch
        assert [grade for *_, grade in sight.shown[-3:]] == [PREVIEW, PLAIN, FINE]
        assert len(view.kept) == 1

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
            assert sight.wanted().seen == sight._number
            return list(sight.shown[before:])

        # A picture of a better grade is no quick glance at the way.
        assert not late(lambda: sight.look(sight.owner, {"zoom": 2}, True), PLAIN)
        # Another size, another number of sides, another document.
        assert not late(lambda: sight.hello(sight.owner, 500))
        assert not late(lambda: sight.page.desk.open_sample("full-mesh"))
        sight.picture.pin(sight.owner.client, sight.page.desk.pin())
        assert not late(lambda: sight.picture.compare(sight.owner.client, "stacked"))

    on_sight(test)


@pytest.mark.parametrize("gesture", ["turn", "look"])
def test_a_hand_that_says_nothing_more_holds_no_better_picture_back(
    on_sight: OnSight, monkeypatch: pytest.MonkeyPatch, gesture: str
) -> None:
    async def test(sight: Sight) -> None:
        if gesture == "turn":
            sight.picture._turned(sight.owner.client, 30, True, False)
        else:
            sight.look(sight.owner, {"zoom": 2}, True)
        sight.picture._tick()
        assert sight.wanted().moving
        later = time.monotonic() + 2 * client_view._MOVING_TIMEOUT
        monkeypatch.setattr(client_view, "monotonic", lambda: later)
        sight.picture._tick()
        assert not sight.wanted().moving

    on_sight(test)


def test_kept_pictures_are_bounded_however_the_rod_is_turned() -> None:
    kept = KeptFrames()
    for number in range(2000):
        kept.put(Frame(number, 1, 1, "B", number * 0.00314159, FINE, b"xx"))
    assert len(kept) <= RING + 1
    assert kept.bytes == 2 * len(kept)
    last = 1999 * 0.00314159
    assert kept.has_fine("B", last)
    assert not kept.has_fine("B", last - 0.00314159)
    assert next(iter(kept)).number == 1999
    kept.put(Frame(2000, 1, 1, "B", turn_of(7), PLAIN, b""))
    assert not kept.has_fine("B", turn_of(7))
    assert kept.grades[("B", round(turn_of(7), 6))] == PLAIN
    assert kept.has_fine("B", last)


def test_a_page_whose_place_changes_its_size_is_not_turned_back(on_sight: OnSight) -> None:
    async def test(sight: Sight) -> None:
        sight.picture._turned(sight.owner.client, 200.5, False, False)
        sight.hello(sight.owner, 500)
        assert sight.wanted().turn == pytest.approx(np.deg2rad(200.5))
        # Whoever opens the page anew begins at the design's turn.
        again = Tab(Role.OWNER)
        sight.picture._left(sight.owner.client)
        sight.hello(again, 500)
        assert sight.wanted(again).turn == 0

    on_sight(test)


# ---- Several clients


def test_every_client_has_a_turn_a_size_and_a_look_of_its_own(on_sight: OnSight) -> None:
    """A tablet that joins takes nothing away from the owner, nor does a second tab of his."""

    async def test(sight: Sight) -> None:
        sight.hello(sight.owner, 1280, 720)
        sight.picture._turned(sight.owner.client, 120, False, False)
        sight.look(sight.owner, {"light": "low sun"})
        sight.begin()
        sight.finish(FINE)
        before, kept = sight.wanted(), len(sight.view(sight.owner).kept)
        sight.owner.state.clear()
        for number, tab in enumerate((Tab(Role.GUEST), Tab(Role.OWNER)), 2):
            sight.hello(tab, 820, 1086)
            sight.picture._turned(tab.client, 33, False, False)
            sight.look(tab, {"zoom": 3, "dry": True})
            await until(lambda tab=tab: sight.view(tab).look["zoom"] == 3)  # type: ignore[misc]
            theirs = sight.wanted(tab)
            assert theirs.size == (820, 1086)
            assert theirs.turn == pytest.approx(np.deg2rad(33))
            assert theirs.sides["B"].design.light.kind == "soft boxes"
            assert theirs.sides["B"].design.finish.coats == 0
            assert tab.state["pic_look"]["zoom"] == 3
            assert len(sight.messages[-1]) == number
        mine = sight.wanted()
        assert (mine.epoch, mine.size, mine.turn) == (before.epoch, (1280, 720), before.turn)
        assert mine.sides == before.sides
        assert len(sight.view(sight.owner).kept) == kept == 1
        assert sight.owner.state == {}

    on_sight(test)


@pytest.mark.parametrize("editor", ["owner", "guest"])
def test_an_edit_of_either_reaches_both(on_sight: OnSight, editor: str) -> None:
    async def test(sight: Sight) -> None:
        guest = Tab(Role.GUEST)
        sight.hello(guest, 820, 1086, turn=90)
        for tab in (sight.owner, guest):
            sight.picture._turned(tab.client, 10 * tab.client.number, False, False)
        sight.begin()
        epochs = [sight.finish(FINE, tab=tab) for tab in (sight.owner, guest)]
        sight.page.desk.change("relief.gap", 20 if editor == "owner" else 21)
        gaps = {request.sides["B"].design.relief.gap for request in sight.messages[-1]}
        assert len(gaps) == 1
        sight.begin()
        for tab, epoch in zip((sight.owner, guest), epochs, strict=True):
            assert tab.state["pic_epoch"] == epoch + 1
            assert sight.finish(tab=tab) == epoch + 1
            assert tab.shown[-1] == (epoch + 1, "B", PREVIEW)
            # No picture goes to the other's tab.
            assert len(tab.shown) == 2

    on_sight(test)


def test_pictures_acknowledged_by_one_are_not_those_of_another(on_sight: OnSight) -> None:
    async def test(sight: Sight) -> None:
        guest = Tab(Role.GUEST)
        sight.hello(guest)
        sight.begin()
        sight.finish(tab=guest)
        sight.finish()
        sight.picture._got(guest.client, sight._number)
        # The newest picture is not one of the guest's.
        assert sight.wanted(guest).seen == sight._number - 1
        assert sight.wanted().seen == 0
        sight.picture._got(sight.owner.client, sight._number)
        assert sight.wanted().seen == sight._number

    on_sight(test)


def test_a_problem_is_shown_to_whose_view_it_is(on_sight: OnSight) -> None:
    async def test(sight: Sight) -> None:
        guest = Tab(Role.GUEST)
        sight.hello(guest)
        view = sight.view(guest)
        sight.picture._received(RenderProblem(view.number, view.epoch - 1, "It was too large."))
        assert "pic_trouble" not in guest.state
        sight.picture._received(RenderProblem(view.number, view.epoch, "It is too large."))
        assert guest.state["pic_trouble"] == "It is too large."
        assert "pic_trouble" not in sight.owner.state
        sight.begin()
        sight.finish(tab=guest)
        assert guest.state["pic_trouble"] == ""

    on_sight(test)


def test_a_view_goes_with_its_client_and_comes_back_with_its_session_alone(
    on_sight: OnSight, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def test(sight: Sight) -> None:
        guest = Tab(Role.GUEST, "one")
        sight.hello(guest, 500, 400)
        sight.look(guest, {"zoom": 2})
        view = sight.view(guest)
        sight.begin()
        sight.finish(FINE, tab=guest)
        monkeypatch.setattr(type(sight.page), "watched", property(lambda _: True))
        sight.picture._left(guest.client)
        assert [one.view for one in sight.messages[-1]] == [sight.view(sight.owner).number]
        # What was being drawn for it harms nobody.
        sight.picture._received(Frame(9, view.number, view.epoch, "B", 0.0, FINE, b""))
        stranger, again = Tab(Role.GUEST, "two"), Tab(Role.GUEST, "one")
        assert sight.view(stranger) is not view
        assert sight.view(again) is view
        assert view.state["pic_look"]["zoom"] == 2
        # Its page asks for the pictures that there are; the same size begins nothing new.
        sight.picture._frames(again.client)
        epoch = view.epoch
        sight.hello(again, 500, 400)
        assert view.epoch == epoch
        assert again.shown == [(epoch, "B", FINE)]
        # Who stays away is forgotten.
        sight.picture._left(again.client)
        later = time.monotonic() + 2 * picture._ABSENCE
        monkeypatch.setattr(picture, "monotonic", lambda: later)
        sight.picture._tick()
        assert view.number not in sight.picture._views
        assert sight.view(Tab(Role.GUEST, "one")) is not view

    on_sight(test)


def test_nothing_is_drawn_for_a_page_that_is_hidden(on_sight: OnSight) -> None:
    async def test(sight: Sight) -> None:
        guest = Tab(Role.GUEST)
        sight.hello(guest)
        sight.picture._turned(guest.client, 60, True, False)
        sight.picture._rested(guest.client)
        assert len(sight.messages[-1]) == 1
        sight.page.desk.change("relief.gap", 21)
        assert [one.view for one in sight.messages[-1]] == [sight.view(sight.owner).number]
        # Back again, it is where it was, with the newest design.
        sight.hello(guest)
        request = sight.wanted(guest)
        assert request.turn == pytest.approx(np.deg2rad(60))
        assert not request.moving
        assert request.sides == sight.wanted().sides
        assert request.epoch == guest.state["pic_epoch"]
        sight.picture._rested(guest.client)
        sight.picture._rested(sight.owner.client)
        assert sight.messages[-1] == ()

    on_sight(test)


def test_views_of_who_has_gone_are_bounded(on_sight: OnSight) -> None:
    async def test(sight: Sight) -> None:
        for number in range(3 * picture._MOST_ABSENT):
            tab = Tab(Role.GUEST, f"guest {number}")
            sight.hello(tab)
            sight.picture._left(tab.client)
        assert len(sight.picture._views) == picture._MOST_ABSENT + 1
        assert sight.view(sight.owner).number in sight.picture._views

    on_sight(test)


def test_kept_pictures_are_bounded_over_all_views(
    on_sight: OnSight, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(picture, "_MOST_KEPT_BYTES", 10_000)

    async def test(sight: Sight) -> None:
        guest = Tab(Role.GUEST)
        sight.hello(guest)

        def fill(tab: Tab, slots: range) -> None:
            for slot in slots:
                sight.picture._turned(tab.client, 3.0 * slot, False, False)
                sight.begin()
                sight.finish(FINE, tab=tab, size=1000)

        fill(guest, range(8))
        fill(sight.owner, range(8))
        mine, theirs = sight.view(sight.owner).kept, sight.view(guest).kept
        # The guest's was used less lately.
        assert (len(mine), len(theirs)) == (8, 2)
        assert mine.is_whole
        fill(sight.owner, range(8, 20))
        assert (len(mine), len(theirs)) == (10, 0)
        # What a browser has already is not drawn again; a page opened anew has nothing.
        assert all(mine.has_fine("B", turn_of(slot)) for slot in range(20))
        epoch = sight.view(sight.owner).epoch
        sight.picture._left(sight.owner.client)
        again = Tab(Role.OWNER)
        sight.hello(again)
        assert sight.wanted(again).epoch == epoch + 1
        assert sight.wanted(again).drawn == {}

    on_sight(test)


def test_looks_of_guests_are_fewer_than_they_ask_for_and_end_at_the_newest(
    on_sight: OnSight,
) -> None:
    async def test(sight: Sight) -> None:
        one, other = Tab(Role.GUEST, "one"), Tab(Role.GUEST, "other")
        for tab in (one, other):
            sight.hello(tab)
        before = sight.view(one).epoch
        sight.look(one, {"light": "low sun"}, True)
        for step in range(200):
            sight.look(one, {"zoom": 1 + step / 200}, True)
            sight.look(other, {"zoom": 2 + step / 200}, True)
        assert sight.view(one).epoch == before + 1
        sight.look(one, {"walk": 20}, False)
        await until(lambda: sight.view(one).look["walk"] == 20)
        assert sight.view(one).epoch == before + 2
        assert sight.view(one).look["zoom"] == pytest.approx(1 + 199 / 200)
        assert sight.view(one).look["light"] == "low sun"
        assert not sight.wanted(one).moving
        await until(lambda: sight.view(other).look["zoom"] == 2 + 199 / 200)
        assert sight.view(other).look["light"] == "soft boxes"
        # The owner waits for none of them.
        for step in range(5):
            sight.look(one, {"zoom": 5}, True)
            sight.look(sight.owner, {"zoom": 4 + step}, True)
            assert sight.view(sight.owner).look["zoom"] == 4 + step

    on_sight(test)


def test_a_look_chosen_by_a_client_stays_where_another_is_kept_in_the_document(
    on_sight: OnSight,
) -> None:
    async def test(sight: Sight) -> None:
        chooser, follower = Tab(Role.GUEST, "chooser"), Tab(Role.GUEST, "follower")
        for tab in (chooser, follower):
            sight.hello(tab)
        sight.look(chooser, {"light": "low sun"})
        sight.look(sight.owner, {"light": "north window", "zoom": 2})
        sight.picture._turned(sight.owner.client, 40, False, False)
        sight.picture._keep(sight.owner.client)
        assert sight.view(chooser).look["light"] == "low sun"
        assert sight.view(chooser).look["zoom"] == 2
        assert sight.view(follower).look["light"] == "north window"
        assert follower.state["pic_turn"] == pytest.approx(40)
        # Another document is looked at as it says itself, where it says something else.
        sight.page.desk.open_sample("full-mesh")
        for tab in (sight.owner, chooser, follower):
            assert sight.view(tab).look["light"] == sight.page.desk.design.light.kind
            assert sight.view(tab).settings()["camera.zoom"] == sight.page.desk.design.camera.zoom

    on_sight(test)


def test_a_length_of_the_view_is_the_same_over_a_document_in_other_units(on_sight: OnSight) -> None:
    async def test(sight: Sight) -> None:
        sight.look(sight.owner, {"along": 50.8})
        along = sight.wanted().sides["B"].design.camera.along
        sight.page.desk.open_sample("two-start-band")
        assert sight.page.desk.design.units == "in"
        assert sight.view(sight.owner).look["along"] == pytest.approx(2)
        assert sight.wanted().sides["B"].design.camera.along == pytest.approx(along)

    on_sight(test)
