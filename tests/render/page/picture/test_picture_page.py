"""The picture in a real browser: turned, looked at otherwise, compared, kept in a ring."""

import io
import re

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import expect

from render.page.picture.client_view import LOOK_FIELDS
from scenes.design.document import document_of
from scenes.files import samples
from tests.render.page.conftest import Program, Seen, Start, hold

pytestmark = pytest.mark.browser

SAMPLE = "half-scale"
GAP = "21.2"  # mm, as the sample has it


def look_of(sample: str) -> dict[str, object]:
    """How a sample is looked at, as its document says."""
    document = document_of(samples.load(sample), defaults=True)
    look: dict[str, object] = {"dry": False}
    for name, path in LOOK_FIELDS.items():
        table, field = path.split(".")
        look[name] = document[table][field]
    return look


def begin(tab: Seen, program: Program, *, filling: bool = False) -> None:
    """Open the page as if nobody had used the program before.

    All tests of this file share one program; none may depend on what another has left there, or
    left half done.
    """
    tab.open(program)
    tab.page.evaluate(
        """async ([sample, look]) => {
            await window.trame.trigger("file_new", [sample, true]);
            await window.trame.trigger("pic_look", [look]);
        }""",
        [SAMPLE, look_of(SAMPLE)],
    )
    expect(tab.number("relief.gap")).to_have_value(GAP)
    tab.page.wait_for_function(
        "() => window.turnlight.shown?.epoch === window.trame.state.get('pic_epoch')"
    )
    if filling:
        hold(tab.page, held=False)


def slots_of(tab: Seen, least: int) -> list[int]:
    """Wait for so many pictures of the ring, and give the numbers of their turns."""
    tab.page.wait_for_function(f"window.turnlight.kept().length >= {least}")
    slots: list[int] = tab.page.evaluate("window.turnlight.kept()")
    return slots


def farthest(slots: list[int], middle: int) -> int:
    return max(min((slot - middle) % 120, (middle - slot) % 120) for slot in slots)


@pytest.fixture(scope="module")
def program(start: Start) -> Program:
    return start()


def difference(one: bytes, other: bytes) -> float:
    """Mean difference of two pictures, of 255."""
    first, second = (
        np.asarray(Image.open(io.BytesIO(data)).convert("RGB"), dtype=float)
        for data in (one, other)
    )
    return float(np.abs(first - second).mean())


def drag(tab: Seen, dx: float, dy: float, steps: int = 6) -> None:
    box = tab.page.locator('[data-test="picture"]').bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 3
    tab.page.mouse.move(x, y)
    tab.page.mouse.down()
    for step in range(1, steps + 1):
        tab.page.mouse.move(x + dx * step / steps, y + dy * step / steps)
    tab.page.mouse.up()


