"""The page as a guest's browser shows it, while the owner does this and that."""

import asyncio
import io
import math
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from functools import partial

import pytest
from PIL import Image
from playwright.sync_api import Page, expect

from render.page.server import sockets as sockets_module
from render.page.server.roles import Role
from render.page.workers.render_messages import FINE, PLAIN, PREVIEW, Frame
from tests.render.page.conftest import Seen
from tests.render.page.server.serving import ROLE, Serve, Served
from tests.waiting import WITHIN, eventually

pytestmark = pytest.mark.browser

GAP = '[data-path="relief.gap"]'


class Beside:
    """A page that is served in a thread beside the test, without the processes that draw.

    Parameters
    ----------
    served : Served
    loop : asyncio.AbstractEventLoop
        That serves it.
    """

    def __init__(self, served: Served, loop: asyncio.AbstractEventLoop) -> None:
        self.served, self._loop = served, loop

    def do(self, act: Callable[[], object]) -> None:
        """Do something as the page's program does it, and wait until it is done."""

        async def done() -> None:
            with self.served.page.state:
                act()

        asyncio.run_coroutine_threadsafe(done(), self._loop).result(WITHIN)

    def cut(self) -> None:
        """End the connections of all browsers, as a network does that breaks down."""
        for connection in self.served.page.sockets._sockets.values():
            assert connection._req is not None
            assert connection._req.transport is not None
            connection._req.transport.abort()

    def open(self, page: Page, role: Role) -> None:
        """Go to the page as somebody."""
        page.context.add_cookies([{"name": ROLE, "value": role.value, "url": self.served.address}])
        page.goto(self.served.address)
        page.wait_for_selector(".desk .card")


@pytest.fixture
def beside(serve: Serve) -> Iterator[Beside]:
    ready: Future[Beside] = Future()
    ended = asyncio.Event()

    async def whole() -> None:
        async with serve() as served:
            ready.set_result(Beside(served, asyncio.get_running_loop()))
            await ended.wait()

    def run() -> None:
        try:
            asyncio.run(whole())
        except BaseException as fault:
            if not ready.done():
                ready.set_exception(fault)
            raise

    thread = threading.Thread(target=run)
    thread.start()
    started = ready.result(WITHIN)
    yield started
    started._loop.call_soon_threadsafe(ended.set)
    thread.join(WITHIN)


def test_what_a_guest_typed_gives_way_when_the_owner_forbids_it(tab: Seen, beside: Beside) -> None:
    page, desk = tab.page, beside.served.page.desk
    let = beside.served.page.sharing.let_guests_edit
    beside.open(page, Role.GUEST)
    gap, slider = page.locator(f"{GAP} input.num"), page.locator(f"{GAP} input.slider")
    expect(page.locator('[data-test="not-now"]')).to_contain_text("guests may not change")
    expect(gap).to_be_disabled()

    beside.do(lambda: let(True))
    expect(gap).to_be_enabled()
    expect(page.locator('[data-test="not-now"]')).to_have_count(0)
    before = gap.input_value()
    gap.fill("28")
    beside.do(lambda: let(False))
    expect(gap).to_be_disabled()
    expect(gap).to_have_value(before)
    expect(page.locator(f"{GAP} .problem")).to_contain_text("28 was not taken")

    # Others' edits reach it meanwhile, and it works again when it is allowed.
    beside.do(lambda: desk.change("relief.gap", 19))
    expect(gap).to_have_value("19")
    beside.do(lambda: let(True))
    expect(page.locator(f"{GAP} .problem")).to_have_count(0)
    gap.fill("22")
    gap.press("Enter")
    expect(gap).not_to_have_attribute("data-typed", "yes")
    assert desk.design.layers[0].gap == 22
    slider.focus()
    slider.press("ArrowRight")
    expect(gap).not_to_have_value("22")
    beside.do(lambda: desk.change("relief.gap", 18))
    expect(gap).to_have_value("18")


def test_a_field_lives_on_after_a_refusal_that_overtakes_the_ban(tab: Seen, beside: Beside) -> None:
    """The answer to an edit arrives before the state that says that edits are forbidden."""
    page, sharing = tab.page, beside.served.page.sharing
    beside.open(page, Role.GUEST)
    beside.do(lambda: sharing.let_guests_edit(True))
    gap = page.locator(f"{GAP} input.num")
    expect(gap).to_be_enabled()
    before = gap.input_value()
    # Nobody is told.
    beside.do(lambda: setattr(sharing, "_guests_edit", False))
    gap.fill("28")
    gap.press("Enter")
    expect(page.locator(f"{GAP} .problem")).to_contain_text("guests may not change")
    expect(gap).to_have_value(before)
    page.evaluate("turnlight_fields.idle()")
    beside.do(lambda: setattr(sharing, "_guests_edit", True))
    gap.fill("23")
    gap.press("Enter")
    expect(gap).not_to_have_attribute("data-typed", "yes")
    assert beside.served.page.desk.design.layers[0].gap == 23


