"""Names that are no text: bytes on a disk need not be UTF-8, and all that a page is sent must be.

What is packed here is packed as for the socket, with MessagePack.
"""

import json
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgpack
import pytest

from render.editor.desk import Desk
from render.page import app
from render.page.cards import cards
from render.page.picture import picture
from render.page.send import send
from scenes.files import samples
from scenes.problems import DesignProblem
from tests.render.page.server.serving import IdleWorker

SHELF = """
[[threads]]
name = "Home Dyed Plum"
kind = "nylon"
size = "A"
colour = "#603060"
diameter = 0.17
tex = 23
spool = 50
price = 1
"""


@pytest.fixture
def odd(tmp_path: Path) -> Path:
    """A folder called "Müller" in Latin-1, with a design in it."""
    folder = Path(os.fsdecode(os.fsencode(tmp_path) + b"/M\xfcller"))
    try:
        folder.mkdir()
    except OSError:
        pytest.skip("no such name can be on this disk")
    (folder / "wrap.toml").write_text(samples.text("half-scale"), encoding="utf-8")
    return folder


@pytest.fixture(autouse=True)
def alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TURNLIGHT_STATE", str(tmp_path / "state"))
    for module in (cards, picture, send):
        monkeypatch.setattr(module, "WorkerProcess", IdleWorker)


@pytest.fixture
def pages() -> Iterator[list[app.Page]]:
    """Pages that are put away after the test."""
    made: list[app.Page] = []
    yield made
    for page in made:
        page.close()


def page_on(desk: Desk, pages: list[app.Page]) -> app.Page:
    pages.append(app.Page(desk, shared=False, announce=lambda _: None))
    return pages[-1]


def asked(page: app.Page, name: str) -> Any:
    return next(one for one in page.methods if one.name == name).function()


def test_a_design_there_is_refused_before_a_page_is_made(
    odd: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(app, "Page", lambda *_, **__: pytest.fail("there is a page"))
    with pytest.raises(DesignProblem, match="rename it") as caught:
        app.open_page(Desk.open(str(odd / "wrap.toml")), announce=lambda _: None)
    assert str(caught.value).isprintable()
    assert r"M\udcfcller" in str(caught.value)


def test_the_desk_of_a_page_opens_and_saves_nothing_there(odd: Path) -> None:
    desk = Desk.open("sample:half-scale")
    for tried in (desk.open_file, desk.check_open_file, desk.save_as):
        with pytest.raises(DesignProblem, match="rename it"):
            tried(odd / "wrap.toml")
    assert [one.name for one in odd.iterdir()] == ["wrap.toml"]
    assert not desk.can_reach(str(odd / "wrap.toml"))


def test_all_that_a_page_tells_can_be_sent(
    odd: Path, monkeypatch: pytest.MonkeyPatch, pages: list[app.Page]
) -> None:
    monkeypatch.chdir(odd)
    shelf = odd / os.fsdecode(b"f\xe4den.toml")
    shelf.write_text(SHELF, encoding="utf-8")
    page = page_on(Desk.open("sample:half-scale", shelf), pages)
    state = page.state.initial
    assert state["shelf_file"] == r"f\udce4den.toml"
    msgpack.packb(state)
    places = asked(page, "file_places")
    msgpack.packb(places)
    assert places["folder"].endswith(r"M\udcfcller")


def test_files_of_such_names_are_not_offered(
    odd: Path, tmp_path: Path, pages: list[app.Page]
) -> None:
    text = samples.text("heron-plate")
    design = tmp_path / "wrap.toml"
    for name in (b"wrap.toml", b"f\xe4den.toml"):
        (tmp_path / os.fsdecode(name)).write_text(text, encoding="utf-8")
    page = page_on(Desk.open(str(design)), pages)
    state = tmp_path / "state"
    (state / "recent.json").write_text(json.dumps([str(odd / "wrap.toml"), str(design)]))
    places = asked(page, "file_places")
    msgpack.packb(places)
    assert places["beside"] == ["wrap.toml"]
    assert places["recent"] == [str(design)]


def test_the_name_to_save_under_is_made_of_the_builders_title(
    tmp_path: Path, pages: list[app.Page]
) -> None:
    page = page_on(Desk.open("sample:half-scale"), pages)
    assert asked(page, "file_places")["proposed"] == "my-half-scale.toml"
    page.desk.change("title", "Heath rod, No. 3/4")
    assert asked(page, "file_places")["proposed"] == "heath-rod-no-3-4.toml"
    page.desk.change("title", "???")
    assert asked(page, "file_places")["proposed"] == "half-scale.toml"
    page.desk.open_text(samples.text("half-scale"), "wren-s-rod")
    page.desk.change("title", "Wren's rod")
    assert asked(page, "file_places")["proposed"] == "wren-s-rod.toml"
    page.desk.save_as(tmp_path / "other.toml")
    assert asked(page, "file_places")["proposed"] == "other.toml"
