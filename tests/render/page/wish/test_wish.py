"""The card of wishes: what is taken, what is left, and what is out of date."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from render.editor.desk import Desk
from render.page.app import Page
from render.page.cards import cards
from render.page.server.arguments import Refused
from render.page.wish import wish
from render.page.wish.wish import Wishes
from render.page.workers.fit_worker import FitChoices, FitRequest, FitResult, FitStep, WishRequest
from render.page.workers.worker_process import Loss
from scenes.quantities import Units
from tests.loops import run as run_loop
from tests.render.page.server.serving import IdleWorker


@pytest.fixture
def on_page(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Callable[[Callable[[Page, Wishes, IdleWorker], None]], None]:
    """Run a test on the card of a page that is not served."""
    monkeypatch.setenv("TURNLIGHT_STATE", str(tmp_path / "state"))
    monkeypatch.setattr(wish, "WorkerProcess", IdleWorker)
    monkeypatch.setattr(cards, "WorkerProcess", IdleWorker)
    made: list[Wishes] = []
    monkeypatch.setattr(wish, "attach", lambda page: made.append(Wishes(page)))

    def begin(test: Callable[[Page, Wishes, IdleWorker], None]) -> None:
        async def run() -> None:
            page = Page(Desk.open("sample:half-scale"), shared=False, announce=lambda _: None)
            try:
                worker = made[-1]._process
                assert isinstance(worker, IdleWorker)
                test(page, made[-1], worker)
            finally:
                page.close()

        run_loop(run())

    return begin


def found(number: int, **changes: object) -> FitResult:
    rows = [
        {"label": "", "cells": ["1.98"], "lines": [], "notes": [], "warnings": [], "changes": {}}
    ]
    lines = ["Gap of the relief: 0.8346 in → 0.9 in"]
    rows.append({**rows[0], "changes": changes, "lines": lines})
    return FitResult(number, heading="Turns 2: 1 design.", columns=["turns"], rows=rows)


def search(card: Wishes, worker: IdleWorker) -> FitRequest:
    card._search("in", ["turns=2"], [], ["gap=1 in"], ["relief.angle"])
    request = worker.messages[-1]
    assert isinstance(request, FitRequest)
    return request


def test_what_was_found_is_taken_in_the_units_it_was_asked_in(on_page):
    def test(page, card, worker):
        request = search(card, worker)
        assert request.units is Units.IN
        assert (request.wish, request.at_least) == (("turns=2",), ("gap=1 in",))
        card._received(
            FitStep(request.number, 12, "small changes (step 1 of at most 7)", 0.2, None)
        )
        assert page.state.wish["busy"] == "Searching: small changes (step 1 of at most 7)"
        assert (page.state.wish["share"], page.state.wish["tried"]) == (0.2, "12 designs tried")
        card._received(
            FitStep(request.number, 900, "the nearest design (step 4 of at most 7)", 0.6, 31.2)
        )
        assert page.state.wish["tried"] == "900 designs tried, at most 32 seconds left"
        card._received(found(request.number, **{"relief.gap": 0.9}))
        assert (page.state.wish["share"], page.state.wish["tried"]) == (None, "")
        assert [row["changes"] for row in page.state.wish["rows"]] == [False, True]
        with pytest.raises(Refused):
            card._take(2)
        assert card._take(1)["problem"] == ""
        assert page.desk.design.relief.gap == pytest.approx(0.9 * 25.4)
        assert page.status == "Taken: Gap of the relief: 0.8346 in → 0.9 in."
        assert page.state.wish["rows"] == []
        page.desk.undo()
        assert page.desk.design.relief.gap == pytest.approx(21.2)

    on_page(test)


def test_what_was_found_for_another_design_is_not_taken(on_page):
    def test(page, card, worker):
        request = search(card, worker)
        card._received(found(request.number, **{"relief.gap": 0.9}))
        page.desk.change("finish.coats", 3)
        assert page.state.wish["stale"] == wish._STALE
        assert card._take(1)["problem"] == wish._STALE
        assert page.desk.design.relief.gap == pytest.approx(21.2)
        card._leave()
        assert (page.state.wish["stale"], page.state.wish["rows"]) == ("", [])

    on_page(test)


def test_a_search_that_is_cancelled_or_lost_says_so_and_can_be_begun_again(on_page):
    def test(page, card, worker):
        request = search(card, worker)
        card._cancel()
        assert not worker.running
        assert page.state.wish["problem"] == "The search was cancelled."
        card._received(found(request.number, **{"relief.gap": 0.9}))
        assert page.state.wish["rows"] == []
        again = search(card, worker)
        assert again.number > request.number
        card._lost(Loss.ENDED, True)
        assert page.state.wish["busy"] == ""
        assert page.state.wish["problem"] == (
            "The search was interrupted (its process was ended); try once more."
        )

    on_page(test)


def test_the_design_is_measured_once_for_each_state_of_it(on_page):
    def test(page, card, worker):
        card._open("mm")
        (request,) = worker.messages
        assert isinstance(request, WishRequest)
        # All that may be wished is named before the wrap is built; its weight is still to come.
        early = {one["name"]: one["now"] for one in page.state.wish["measures"]}
        assert (early["gap"], early["weight"]) == ("21.2 mm", "")
        assert page.state.wish["measuring"]
        card._received(FitChoices(request.number, [{"name": "turns"}], []))
        assert page.state.wish["measures"] == [{"name": "turns"}]
        assert not page.state.wish["measuring"]
        card._open("mm")
        assert len(worker.messages) == 1
        card._open("in")
        page.desk.change("finish.coats", 3)
        card._open("in")
        assert len(worker.messages) == 3
        with pytest.raises(Refused):
            card._open("furlong")

    on_page(test)


def test_a_search_that_is_asked_for_before_the_wrap_is_weighed_is_kept(on_page):
    def test(page, card, worker):
        card._open("in")
        request = search(card, worker)
        assert page.state.wish["busy"] == wish._BEGINS
        card._received(FitStep(request.number, 1, "the present design", 0.0, None))
        assert page.state.wish["busy"] == "Searching: the present design"
        # What the design weighs has not come, since the search went first: it is asked for again.
        card._received(found(request.number, **{"relief.gap": 0.9}))
        again = worker.messages[-1]
        assert isinstance(again, WishRequest)
        card._received(FitChoices(again.number, [{"name": "turns"}], []))
        assert not page.state.wish["measuring"]
        assert len(page.state.wish["rows"]) == 2

    on_page(test)


def test_how_long_a_search_takes_is_said_before_and_known_afterwards(on_page):
    def test(page, card, worker):
        card._open("in")
        assert card._takes(["turns", "gap"]).endswith("here, estimated.")
        # Wraps that must be built take their time.
        built, quick = (card._times.forecast(card._work_of([name])) for name in ("weight", "gap"))
        assert built.seconds > quick.seconds
        request = search(card, worker)
        assert request.expected is None
        card._received(replace(found(request.number, **{"relief.gap": 0.9}), seconds=12.0))
        assert card._takes(["gap", "turns"]) == "Takes about 12 seconds here."
        request = search(card, worker)
        assert request.expected == 12.0
        card._received(FitStep(request.number, 3, "the present design", 0.1, 11.0))
        assert page.state.wish["tried"] == "3 designs tried, about 11 seconds left"

    on_page(test)