def test_a_lost_page_says_what_brings_it_back(tab: Seen, beside: Beside) -> None:
    page, address = tab.page, beside.served.address
    lost = page.locator('[data-test="lost"]')
    for role, before, after in (
        (Role.GUEST, "ask whoever shares the page for the new one", "this address is used up"),
        (
            Role.OWNER,
            "start it again: it opens a new tab",
            "go on in the tab that it has just opened",
        ),
    ):
        beside.open(page, role)
        page.route(f"{address}/", lambda route: route.abort())
        beside.do(beside.cut)
        expect(lost).to_contain_text("If only the connection was interrupted")
        expect(lost).to_contain_text(before)
        # The same run of the program answers: the page comes back.
        page.unroute(f"{address}/")
        page.wait_for_selector(".desk .card")
        expect(lost).to_have_count(0)
        # Another run answers, which knows no session of before.
        page.route(f"{address}/", lambda route: route.fulfill(status=403))
        beside.do(beside.cut)
        expect(lost).to_contain_text(after)
        page.unroute(f"{address}/")
    # The browser's own account of that answer.
    assert all("403" in error for error in tab.errors)
    tab.errors.clear()


def test_a_silent_program_is_told_within_ten_seconds(
    tab: Seen, beside: Beside, monkeypatch: pytest.MonkeyPatch
) -> None:
    page, sockets = tab.page, beside.served.page.sockets
    page.clock.install()
    beside.open(page, Role.GUEST)
    unheard = page.locator('[data-test="unheard"]')
    expect(unheard).to_have_count(0)
    beat = sockets.beat
    monkeypatch.setattr(sockets, "beat", lambda: None)
    page.clock.fast_forward(10_000)
    expect(unheard).to_contain_text("Nothing has been heard from Turnlight since")
    beside.do(beat)
    expect(unheard).to_have_count(0)


def test_a_tab_too_many_says_so_in_one_sentence(tab: Seen, beside: Beside) -> None:
    page = tab.page
    beside.open(page, Role.GUEST)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(sockets_module, "_MOST_OF_SESSION", dict.fromkeys(Role, 1))
        another = page.context.new_page()
        another.goto(beside.served.address)
        notice = another.locator('[data-test="unproven"]')
        expect(notice).to_contain_text("Too many tabs have this page open already")
        expect(another.get_by_text("connect()")).to_be_hidden()
        # And where there is no answer at all.
        another.route("**/session", lambda route: route.abort())
        another.reload()
        expect(notice).to_contain_text("Turnlight does not answer")
        expect(another.get_by_text("connect()")).to_be_hidden()


def test_a_reloaded_page_keeps_turn_and_comparison(tab: Seen, beside: Beside) -> None:
    page = tab.page
    beside.open(page, Role.GUEST)
    page.locator('[data-test="compare"]').click()
    page.locator('[data-test="pin"]').click()
    stacked = page.locator('[data-test="stacked"]')
    expect(stacked).to_be_checked()
    turn = page.locator('[data-test="turn"]')
    turn.fill("327.5")
    turn.press("Enter")
    # All of it is seen, also while the pointer is there.
    turn.hover()
    cut = turn.evaluate("(box) => box.scrollWidth - box.clientWidth")
    assert cut <= 0

    def turns() -> set[float]:
        page.evaluate("1")
        views = beside.served.page.picture._views.values()
        return {round(math.degrees(view.turn), 1) for view in views if view.client is not None}

    # A turn that waits behind another one is lost with the page.
    eventually(lambda: 327.5 in turns())
    page.reload()
    expect(turn).to_have_value("327.5")
    expect(stacked).to_be_checked()
    page.locator('[data-test="unpin"]').click()
    expect(stacked).to_have_count(0)
    expect(page.locator('[data-test="pin"]')).to_be_visible()


def test_the_word_about_a_picture_is_true_until_the_fine_one(tab: Seen, beside: Beside) -> None:
    page = tab.page
    beside.open(page, Role.GUEST)
    page.wait_for_function("window.turnlight")
    picture = io.BytesIO()
    Image.new("RGB", (64, 36), "#446688").save(picture, "JPEG")
    eventually(lambda: beside.served.page.picture.views[0].size is not None)
    view = beside.served.page.picture.views[0]
    fresh = page.locator('[data-test="freshness"]')
    words = {PREVIEW: "A draft; the full", PLAIN: "The full picture; a finer", FINE: ""}
    for number, (grade, word) in enumerate(words.items(), 1):
        frame = Frame(number, view.number, view.epoch, "B", view.turn, grade, picture.getvalue())
        beside.do(partial(view.take, frame))
        page.wait_for_function(
            f"window.turnlight.shown && window.turnlight.shown.grade === '{grade}'"
        )
        if word:
            expect(fresh).to_contain_text(word)
        else:
            expect(fresh).to_have_count(0)
