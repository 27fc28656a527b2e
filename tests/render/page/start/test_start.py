"""The questions before a first design, as a browser calls them."""

import asyncio
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgpack
import pytest

from render.editor.desk import Desk
from render.editor.recovery import find_lost_work, open_slot
from render.page import app
from render.page.cards import cards
from render.page.picture import picture
from render.page.send import send
from render.page.workers.bench_worker import BenchFigures, BenchTexts
from scenes.files import samples
from scenes.quantities import Units
from scenes.starting.wrap_kinds import WRAP_KINDS
from tests import loops
from tests.render.page.server.serving import IdleWorker

WHOLE = {
    "title": "Heath rod",
    "customer": "Wren Alder",
    "rod": "2026-14",
    "units": "mm",
    "readings": "300\t15,25\n360\t14,95\n440\t14,6",
    "from": "310",
    "to": "420",
    "wrap": "scales beside a band",
    "threads": ["Kingfisher Blue A"],
}


@pytest.fixture
def page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[app.Page]:
    monkeypatch.setenv("TURNLIGHT_STATE", str(tmp_path / "state"))
    for module in (cards, picture, send):
        monkeypatch.setattr(module, "WorkerProcess", IdleWorker)
    (tmp_path / "mine.toml").write_text(samples.text("half-scale"), encoding="utf-8")
    desk = Desk.open(str(tmp_path / "mine.toml"), slot=open_slot())
    made = app.Page(desk, shared=False, announce=lambda _: None)
    yield made
    made.close()


def asked(page: app.Page, name: str, *given: Any) -> Any:
    method = next(one for one in page.methods if one.name == name)
    answer = method.function(*given)
    answer = loops.run(answer) if asyncio.iscoroutine(answer) else answer
    msgpack.packb(answer)
    return answer


def test_every_kind_is_offered_with_its_picture_and_threads(page: app.Page) -> None:
    choices = asked(page, "start_choices")
    assert [wrap["name"] for wrap in choices["wraps"]] == [kind.name for kind in WRAP_KINDS]
    assert all(wrap["picture"].startswith("data:image/jpeg") for wrap in choices["wraps"])
    known = {thread["name"] for thread in choices["threads"]}
    assert all(set(wrap["threads"]) <= known for wrap in choices["wraps"])


def test_unfinished_answers_are_told_apart_and_change_nothing(page: app.Page) -> None:
    before = page.desk.text
    unfinished = {**WHOLE, "readings": "300\t15,25\n360", "to": "", "wrap": ""}
    look = asked(page, "start_look", unfinished)
    assert look["problems"].keys() == {"readings", "to", "wrap"}
    assert look["problems"]["readings"].startswith('"360" in line 2 holds one number')
    assert look["facts"] == []
    made = asked(page, "start_make", unfinished)
    assert made["problems"] == look["problems"]
    assert made["problem"]
    look = asked(page, "start_look", {**WHOLE, "to": "900"})
    assert "beyond the last station at 440 mm" in look["problems"]["to"]
    assert page.desk.text == before


def test_a_first_design_replaces_the_document_and_is_unsaved_work(page: app.Page) -> None:
    look = asked(page, "start_look", WHOLE)
    assert look["problems"] == {}
    assert "strip width 19.75 mm" in look["facts"][0]
    assert asked(page, "start_make", WHOLE)["problem"] == ""
    desk = page.desk
    assert (desk.title, desk.called, desk.path) == ("Heath rod", "heath-rod", None)
    assert (desk.design.notes, desk.design.variants) == ("", ())
    assert desk.design.order.customer == "Wren Alder"
    assert page.status == "Heath rod is laid out."
    # Nothing of it is in a file yet: it is asked for before it goes, and survives a crash.
    assert desk.changed
    assert asked(page, "file_new", "cord-lattice")["ask"]
    page.close()
    (lost,) = find_lost_work()
    assert 'title = "Heath rod"' in lost.snapshot.text
    lost.slot.close()


def test_unsaved_work_is_asked_for_first(page: app.Page) -> None:
    page.desk.change("relief.gap", 20)
    answer = asked(page, "start_make", WHOLE)
    assert answer["ask"]
    assert page.desk.title != "Heath rod"
    assert asked(page, "start_make", WHOLE, True)["problem"] == ""
    assert page.desk.title == "Heath rod"


def test_figures_of_the_design_before_are_not_shown_for_another(page: app.Page) -> None:
    texts = BenchTexts([{"title": "Weight", "figures": []}], [], ["look out"])

    def shown() -> list[Any]:
        return [one.state["form_bench"]["sections"] for one in page.cards._cards.values()]

    page.cards._show_bench_figures(BenchFigures(page.desk.revision, {Units.MM: texts}))
    assert shown() == [texts.sections]
    page.desk.change("relief.gap", 20.0)
    assert shown() == [texts.sections]  # those of before a change stay, marked, until new ones come
    assert asked(page, "start_make", WHOLE, True)["problem"] == ""
    assert shown() == [[]]