def test_picture_sharpens_in_place_and_shows_the_rod(tab: Seen, program: Program) -> None:
    begin(tab, program, filling=True)
    shown = tab.picture("shown.grade === 'fine'")
    assert shown["turn"] == 0
    picture = np.asarray(Image.open(io.BytesIO(tab.pixels())).convert("L"), dtype=float)
    # A bright wrap across the middle of a dark card.
    height = len(picture)
    assert (
        picture[int(0.4 * height) : int(0.6 * height)].mean() > 1.5 * picture[: height // 6].mean()
    )


def test_drag_turns_the_rod_about_its_axis(tab: Seen, program: Program) -> None:
    begin(tab, program)
    # Plain against plain: a preview is another one without any turn.
    tab.picture("shown.grade !== 'preview'")
    before = tab.pixels()
    box = tab.page.locator('[data-test="turn"]')
    was = box.input_value()
    drag(tab, 0, 60)
    expect(box).not_to_have_value(was)
    turn = float(box.input_value())
    # Downwards brings what is above towards the viewer, as a hand would turn it.
    assert 3 <= turn <= 180
    tab.picture(f"Math.abs(shown.turn - {turn}) < 0.1 && shown.grade !== 'preview'")
    assert difference(before, tab.pixels()) > 1
    assert tab.page.evaluate("window.turnlight.shown.turn % 3") == pytest.approx(0, abs=1e-6)


def test_turn_typed_is_the_turn_seen(tab: Seen, program: Program) -> None:
    begin(tab, program)
    box = tab.page.locator('[data-test="turn"]')
    box.fill("200.5")
    box.press("Enter")
    shown = tab.picture("shown.turn > 200")
    assert shown["turn"] == pytest.approx(200.5)
    expect(tab.page.locator('[data-test="picture"]')).to_have_attribute(
        "aria-valuetext", "turned 200.5°"
    )


def test_a_page_that_is_opened_anew_keeps_its_turn(tab: Seen, program: Program) -> None:
    begin(tab, program)
    # Another tab holds the ring back, so that none is drawn while this one is closed and opened.
    other = tab.page.context.new_page()
    other.goto(program.address)
    other.wait_for_function("window.turnlight?.shown")
    hold(other)
    box = tab.page.locator('[data-test="turn"]')
    box.fill("200.5")
    box.press("Enter")
    epoch = tab.picture("shown.turn > 200")["epoch"]
    tab.put("relief.gap", "25")
    tab.picture(f"shown.epoch > {epoch}")
    tab.page.goto(program.address)
    assert tab.picture("true")["turn"] == pytest.approx(200.5)
    hold(other, held=False)
    # The ring begins there: 200.5 degrees are next to the 67th of 120 turns.
    slots = slots_of(tab, 4)
    assert farthest(slots, 67) <= len(slots)


def test_keys_turn_and_orbit_and_light(tab: Seen, program: Program) -> None:
    begin(tab, program)
    rod = tab.page.locator('[data-test="picture"]')
    rod.focus()
    rod.press("Home")
    rod.press("PageDown")
    rod.press("ArrowRight")
    tab.picture("Math.abs(shown.turn - 48) < 0.01")
    epoch = tab.picture("true")["epoch"]
    rod.press("Shift+ArrowRight")
    epoch = tab.picture(f"shown.epoch > {epoch}")["epoch"]
    light = tab.page.locator('[data-test="light"]')
    was = light.input_value()
    rod.press("l")
    expect(light).not_to_have_value(was)
    tab.picture(f"shown.epoch > {epoch}")
    rod.press("d")
    # In this window the bar has no room for the finish: it is in the menu.
    tab.page.locator('[data-test="more"]').click()
    expect(tab.page.locator('[data-test="dry"]')).to_be_checked()
    rod.press("d")
    rod.press("f")
    tab.page.locator('[data-test="more"]').click()
    expect(tab.page.locator('[data-test="finished"]')).to_be_checked()


def test_looking_leaves_the_design_alone_until_kept(tab: Seen, program: Program) -> None:
    begin(tab, program)
    # Neither of which the design has.
    for what, chosen in (("light", "low sun"), ("view", "close")):
        epoch = tab.picture("true")["epoch"]
        tab.page.locator(f'[data-test="{what}"]').select_option(chosen)
        tab.picture(f"shown.epoch > {epoch}")
    assert tab.page.evaluate("document.title").startswith("Ossery")
    tab.page.locator('[data-test="more"]').click()
    tab.page.locator('[data-test="keep"]').click()
    tab.page.wait_for_function("document.title.startsWith('●') || document.title.startsWith('•')")
    tab.page.keyboard.press("Escape")
    tab.page.get_by_role("button", name="Undo").click()
    # What the design says is what is seen again.
    expect(tab.page.locator('[data-test="light"]')).to_have_value("soft boxes")
    expect(tab.page.locator('[data-test="view"]')).to_have_value("whole wrap")


def test_ring_fills_nearest_first_and_is_emptied_by_a_change(tab: Seen, program: Program) -> None:
    begin(tab, program, filling=True)
    slots = slots_of(tab, 6)
    assert farthest(slots, 0) <= len(slots)
    # What is in the ring needs nobody: the rod turns although the program is not reached.
    page = tab.page
    page.evaluate(
        "() => { window.reached = window.trame.trigger; window.trame.trigger = async () => null; }"
    )
    page.locator('[data-test="picture"]').focus()
    page.keyboard.press("ArrowRight")
    tab.picture("Math.abs(shown.turn - 3) < 1e-3 && shown.grade !== 'preview'")
    page.evaluate("() => { window.trame.trigger = window.reached; }")
    # With the ring held back nothing comes into it after the change but what is looked at.
    hold(page)
    epoch = page.evaluate("window.turnlight.shown.epoch")
    tab.put("relief.gap", "22")
    tab.picture(f"shown.epoch > {epoch} && shown.grade !== 'preview'")
    assert set(page.evaluate("window.turnlight.kept()")) <= {0, 1}


def test_pinned_and_present_design_turn_together(tab: Seen, program: Program) -> None:
    begin(tab, program)
    tab.page.locator('[data-test="compare"]').click()
    tab.page.locator('[data-test="pin"]').click()
    expect(tab.page.locator('[data-test="differences"]')).to_contain_text("the same")
    epoch = tab.picture("true")["epoch"]
    tab.put("relief.gap", "14")
    expect(tab.page.locator('[data-test="differences"]')).to_contain_text("gap 14 mm")
    tab.page.wait_for_function(
        f"() => {{ const {{ A, B }} = window.turnlight.sides(); return A && B && B.epoch > {epoch}"
        " && A.epoch === B.epoch && A.grade !== 'preview' && B.grade !== 'preview'; }"
    )
    both = np.asarray(Image.open(io.BytesIO(tab.pixels())).convert("RGB"), dtype=float)
    half = len(both) // 2
    upper, lower = both[: half - 4], both[half + 4 : 2 * half]
    assert np.abs(upper[: len(lower)] - lower[: len(upper)]).mean() > 0.5
    box = tab.page.locator('[data-test="turn"]')
    box.fill("90")
    box.press("Enter")
    tab.page.wait_for_function(
        "() => Object.values(window.turnlight.sides())"
        ".every(({ turn }) => Math.abs(turn - 90) < 1e-3)"
    )
    tab.page.locator('[data-test="mode-swipe"]').check(force=True)
    line = tab.page.locator('[data-test="swipe"]')
    line.focus()
    line.press("ArrowLeft")
    expect(line).to_have_attribute("aria-valuenow", "48")
    tab.page.locator('[data-test="unpin"]').click()
    expect(line).to_have_count(0)


def test_what_was_changed_since_the_pin_is_kept_as_a_variant(tab: Seen, program: Program) -> None:
    begin(tab, program)
    page = tab.page
    page.locator('[data-test="compare"]').click()
    page.locator('[data-test="pin"]').click()
    keep = page.locator('[data-test="keep-variant"]')
    expect(page.locator('[data-test="unpin"]')).to_be_visible()
    expect(keep).to_have_count(0)
    tab.put("relief.gap", "17")
    # It is kept at once, under what differs; the name is then typed over it.
    keep.get_by_role("button", name="Keep B as variant").click()
    name = page.locator('[data-test="kept-name"]')
    expect(name).to_have_value("gap 17 mm")
    expect(page.locator('[data-test="status"]')).to_contain_text("gap 17 mm is kept")
    # The sample has a variant of that name already.
    name.fill("wide gap")
    name.press("Enter")
    expect(page.locator(".side .problem", has_text="wide gap")).to_be_visible()
    name.fill("seventeen")
    page.locator('[data-test="differences"]').click()  # any tap elsewhere
    # A again, and B is there to be taken.
    expect(tab.number("relief.gap")).to_have_value(GAP)
    page.locator('[data-card="variants"] > summary').click()
    seventeen = page.locator('[data-variant="seventeen"]')
    # It is opened as B, changed, and kept in its place.
    seventeen.get_by_role("button", name="Show beside").click()
    expect(tab.number("relief.gap")).to_have_value("17")
    tab.put("relief.gap", "18")
    keep.get_by_role("button", name="Change “seventeen”").click()
    expect(seventeen).to_contain_text("gap 18 mm")
    expect(tab.number("relief.gap")).to_have_value(GAP)
    seventeen.get_by_role("button", name="Rename").click()
    page.locator('[data-card="variants"] form input').fill("eighteen")
    page.locator('[data-card="variants"] form input').press("Enter")
    eighteen = page.locator('[data-variant="eighteen"]')
    eighteen.get_by_role("button", name="Make this the design").click()
    expect(tab.number("relief.gap")).to_have_value("18")
    before = page.locator('[data-variant="before eighteen"]')
    expect(before).to_contain_text(f"gap {GAP} mm")
    before.get_by_role("button", name="Remove").click()
    expect(before).to_have_count(0)
    page.locator('[data-test="unpin"]').click()
    tab.undo(9, "relief.gap", GAP)
    expect(page.locator('[data-variant="seventeen"]')).to_have_count(0)


def test_row_of_values_to_choose_from(tab: Seen, program: Program) -> None:
    begin(tab, program)
    tab.page.locator('[data-test="compare"]').click()
    # The gap is proposed, with values round the present one.
    expect(tab.page.locator('[data-test="sweep-path"]')).to_have_value("relief.gap")
    expect(tab.page.locator('[data-test="sweep-values"]')).to_have_value(re.compile(rf"\b{GAP}\b"))
    tab.page.locator('[data-test="sweep-values"]').fill("16, 30")
    tab.page.locator('[data-test="sweep"]').click()
    tries = tab.page.locator('[data-test="try"]')
    expect(tries).to_have_count(2)
    expect(tries.locator("img")).to_have_count(2)
    tries.nth(1).click()
    expect(tab.number("relief.gap")).to_have_value("30")
    tab.page.locator('[data-test="sweep-values"]').fill("16, -3")
    tab.page.locator('[data-test="sweep"]').click()
    expect(tab.page.locator(".side .problem", has_text="-3")).to_be_visible()
