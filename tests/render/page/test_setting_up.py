"""A page of which a script cannot be read or run says so in one sentence."""

from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Browser, Page, Route, expect

from tests.render.page.conftest import Program, Start
from tests.waiting import WITHIN

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def program(start: Start) -> Program:
    return start()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A tab in which errors are expected."""
    context = browser.new_context(viewport={"width": 390, "height": 844})
    context.set_default_timeout(1000 * WITHIN)
    yield context.new_page()
    context.close()


def broken(route: Route) -> None:
    route.fulfill(content_type="text/javascript", body="const of = ;")


def throwing(route: Route) -> None:
    route.fulfill(content_type="text/javascript", body="throw new Error('no such thing');")


def blocked(route: Route) -> None:
    route.abort()


@pytest.mark.parametrize(
    ("script", "fault", "words"),
    [
        ("**/page/parts.js", broken, "SyntaxError"),
        ("**/page/drawing.js", throwing, "no such thing in drawing.js"),
        ("**/page/parts.js", blocked, "parts.js was not let through"),
        ("**/vue.global.js", blocked, "vue.global.js was not let through"),
        ("**/assets/index-*.js", blocked, "was not let through"),
    ],
)
def test_a_script_that_fails_is_named(
    page: Page, program: Program, script: str, fault: Callable[[Route], None], words: str
) -> None:
    page.route(script, fault)
    page.goto(program.address)
    told = page.get_by_role("alert")
    expect(told).to_have_count(1)
    expect(told).to_contain_text(words)
    expect(told).to_contain_text("Load it again")
    expect(page.get_by_text("Setting up the page")).to_be_hidden()


def test_an_old_browser_is_told_so(page: Page, program: Program) -> None:
    """One that knows no modules: scripts of that kind do nothing there, without any error."""
    page.add_init_script("delete HTMLScriptElement.prototype.noModule;")
    page.route(
        "**/assets/index-*.js", lambda route: route.fulfill(body="", content_type="text/javascript")
    )
    page.goto(program.address)
    expect(page.get_by_role("alert")).to_contain_text("too old for the page of Turnlight")
