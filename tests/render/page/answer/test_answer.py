"""The customer's answer on the builder's page, as a browser enters it."""

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import msgpack
import pytest

from render.editor.desk import Desk
from render.page import app
from render.page.cards import cards
from render.page.picture import picture
from render.page.send import send
from render.page.server.arguments import Refused
from render.request.subject import Subject
from scenes.customer.number import design_number
from scenes.design.document import Design
from scenes.design.variants import variant
from scenes.quantities import plain_number
from tests.render.page.server.serving import IdleWorker


@pytest.fixture
def page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[app.Page]:
    monkeypatch.setenv("TURNLIGHT_STATE", str(tmp_path / "state"))
    for module in (cards, picture, send):
        monkeypatch.setattr(module, "WorkerProcess", IdleWorker)
    made = app.Page(Desk.open("sample:half-scale"), shared=False, announce=lambda _: None)
    yield made
    made.close()


def asked(page: app.Page, name: str, *given: Any) -> Any:
    method = next(one for one in page.methods if one.name == name)
    answer = method.function(*given)
    msgpack.packb(answer)
    return answer


def answer_to(page: app.Page, design: Design) -> str:
    number = design_number(design, page.desk.shelf, page.desk.beside)
    return f"I choose it.\nDesign number: {number}\nRemark: soon, please"


class _View(SimpleNamespace):
    """A client's view of the page; views are kept by what they are, not by what they hold."""

    __hash__ = object.__hash__

    def as_viewed(self, subject: Subject) -> Subject:
        return subject


@pytest.fixture
def client(page: app.Page, monkeypatch: pytest.MonkeyPatch) -> SimpleNamespace:
    """A client with a view of its own, in which it may have pinned a design."""
    made = SimpleNamespace(number=1, view=_View(pin=None, client=None, look={"dry": False}))
    monkeypatch.setattr(page.picture, "view_of", lambda client: client.view)
    monkeypatch.setattr(page.sockets, "show_to", lambda *_: None)
    monkeypatch.setattr(page, "show_status", lambda *_, **__: None)
    return made


def test_an_answer_is_entered_listed_and_taken_back(page: app.Page) -> None:
    assert asked(page, "answer_records") == {
        "records": [],
        "agreed": "",
        "changed": "",
        "other": "",
        "wrap": "",
    }
    wide = variant(page.desk.design, "wide gap")
    number = design_number(wide, page.desk.shelf, page.desk.beside)
    answer = asked(page, "answer_enter", answer_to(page, wide))
    assert answer["problem"] == ""
    assert answer["said"] == f'Entered: "wide gap", number {number}.'
    told = asked(page, "answer_records")
    (record,) = told["records"]
    assert (record["scheme"], record["remark"]) == ("wide gap", "soon, please")
    assert record["date"] == date.today().isoformat()
    assert "make that variant the design" in told["changed"]
    assert (told["other"], record["words"]) == ("wide gap", "gap 36 mm")
    assert page.desk.undo_description == "agreed: wide gap"
    page.desk.make_variant_the_design("wide gap")
    told = asked(page, "answer_records")
    assert (told["changed"], told["other"]) == ("", "")
    page.desk.undo()
    page.desk.undo()
    assert asked(page, "answer_records")["records"] == []


def test_a_scheme_of_another_wrap_is_offered_with_its_wrap(page: app.Page) -> None:
    desk = page.desk
    desk.add_wrap()
    added, first = desk.wrap_name, desk.wrap_names[0]
    assert added != first
    desk.work_at(first)
    wide = variant(desk.design, "wide gap")
    assert asked(page, "answer_enter", answer_to(page, wide))["problem"] == ""
    desk.work_at(added)
    told = asked(page, "answer_records")
    assert (told["other"], told["wrap"]) == ("wide gap", first)


def test_a_pinned_design_that_is_sent_may_be_chosen(
    page: app.Page, client: SimpleNamespace
) -> None:
    desk, exports = page.desk, page.exports
    exports._choose(client, "spin page", ".html", "mail")
    client.view.pin = desk.pin()
    desk.change("relief.gap", 20)
    text = answer_to(page, client.view.pin.whole)
    before = [one.name for one in desk.design.variants]
    # A still shows one design: nothing is kept for it.
    exports._choose(client, "still", ".png", "mail")
    exports._make(client)
    assert [one.name for one in desk.design.variants] == before
    exports._choose(client, "spin page", ".html", "mail")
    exports._make(client)
    name = f"gap {plain_number(client.view.pin.whole.relief.gap)} mm"
    assert [one.name for one in desk.design.variants] == [*before, name]
    assert asked(page, "answer_enter", text)["problem"] == ""
    assert desk.design.agreed[0].scheme == name
    # It is there to be chosen: sent again, nothing more is kept.
    exports._make(client)
    assert [one.name for one in desk.design.variants] == [*before, name]
    # Both are in each file that was asked for.
    counts = [len(job.subjects) for job in exports._jobs.values()]
    assert counts == [1, 2, 2]


def test_a_pinned_design_that_no_variant_can_be_does_not_go_in(
    page: app.Page, client: SimpleNamespace
) -> None:
    desk, exports = page.desk, page.exports
    exports._choose(client, "spin page", ".html", "mail")
    client.view.pin = desk.pin()
    desk.remove("layers.2")
    before = desk.text
    pinned, design, *_ = exports._state_of(client)["send_designs"]
    assert (pinned["key"], pinned["chosen"], design["chosen"]) == ("pinned", False, True)
    assert "could not be entered" in pinned["reason"]
    assert '"Compare no more"' in pinned["reason"]
    exports._tick_design(client, "pinned", True)
    for other in (one["key"] for one in exports._state_of(client)["send_designs"][1:]):
        exports._tick_design(client, other, False)
    exports._make(client)
    assert exports._choice_of(client).problem == "No design is ticked; tick one or more."
    assert not exports._jobs
    assert desk.text == before


def test_another_text_changes_nothing(page: app.Page) -> None:
    before = page.desk.text
    for text in ("the second", "Design number: 7K3Q-9XMQ", ""):
        answer = asked(page, "answer_enter", text)
        assert answer["problem"].endswith(".")
        assert answer["said"] == ""
    with pytest.raises(Refused, match="must be a text"):
        asked(page, "answer_enter", 7)
    assert page.desk.text == before
