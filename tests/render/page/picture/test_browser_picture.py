"""The builder's page draws for itself, in real Chromium, where it is made to (software GL)."""

import io

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from playwright.sync_api import expect

from tests.render.page.conftest import Program, Seen, Start, hold
from tests.waiting import eventually

pytestmark = pytest.mark.browser

CHOOSE = "localStorage.setItem('turnlight-drawing', '{}')"
PICTURE = '[data-test="picture"]'
SMALL = {"viewport": {"width": 900, "height": 500}}


@pytest.fixture(scope="module")
def program(start: Start) -> Program:
    return start("sample:two-start-band")


def own(tab: Seen, condition: str) -> None:
    """Wait until the picture that the browser draws fulfils a condition."""
    tab.page.wait_for_function(
        f"() => {{ const own = window.turnlight?.own?.(); return own && ({condition}); }}"
    )


def still(tab: Seen) -> NDArray[np.float64]:
    """Take the picture once it is fine, and nothing that was done before waits to be drawn."""
    tab.page.wait_for_function("""async () => {
        const frame = () => new Promise((done) => requestAnimationFrame(done));
        await frame();
        await frame();
        return document.querySelector('[data-test=solid]').dataset.quality === 'fine';
    }""")
    picture = Image.open(io.BytesIO(tab.pixels())).convert("RGB")
    return np.asarray(picture, dtype=float)


def changed(tab: Seen, act: str) -> None:
    """Do something to the page, and wait for a quick picture of what follows."""
    tab.page.evaluate("document.querySelector('[data-test=solid]').dataset.quality = ''")
    tab.page.evaluate(act)


def settled(tab: Seen) -> NDArray[np.float64]:
    """The still picture once it no longer changes: coarse ones and stand-ins are gone."""
    seen = [still(tab)]

    def same() -> bool:
        tab.page.wait_for_timeout(300)
        seen.append(still(tab))
        return bool(np.abs(seen[-1] - seen[-2]).mean() < 0.01)

    eventually(same)
    return seen[-1]


@pytest.mark.parametrize("tab", [SMALL], indirect=True)
def test_a_browser_that_draws_turns_zooms_and_lights_by_itself(tab: Seen, program: Program) -> None:
    page = tab.page
    page.add_init_script(CHOOSE.format("browser"))
    # Held as other tests hold it, the program would pack no more than a draft.
    tab.open(program, filling=True)
    own(tab, "own.state === 'drawn' && !own.draft && own.number >= 0")
    hold(page)
    before = still(tab)
    # A bright wrap on a dark card.
    assert before.max() > 3 * before.mean()
    box = page.locator(PICTURE).bounding_box()
    assert box is not None
    x, y = box["x"] + 0.3 * box["width"], box["y"] + 0.5 * box["height"]

    # What is under the pointer stays there, and grows.
    page.mouse.move(x, y)
    changed(tab, "() => {}")
    page.mouse.wheel(0, -600)
    near = still(tab)
    zoom = np.exp(600 * 0.0012)
    spot = round(y - box["y"]), round(x - box["x"])
    reach = 50
    was = before[
        spot[0] - round(reach / zoom) : spot[0] + round(reach / zoom),
        spot[1] - round(reach / zoom) : spot[1] + round(reach / zoom),
    ]
    grown = np.asarray(
        Image.fromarray(was.astype(np.uint8)).resize((2 * reach, 2 * reach)), dtype=float
    )
    there = near[spot[0] - reach : spot[0] + reach, spot[1] - reach : spot[1] + reach]
    apart = near[spot[0] - reach : spot[0] + reach, spot[1] - reach + 25 : spot[1] + reach + 25]
    assert np.abs(grown - there).mean() < 0.6 * np.abs(grown - apart).mean()

    # The rod turns, and what lies under it is another part of it.
    page.locator(PICTURE).focus()
    changed(tab, "() => {}")
    page.keyboard.press("PageDown")
    expect(page.locator('[data-test="turn"]')).to_have_value("45")
    turned = still(tab)
    assert np.abs(turned - near).mean() > 1

    # Another light comes from the program.
    light = page.evaluate("window.turnlight.own().light")
    page.locator('[data-test="light"]').select_option("low sun")
    own(tab, f"own.light !== '{light}'")
    changed(tab, "() => window.dispatchEvent(new Event('resize'))")
    page.keyboard.press("f")
    assert np.abs(still(tab) - before).mean() > 1


@pytest.mark.parametrize("tab", [SMALL], indirect=True)
def test_an_edit_marks_the_picture_and_a_lost_context_comes_back(
    tab: Seen, program: Program
) -> None:
    page = tab.page
    page.add_init_script(CHOOSE.format("browser"))
    # Each sentence about the picture, as it comes.
    page.add_init_script("""window.behind = []; new MutationObserver(() => {
        const said = document.querySelector('[data-test="freshness"]')?.textContent;
        if (said && window.behind.at(-1) !== said) window.behind.push(said);
    }).observe(document, { childList: true, subtree: true, characterData: true });""")
    # Held as other tests hold it, the program would pack no more than a draft.
    tab.open(program, filling=True)
    own(tab, "own.state === 'drawn' && !own.draft && own.number >= 0")
    before = still(tab)
    # Only drafts are packed while a slider is held.
    hold(page, held=False)
    number = page.evaluate("window.turnlight.own().number")
    page.evaluate("window.behind.length = 0")
    changed(tab, "() => {}")
    tab.put("relief.gap", "0.62")
    own(tab, f"own.number > {number} && !own.draft")
    said = page.evaluate("window.behind")
    assert said[0].startswith("Out of date")
    expect(page.locator('[data-test="freshness"]')).to_have_count(0)
    changed(tab, "() => window.turnlight.own()")
    page.locator(PICTURE).focus()
    page.keyboard.press("Home")
    edited = settled(tab)
    assert np.abs(edited - before).mean() > 1

    page.evaluate("""() => {
        const gl = document.querySelector('[data-test="solid"]').getContext("webgl2");
        window.losing = gl.getExtension("WEBGL_lose_context");
        window.losing.loseContext();
    }""")
    own(tab, "own.state === 'away'")
    # Frames of the program stand in.
    tab.picture("shown.grade !== 'fine' || shown.grade")
    page.evaluate("() => window.losing.restoreContext()")
    own(tab, "own.state === 'drawn'")
    changed(tab, "() => {}")
    page.keyboard.press("Home")
    assert np.abs(settled(tab) - edited).mean() < 0.5

    # Chosen otherwise in the menu, the program draws, and the page says so.
    page.locator('[data-test="more"]').click()
    page.locator('[data-test="drawer"]').select_option("program")
    expect(page.locator('[data-test="drawn-by"]')).to_contain_text("as chosen here")
    page.locator('[data-test="drawer"]').select_option("auto")
    expect(page.locator('[data-test="drawn-by"]')).to_contain_text("software")
    tab.picture("true")
