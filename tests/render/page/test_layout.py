"""The page on phones, tablets and desks: no control is clipped, covered or overlapped."""

import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.render.page.conftest import Program, Start
from tests.waiting import WITHIN

pytestmark = pytest.mark.browser

FAULTS = Path(__file__).with_name("layout_faults.js").read_text(encoding="utf-8")

TOUCH = ((390, 844), (844, 390), (820, 1180))
MOUSE = ((1280, 720), (1440, 900))

UNDRAWN = """window.ResizeObserver = class extends ResizeObserver {
    observe(place) {
        if (!place.matches(".picture")) super.observe(place);
    }
};"""
"""Keeps from the page how large the picture is: it would be drawn at every size."""

SETTLED = (
    "() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => done())))"
)


def ask(page: Page, name: str, *given: object) -> None:
    page.evaluate("([name, given]) => window.trame.trigger(name, given)", [name, given])


def press(page: Page, test: str) -> None:
    page.locator(f'[data-test="{test}"]').click()


def escape(page: Page) -> None:
    page.keyboard.press("Escape")
    expect(page.locator("dialog[open]")).to_have_count(0)


def from_menu(entry: str, awaited: str = "dialog[open]") -> Callable[[Page], None]:
    def act(page: Page) -> None:
        page.get_by_role("button", name="File").click()
        page.get_by_role("menuitem", name=entry).click()
        expect(page.locator(awaited).first).to_be_visible()

    return act


def open_file_menu(page: Page) -> None:
    page.get_by_role("button", name="File").click()


def close_file_menu(page: Page) -> None:
    page.keyboard.press("Escape")
    expect(page.get_by_role("menu", name="File")).to_have_count(0)


def pin(page: Page) -> None:
    press(page, "compare")
    press(page, "pin")
    expect(page.locator('[data-test="unpin"]')).to_be_visible()
    ask(page, "desk_change", "relief.gap", 21)
    expect(page.locator('[data-test="keep-variant"]')).to_be_visible()
    ask(page, "pic_rest")


def unpin(page: Page) -> None:
    press(page, "unpin")
    press(page, "compare")
    ask(page, "desk_undo")


def type_what_does_not_fit(page: Page) -> None:
    number = page.locator('[data-path="placement.from"] input.num')
    number.fill("450")
    number.press("Enter")
    expect(page.locator('[data-test="pending"]')).to_be_visible()


def let_go(page: Page) -> None:
    ask(page, "pending_drop", "")
    expect(page.locator('[data-test="pending"]')).to_have_count(0)


def click_all(page: Page, selector: str) -> None:
    page.evaluate(
        "(selector) => document.querySelectorAll(selector).forEach((one) => one.click())", selector
    )


def unfold_cards(page: Page) -> None:
    click_all(page, ".card:not([open]) > summary")
    page.wait_for_function("document.querySelectorAll('.card:not([open])').length === 0")
    click_all(page, ".more:not([open]) > summary")


def pick_thread(page: Page) -> None:
    page.locator(".field .thread:not(.file)").first.click()
    expect(page.get_by_role("combobox", name="Search the shelf")).to_be_visible()


def describe_thread(page: Page) -> None:
    pick_thread(page)
    page.get_by_role("button", name="A thread of your own…").click()
    expect(page.locator(".picker").get_by_role("button", name="Save the design…")).to_be_focused()


def leave_thread(page: Page) -> None:
    page.keyboard.press("Escape")
    expect(page.get_by_role("combobox", name="Search the shelf")).to_be_focused()
    page.keyboard.press("Escape")


def try_colours(page: Page) -> None:
    page.locator(".palette").nth(2).click()
    expect(page.locator('[data-test="palette-keep"]')).to_be_visible()


def leave_colours(page: Page) -> None:
    press(page, "palette-leave")
    expect(page.locator('[data-test="tried"]')).to_have_count(0)


def unroll(page: Page) -> None:
    press(page, "unroll")
    expect(page.get_by_role("slider", name="Side of the wrap")).to_be_visible()


def nothing(page: Page) -> None:
    """A state that needs no act to reach or leave."""


STATES: dict[str, tuple[Callable[[Page], None], Callable[[Page], None]]] = {
    "first view": (nothing, nothing),
    "file menu": (open_file_menu, close_file_menu),
    "more about the view": (lambda page: press(page, "more"), lambda page: press(page, "more")),
    "compared": (pin, unpin),
    "send": (lambda page: press(page, "send"), escape),
    "new for a rod": (from_menu("New for my rod…"), escape),
    "new": (from_menu("New from a sample…", "dialog img"), escape),
    "open": (from_menu("Open…"), escape),
    "save as": (from_menu("Save as…"), escape),
    "cards": (unfold_cards, nothing),
    "colours tried": (try_colours, leave_colours),
    "unrolled": (unroll, lambda page: press(page, "unroll")),
    "thread chosen": (pick_thread, lambda page: page.keyboard.press("Escape")),
    "a thread of one's own": (describe_thread, leave_thread),
    "does not fit yet": (type_what_does_not_fit, let_go),
}
"""How each state is reached from the one before, and left again."""


