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
from scenes.customer.number import design_number
from scenes.design.document import Design
from scenes.design.variants import variant
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


@pytest.fixture
def client(page: app.Page, monkeypatch: pytest.MonkeyPatch) -> SimpleNamespace:
    """A client with a view of its own, in which it may have pinned a design."""
    view = SimpleNamespace(pin=None)
    monkeypatch.setattr(page.picture, "view_of", lambda _: view)
    return view


def test_an_answer_is_entered_listed_and_taken_back(
    page: app.Page, client: SimpleNamespace
) -> None:
    assert asked(page, "answer_records") == {"records": [], "agreed": "", "changed": ""}
    wide = variant(page.desk.design, "wide gap")
    assert asked(page, "answer_enter", None, answer_to(page, wide))["problem"] == ""
    told = asked(page, "answer_records")
    (record,) = told["records"]
    assert (record["scheme"], record["remark"]) == ("wide gap", "soon, please")
    assert record["date"] == date.today().isoformat()
    assert "make that variant the design" in told["changed"]
    assert page.desk.undo_description == "agreed: wide gap"
    page.desk.make_variant_the_design("wide gap")
    assert asked(page, "answer_records")["changed"] == ""
    page.desk.undo()
    page.desk.undo()
    assert asked(page, "answer_records")["records"] == []


def test_a_design_that_was_pinned_may_be_chosen(page: app.Page, client: SimpleNamespace) -> None:
    pin = page.desk.pin()
    page.desk.change("relief.gap", 20)
    text = answer_to(page, pin.whole)
    assert "is the number of another design" in asked(page, "answer_enter", None, text)["problem"]
    client.pin = pin
    assert asked(page, "answer_enter", None, text)["problem"] == ""
    assert page.desk.design.agreed[0].scheme == "design A"


def test_another_text_changes_nothing(page: app.Page, client: SimpleNamespace) -> None:
    before = page.desk.text
    for text in ("the second", "Design number: 7K3Q-9XMQ", ""):
        assert asked(page, "answer_enter", None, text)["problem"].endswith(".")
    with pytest.raises(Refused, match="must be a text"):
        asked(page, "answer_enter", None, 7)
    assert page.desk.text == before