LASTING = ("compared",)
"""States that take seconds to reach, and nothing in them is placed by a script: they are reached
once, and measured at every size."""


@pytest.fixture(scope="module")
def program(start: Start) -> Program:
    return start("sample:half-scale", "--share")


@pytest.fixture
def opened(
    browser: Browser, program: Program, request: pytest.FixtureRequest
) -> Iterator[tuple[Page, bool]]:
    """The page, whose picture is not drawn, and whether fingers use it."""
    touch = request.param
    width, height = TOUCH[0] if touch else MOUSE[0]
    context = browser.new_context(
        viewport={"width": width, "height": height},
        has_touch=touch,
        is_mobile=touch,
        reduced_motion="reduce",
    )
    context.set_default_timeout(1000 * WITHIN)
    page = context.new_page()
    broken: list[str] = []
    page.on("console", lambda said: broken.append(said.text) if said.type == "error" else None)
    page.add_init_script(UNDRAWN)
    page.goto(program.address)
    page.wait_for_selector(".desk .card")
    yield page, touch
    context.close()
    assert not broken


@pytest.mark.parametrize("opened", [True, False], ids=["touch", "mouse"], indirect=True)
def test_no_control_is_clipped_covered_or_overlapped(opened: tuple[Page, bool]) -> None:
    page, touch = opened
    found: dict[str, list[str]] = {}
    sizes = TOUCH if touch else MOUSE
    for size in sizes:
        resize(page, size)
        for state in (one for one in STATES if one not in LASTING):
            reach, leave = STATES[state]
            reach(page)
            found |= faults(page, size, state, touch=touch)
            leave(page)
        click_all(page, ".card[open] > summary")
    for state in LASTING:
        reach, leave = STATES[state]
        reach(page)
        for size in sizes:
            resize(page, size)
            found |= faults(page, size, state, touch=touch)
        leave(page)
    assert not found, "\n".join(f"{where}: {fault}" for where in found for fault in found[where])


def resize(page: Page, size: tuple[int, int]) -> None:
    page.set_viewport_size({"width": size[0], "height": size[1]})
    page.evaluate("sessionStorage.clear()")


def faults(page: Page, size: tuple[int, int], state: str, *, touch: bool) -> dict[str, list[str]]:
    """Faults of the layout, by where they are seen."""
    width, height = size
    folder = os.environ.get("TURNLIGHT_SCREENSHOTS", "")
    found = {}
    # Colours move nothing: the second scheme is measured where most controls are seen.
    for scheme in ("light", "dark") if folder or state == "cards" else ("light",):
        page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        page.evaluate(SETTLED)
        if folder:
            name = f"{width}x{height}-{state.replace(' ', '-')}-{scheme}.png"
            page.screenshot(path=Path(folder) / name)
        if told := page.evaluate(FAULTS, {"touch": touch}):
            found[f"{width} x {height}, {state}, {scheme}"] = told
    return found


@pytest.mark.parametrize("opened", [True], ids=["touch"], indirect=True)
def test_two_fingers_zoom_about_the_place_between_them(opened: tuple[Page, bool]) -> None:
    page, _ = opened
    fingers = page.context.new_cdp_session(page)
    box = page.locator('[data-test="picture"]').bounding_box()
    assert box is not None
    x, y = box["x"] + 0.75 * box["width"], box["y"] + 0.5 * box["height"]
    # A view without a picture has its scale from its first change on.
    ask(page, "pic_look", {"zoom": 1.0})
    page.wait_for_function("() => window.trame.state.get('pic_scale').height !== 8")
    before = page.evaluate("window.trame.state.get('pic_look')")
    scale = page.evaluate("window.trame.state.get('pic_scale')")

    def touch(kind: str, *apart: float) -> None:
        points = [
            {"x": x + sign * half, "y": y, "id": (1 + sign) // 2}
            for half in apart
            for sign in (-1, 1)
        ]
        fingers.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    touch("touchStart", 20)
    for apart in (25, 30, 40):
        touch("touchMove", apart)
    touch("touchEnd")
    page.wait_for_function(
        f"() => Math.abs(window.trame.state.get('pic_look').zoom - {2 * before['zoom']}) < 0.01"
    )
    after = page.evaluate("window.trame.state.get('pic_look')")
    # What was under the place between the fingers is there still: the middle moved towards it.
    length = scale["height"] * scale["zoom"] / box["height"] / scale["slant"]
    moved = 0.25 * box["width"] * length * (1 / before["zoom"] - 1 / after["zoom"])
    assert after["along"] - before["along"] == pytest.approx(moved, rel=0.02)
    assert (after["walk"], after["rise"]) == (before["walk"], before["rise"])
