"""The cards and the file menu in a real browser, by mouse and by keyboard.

What the page did is read from the design file, by TOML's own reader.
"""

import io
import re
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Locator, Page, expect

from scenes.files import samples
from tests.render.page.conftest import Program, Seen, Start, at_cards
from tests.waiting import eventually

pytestmark = pytest.mark.browser

WIDE = {"width": 1280, "height": 720}


@pytest.fixture(scope="module")
def program(start: Start, design_file: Path) -> Program:
    return start(design_file)


def ask(page: Page, name: str, *arguments: object) -> Any:
    """Ask the program as the page's own parts do."""
    return page.evaluate("([name, given]) => window.trame.trigger(name, given)", [name, arguments])


def arrive(page: Page, address: str, *, drawn: bool = False) -> None:
    if not drawn:  # else it takes long in a large window
        page.set_viewport_size(WIDE)
    at_cards(page, address, drawn=drawn)


def opened(page: Page, program: Program, design_file: Path, *, drawn: bool = False) -> Page:
    design_file.write_text(samples.text("half-scale"), encoding="utf-8")
    arrive(page, program.address, drawn=drawn)
    told = ask(page, "file_open", str(design_file), True)
    expect(page.locator(".desk")).to_have_attribute("data-revision", str(told["revision"]))
    expect(page.locator(".document .soft")).to_have_text("mine.toml")
    expect(number(page, "relief.gap")).to_have_value("21.2")
    return page


@pytest.fixture
def page(tab: Seen, program: Program, design_file: Path) -> Page:
    """The page on the half-scale design, as it is in its file."""
    return opened(tab.page, program, design_file)


def field(page: Page, path: str) -> Locator:
    return page.locator(f'[data-path="{path}"]').first


def number(page: Page, path: str) -> Locator:
    return field(page, path).locator("input.num")


def unfold(page: Page, card: str) -> Locator:
    found = page.locator(f'[data-card="{card}"]')
    if found.get_attribute("open") is None:
        found.locator("summary").first.click()
    return found


def put(page: Page, path: str, text: str) -> None:
    number(page, path).fill(text)
    number(page, path).press("Enter")


def threads(page: Page) -> Locator:
    """The names in the list of trims, of which the half-scale design has four."""
    return field(page, "trim.threads").locator(".thread")


def pick(page: Page, button: Locator, words: str) -> None:
    """Choose a thread by keyboard, as the first that is found."""
    button.click()
    expect(page.get_by_role("combobox", name="Search the shelf")).to_be_focused()
    page.keyboard.type(words)
    page.keyboard.press("Enter")


def saved(page: Page, file: Path) -> dict[str, Any]:
    """Save, and read what the file then holds."""

    def stamp() -> tuple[int, int]:
        return file.stat().st_ino, file.stat().st_mtime_ns

    before = stamp()
    page.keyboard.press("Control+s")
    # It is put in the place of the old file as a whole.
    eventually(lambda: stamp() != before)
    expect(page.locator(".document .dot")).to_have_count(0)
    return tomllib.loads(file.read_text(encoding="utf-8"))


# ---- numbers


def test_a_number_is_typed_and_what_follows_from_it_changes(page, design_file):
    told = field(page, "relief.gap").locator(".derived")
    expect(told.first).to_contain_text("22.55 mm wide")
    put(page, "relief.gap", "30")
    # w = (p - g) sin(alpha) with p = pi 16.9 mm at 45 degrees: 16.33 mm.
    expect(told.first).to_contain_text("16.33 mm wide")
    expect(page.locator(".document .soft")).to_contain_text("not saved")
    assert saved(page, design_file)["layers"][0]["gap"] == 30


def test_the_slider_changes_the_number_and_ends_where_no_strip_is_left(page, design_file):
    slider = field(page, "relief.gap").locator(".slider")
    slider.scroll_into_view_if_needed()
    # p - cell / sin(alpha) = 53.09 - 3.99 mm.
    eventually(lambda: float(slider.get_attribute("max") or 0), pytest.approx(49.10, abs=0.02))
    box = slider.bounding_box()
    assert box is not None
    y = box["y"] + box["height"] / 2
    page.mouse.move(box["x"] + 0.45 * box["width"], y)
    page.mouse.down()
    for step in range(45, 31, -1):
        page.mouse.move(box["x"] + step / 100 * box["width"], y)
    page.mouse.up()
    expect(number(page, "relief.gap")).not_to_have_value("21.2")
    page.evaluate("window.turnlight_fields.idle()")
    gap = float(number(page, "relief.gap").input_value())
    assert gap == pytest.approx(0.32 * 49.10, abs=1.5)
    # The whole drag is one step.
    page.get_by_role("button", name="Undo").click()
    expect(number(page, "relief.gap")).to_have_value("21.2")
    page.get_by_role("button", name="Redo").click()
    expect(number(page, "relief.gap")).to_have_value(f"{gap:g}")
    assert saved(page, design_file)["layers"][0]["gap"] == gap


COUNT_CHANGES = """() => {
    const { trigger } = window.trame;
    window.changes_tried = 0;
    window.trame.trigger = (name, ...rest) => {
        if (name === "desk_change") window.changes_tried += 1;
        return trigger.call(window.trame, name, ...rest);
    };
}"""


def test_a_bad_value_is_refused_where_it_was_typed(page):
    gap = field(page, "relief.gap")
    for text, sentence in (
        ("90", "leaves no strip"),
        ("-3", "is not between 0 and"),
        ("wide", "is not a number"),
        ("9999999", "is not between"),
    ):
        put(page, "relief.gap", text)
        expect(gap.get_by_role("alert")).to_contain_text(sentence)
        expect(number(page, "relief.gap")).to_have_value(text)
        expect(number(page, "relief.gap")).to_have_attribute("aria-invalid", "true")
        expect(gap.locator(".derived").first).to_contain_text("22.55 mm wide")
        expect(page.get_by_role("button", name="Undo")).to_be_disabled()
        number(page, "relief.gap").press("Escape")
        expect(number(page, "relief.gap")).to_have_value("21.2")
        expect(gap.get_by_role("alert")).to_have_count(0)
        expect(page.locator('[data-test="pending"]')).to_have_count(0)
    # It waits, the picture says so, and the same value is tried again when the field is left.
    put(page, "relief.gap", "70")
    note = page.locator('[data-test="pending"]')
    expect(note).to_contain_text("gap of the relief 70")
    expect(page).to_have_title(re.compile("^●"))
    page.evaluate(COUNT_CHANGES)
    number(page, "relief.gap").fill("70")
    number(page, "relief.gap").press("Tab")
    page.wait_for_function("window.changes_tried === 1")
    expect(gap.get_by_role("alert")).to_contain_text("leaves no strip")
    page.reload()
    expect(number(page, "relief.gap")).to_have_value("70")
    expect(gap.get_by_role("alert")).to_contain_text("leaves no strip")
    # Nothing is left of the reason when its cause has gone.
    put(page, "relief.angle", "33")
    expect(note).to_have_count(0)
    expect(number(page, "relief.gap")).to_have_value("70")
    expect(gap.get_by_role("alert")).to_have_count(0)
    # Taking back sets nothing, and says what fits now: Enter sets it.
    put(page, "relief.gap", "20")
    expect(page.get_by_role("button", name="Undo")).to_have_attribute("title", re.compile("20"))
    put(page, "relief.angle", "45")
    expect(number(page, "relief.angle")).to_have_value("45")
    put(page, "relief.gap", "70")
    expect(note).to_have_count(1)
    page.get_by_role("button", name="Undo").click()
    expect(gap.get_by_role("alert")).to_contain_text("It fits now")
    number(page, "relief.gap").press("Enter")
    expect(gap.get_by_role("alert")).to_have_count(0)
    expect(note).to_have_count(0)
    expect(number(page, "relief.gap")).to_have_value("70")


def test_inches_may_be_shown_and_typed_anywhere(page, design_file):
    page.get_by_role("radio", name="in", exact=True).check()
    expect(number(page, "relief.gap")).to_have_value("0.835")
    put(page, "relief.gap", "1 1/4")
    expect(field(page, "relief.gap").locator(".derived").first).to_contain_text("in wide")
    put(page, "relief.angle", "44")
    page.get_by_role("radio", name="mm", exact=True).check()
    expect(number(page, "relief.gap")).to_have_value("31.75")
    layer = saved(page, design_file)["layers"][0]
    assert (layer["gap"], layer["angle"]) == (31.75, 44)


def test_one_width_is_given_in_place_of_another(page, design_file):
    page.locator('[data-alternative="relief.strip_width"]').check()
    expect(number(page, "relief.strip_width")).to_have_value("22.552")
    page.get_by_role("button", name=re.compile("^8 cells")).click()
    expect(number(page, "relief.strip_width")).to_have_value("22.576")
    layer = saved(page, design_file)["layers"][0]
    assert "gap" not in layer
    assert layer["strip_width"] == pytest.approx(8 * 2.822)
    # Locked to whole cells it moves by cells, and follows a cell of another size.
    put(page, "relief.strip_width", "24")
    expect(number(page, "relief.strip_width")).to_have_value("24")
    field(page, "relief.strip_width").get_by_role("checkbox").check()
    expect(number(page, "relief.strip_width")).to_have_value("25.398")
    number(page, "relief.strip_width").press("ArrowDown")
    expect(number(page, "relief.strip_width")).to_have_value("22.576")
    page.locator('[data-card="relief"] .more > summary').click()
    put(page, "relief.cell", "2.5")
    expect(number(page, "relief.strip_width")).to_have_value("20")
    assert saved(page, design_file)["layers"][0]["strip_width"] == pytest.approx(8 * 2.5)


# ---- lists


def test_trims_are_put_in_another_order_by_keyboard_and_by_hand(page, design_file):
    unfold(page, "trim")
    expect(threads(page)).to_have_count(4)
    before = threads(page).all_inner_texts()
    handles = field(page, "trim.threads").locator(".handle")
    handles.nth(0).focus()
    page.keyboard.press("ArrowDown")
    expect(threads(page)).to_have_text([before[1], before[0], *before[2:]])
    # The keyboard goes with what it moves.
    expect(handles.nth(1)).to_be_focused()
    page.keyboard.press("ArrowDown")
    expect(handles.nth(2)).to_be_focused()
    moved = [before[1], before[2], before[0], before[3]]
    expect(threads(page)).to_have_text(moved)
    handles.nth(3).scroll_into_view_if_needed()
    grip, top = handles.nth(3).bounding_box(), handles.nth(0).bounding_box()
    assert grip is not None
    assert top is not None
    page.mouse.move(grip["x"] + 8, grip["y"] + 8)
    page.mouse.down()
    page.mouse.move(grip["x"] + 8, grip["y"] - 20, steps=3)
    page.mouse.move(top["x"] + 8, top["y"] + 4, steps=3)
    page.mouse.up()
    expect(threads(page)).to_have_text([before[3], *moved[:3]])
    listed = saved(page, design_file)["layers"][2]["threads"]
    assert [one["thread"] for one in listed] == [before[3], *moved[:3]]
    # The strip above the list shows the same order, and is ordered the same ways.
    order = [before[3], *moved[:3]]
    runs = field(page, "trim.threads").locator(".run")
    runs.nth(0).focus()
    page.keyboard.press("ArrowRight")
    order = [order[1], order[0], *order[2:]]
    expect(threads(page)).to_have_text(order)
    expect(runs.nth(1)).to_be_focused()
    widths = [one.evaluate("(run) => run.getBoundingClientRect().width") for one in runs.all()]
    counts = [int(one["count"]) for one in saved(page, design_file)["layers"][2]["threads"]]
    # Threads of one size: a run is as wide as it has threads.
    assert np.corrcoef(widths, counts)[0, 1] > 0.99
    last, first = runs.nth(3).bounding_box(), runs.nth(0).bounding_box()
    assert last is not None
    assert first is not None
    page.mouse.move(last["x"] + 8, last["y"] + 8)
    page.mouse.down()
    page.mouse.move(first["x"] + 40, first["y"] + 8, steps=3)
    page.mouse.move(first["x"] + 4, first["y"] + 8, steps=3)
    page.mouse.up()
    expect(threads(page)).to_have_text([order[3], *order[:3]])


def test_keys_may_be_faster_than_answers(page, design_file):
    """Each press goes on from where the one before will have put what it moves."""
    unfold(page, "trim")
    expect(threads(page)).to_have_count(4)
    before = threads(page).all_inner_texts()
    moved = [*before[1:], before[0]]
    assert moved not in (before, [before[1], before[0], *before[2:]])
    handles = field(page, "trim.threads").locator(".handle")
    handles.nth(0).focus()
    # All in one go: no answer can come between them. The last one finds no place left.
    handles.nth(0).evaluate(
        """(handle) => {
            const press = () => new KeyboardEvent("keydown", { key: "ArrowDown", bubbles: true });
            for (let n = 0; n < 4; n += 1) handle.dispatchEvent(press());
        }"""
    )
    # When the keyboard is there, so is what it moves: this is read once on purpose.
    expect(handles.nth(3)).to_be_focused()
    assert threads(page).all_inner_texts() == moved
    listed = saved(page, design_file)["layers"][2]["threads"]
    assert [one["thread"] for one in listed] == moved


def test_threads_are_found_added_and_removed(page, design_file):
    unfold(page, "trim")
    rows = field(page, "trim.threads").locator(".row")
    pick(page, rows.nth(1).locator(".thread"), "teal d")
    expect(rows.nth(1).locator(".thread")).to_have_text("Tarn Teal D")
    field(page, "trim.threads").get_by_role("button", name="Add another thread here").click()
    expect(rows).to_have_count(5)
    rows.nth(0).locator(".remove").click()
    expect(rows).to_have_count(4)
    listed = saved(page, design_file)["layers"][2]["threads"]
    assert listed[0]["thread"] == "Tarn Teal D"


def test_layers_are_added_and_removed(page, design_file):
    page.locator("#add-layer").select_option("seam trim")
    expect(page.locator('[data-card="trim 2"]')).to_be_visible()
    kinds = [one["kind"] for one in saved(page, design_file)["layers"]]
    assert kinds == ["mesh strip", "cover", "seam trim", "seam trim"]
    # It is shown; pressed twice in one go, before an answer can come, it takes away one layer.
    card = page.locator('[data-card="trim 2"]')
    remove = card.get_by_role("button", name="Remove", exact=True).last
    remove.evaluate("(button) => { button.click(); button.click(); }")
    expect(page.locator('[data-card="trim 2"]')).to_have_count(0)
    relief = unfold(page, "relief")
    relief.get_by_role("button", name="Remove", exact=True).click()
    expect(relief.get_by_role("alert")).to_contain_text("relief")
    assert len(saved(page, design_file)["layers"]) == 3
    # What variants lose is told before; the question goes when the design changes.
    trim = unfold(page, "trim")
    trim.get_by_role("button", name="Remove", exact=True).last.click()
    expect(trim.get_by_role("alert")).to_contain_text('"warm trim" changes nothing else')
    put(page, "relief.gap", "24")
    expect(trim.get_by_role("alert")).to_have_count(0)
    expect(relief.get_by_role("alert")).to_have_count(0)
    trim.get_by_role("button", name="Remove", exact=True).last.click()
    trim.get_by_role("button", name="Remove it").click()
    expect(trim).to_have_count(0)
    assert len(saved(page, design_file)["layers"]) == 2


# ---- the drawn blank


def test_the_wrap_is_moved_on_the_drawn_blank(page, design_file):
    unfold(page, "placement")
    # Presses that follow each other closely are one step; how closely is the machine's business.
    page.clock.set_fixed_time(1_000_000)
    page.locator(".profile .wrap").focus()
    for _ in range(4):
        page.keyboard.press("ArrowRight")
    expect(number(page, "placement.from")).to_have_value("330")
    expect(number(page, "placement.to")).to_have_value("450")
    end = page.locator(".profile [data-end=to] .reach").bounding_box()
    assert end is not None
    x, y = end["x"] + end["width"] / 2, end["y"] + 12
    page.clock.set_fixed_time(1_010_000)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x - 15, y, steps=5)
    page.mouse.up()
    expect(number(page, "placement.to")).not_to_have_value("450")
    expect(number(page, "placement.from")).to_have_value("330")
    place = saved(page, design_file)["placement"]
    assert place["from"] == 330
    assert 406 < place["to"] < 446
    # Four presses are one step, the drag another.
    page.keyboard.press("Control+z")
    page.keyboard.press("Control+z")
    expect(number(page, "placement.from")).to_have_value("326")


def test_a_station_is_moved_on_the_drawn_blank(page, design_file):
    page.locator(".profile .station").nth(2).focus()
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ArrowLeft")
    expect(page.locator(".profile .station").nth(2)).to_have_attribute(
        "aria-label", "Station at 385 mm"
    )
    station = saved(page, design_file)["blank"]["stations"][2]
    assert station == {"at": 385, "diameter": 16.95}


# ---- files, tabs, keyboard


def test_a_design_is_made_from_a_sample_and_saved(page, design_file):
    put(page, "relief.gap", "30")
    expect(page.locator(".document .dot")).to_have_count(1)
    page.get_by_role("button", name="File").click()
    page.get_by_role("menuitem", name="New from a sample").click()
    page.get_by_role("button", name=re.compile("Duskwater")).click()
    # What is not saved is asked about.
    expect(page.get_by_role("dialog")).to_contain_text("not saved")
    page.get_by_role("button", name="Discard the changes").click()
    expect(page.locator(".document strong")).to_have_text("Duskwater grade")
    page.keyboard.press("Control+s")
    name = page.get_by_label(re.compile("^Name of the file"))
    name.fill("graded")
    page.keyboard.press("Enter")
    expect(page.locator(".document .soft")).to_have_text("graded.toml")
    made = next(design_file.parent.parent.rglob("graded.toml"))
    assert made.read_text(encoding="utf-8") == samples.text("graded-trim")


def test_two_tabs_show_one_document(page, tab, program):
    other = page.context.new_page()
    arrive(other, program.address)
    put(page, "relief.gap", "28")
    expect(number(other, "relief.gap")).to_have_value("28")
    put(other, "relief.gap", "29")
    expect(number(page, "relief.gap")).to_have_value("29")
    other.close()


def test_a_reloaded_tab_has_lost_nothing(page):
    put(page, "relief.gap", "28")
    expect(field(page, "relief.gap").locator(".derived").first).to_contain_text("17.74")
    page.reload()
    page.wait_for_selector(".desk .card")
    expect(number(page, "relief.gap")).to_have_value("28")
    page.keyboard.press("Control+z")
    expect(number(page, "relief.gap")).to_have_value("21.2")


def test_a_change_on_disk_is_noticed_and_asked_about(page, design_file):
    put(page, "relief.gap", "28")
    expect(page.locator(".document .dot")).to_have_count(1)
    theirs = design_file.read_text(encoding="utf-8").replace("coats = 2", "coats = 5")
    design_file.write_text(theirs, encoding="utf-8")
    dialog = page.get_by_role("dialog", name="Changed on disk")
    expect(dialog).to_be_visible()
    page.get_by_role("button", name="Reload it").click()
    page.get_by_role("button", name="Discard the changes").click()
    unfold(page, "finish")
    expect(number(page, "finish.coats")).to_have_value("5")
    assert design_file.read_text(encoding="utf-8") == theirs


def test_everything_on_the_cards_is_reached_by_keyboard(page):
    """Tab goes through every control that is shown, and each shows that it has the keyboard."""
    unfold(page, "trim")
    expect(field(page, "trim.offset").locator(".slider")).to_be_visible()
    expect(page.locator('[data-card="numbers"] > summary .soft')).to_be_empty()
    wanted = page.evaluate(
        """() => {
            const all = 'button, input, select, textarea, summary, [tabindex="0"]';
            window.wanted = [...document.querySelector('.bench').querySelectorAll(all)]
                .filter((one) => one.checkVisibility() && !one.disabled && one.tabIndex >= 0)
                .filter((one) => one.type !== 'radio' || one.checked);
            document.querySelector('.bench').focus();
            return window.wanted.length;
        }"""
    )
    assert wanted > 40
    for _ in range(wanted + 3):
        page.keyboard.press("Tab")
        assert page.evaluate(
            """() => {
                const one = document.activeElement;
                one.dataset.reached = 'yes';
                return !one.closest('.bench') || one.matches(':focus-visible');
            }"""
        )
    missed = page.evaluate(
        """() => window.wanted.filter((one) => one.isConnected && !one.dataset.reached)
            .map((one) => one.outerHTML.slice(0, 120))"""
    )
    assert missed == []


def test_a_number_is_changed_by_keyboard_alone(page, design_file):
    # How far a key goes is known with the slider's ends, which come a moment after the card.
    page.wait_for_function("'relief.gap' in window.trame.state.get('form_bounds')")
    page.clock.set_fixed_time(1_000_000)
    number(page, "relief.gap").focus()
    for _ in range(3):
        page.keyboard.press("ArrowUp")
    expect(number(page, "relief.gap")).to_have_value("21.5")
    page.keyboard.press("Control+z")
    expect(number(page, "relief.gap")).to_have_value("21.2")
    page.keyboard.press("Control+Shift+z")
    expect(number(page, "relief.gap")).to_have_value("21.5")
    assert saved(page, design_file)["layers"][0]["gap"] == 21.5


def test_a_field_is_explained_when_pointed_at(page):
    field(page, "relief.angle").hover()
    expect(page.locator(".explained")).to_contain_text("strip's run")
    number(page, "relief.gap").focus()
    expect(page.locator(".explained")).to_contain_text("gap along the blank")


def test_what_the_bench_needs_follows_the_design(page):
    card = unfold(page, "numbers")
    strip = card.locator("dl > div", has_text="strip width").locator("dd")
    expect(strip).to_contain_text("22.6")
    # Eight cells of 2.822 mm are cut for a gap of 21.2 mm; seven for one of 25.
    put(page, "relief.gap", "25")
    expect(strip).to_contain_text("19.8")
    unfold(page, "cover")
    told = field(page, "cover.thread").locator(".derived").last
    expect(told).to_contain_text("with tails and waste")


def test_a_part_that_is_not_given_is_given_as_a_whole(page, design_file):
    card = unfold(page, "cover")
    card.locator(".more > summary").click()
    wound = field(page, "cover.wound")
    wound.get_by_role("button", name="Give it").click()
    wound.get_by_label("Turns").fill("20")
    wound.get_by_role("button", name="Take it into the design").click()
    expect(wound.get_by_role("alert")).not_to_be_empty()
    wound.get_by_label("Over").fill("3,6")
    wound.get_by_role("button", name="Take it into the design").click()
    expect(number(page, "cover.wound.over")).to_have_value("3.6")
    assert saved(page, design_file)["layers"][1]["wound"] == {"turns": 20, "over": 3.6}
    field(page, "cover.wound").get_by_role("button", name="Leave it out").click()
    expect(page.locator('[data-path="cover.wound.over"]')).to_have_count(0)
    assert "wound" not in saved(page, design_file)["layers"][1]


# ---- cards and picture


def redness(tab: Seen) -> float:
    """How much more red than blue the middle of the picture is, of 255."""
    pixels = np.asarray(Image.open(io.BytesIO(tab.pixels())).convert("RGB"), dtype=float)
    height, width = pixels.shape[:2]
    middle = pixels[2 * height // 5 : 3 * height // 5, width // 4 : 3 * width // 4]
    return float(np.mean(middle[..., 0] - middle[..., 2]))


def test_what_is_done_to_the_shelf_is_taken_back_and_done_again(tab, program, design_file):
    page = opened(tab.page, program, design_file, drawn=True)
    path = design_file.with_name("my-shelf.toml")
    path.unlink(missing_ok=True)
    shelf = unfold(page, "shelf")
    own = shelf.get_by_label("Your own threads").locator("li")
    undo, redo = (page.get_by_role("button", name=name) for name in ("Undo", "Redo"))
    shelf.get_by_text("Threads that came with Turnlight").click()
    eventually(lambda: redness(tab) > 20)
    bronze = redness(tab)
    shelf.get_by_role("button", name="Put your own Bracken Bronze A in its place").click()
    # While a thread is described, the key takes back what was typed, not a change of the design.
    shelf.locator("[name=name]").press("End")
    page.keyboard.type("!")
    page.keyboard.press("Control+z")
    expect(shelf.locator("[name=name]")).to_have_value("Bracken Bronze A")
    shelf.locator("[name=colour]").fill("#1828c0")
    epoch = tab.picture("true")["epoch"]
    shelf.get_by_role("button", name="Put on the shelf").click()
    expect(own).to_have_count(1)
    expect(undo).to_have_attribute("title", re.compile("Bracken Bronze A added to your shelf"))
    epoch = tab.picture(f"shown.epoch > {epoch}")["epoch"]
    eventually(lambda: redness(tab) < bronze - 20)
    blue = path.read_bytes()
    undo.click()
    expect(own).to_have_count(0)
    assert not path.exists()
    tab.picture(f"shown.epoch > {epoch}")
    eventually(lambda: redness(tab) > bronze - 5)
    redo.click()
    expect(own).to_have_count(1)
    assert path.read_bytes() == blue
    own.get_by_role("button", name="Change").click()
    shelf.locator("[name=colour]").fill("#18a028")
    shelf.get_by_role("button", name="Put on the shelf").click()
    expect(undo).to_have_attribute("title", re.compile("Bracken Bronze A on your shelf: .*#18a028"))
    shelf.get_by_role("button", name="Put a thread of your own on the shelf…").click()
    shelf.locator("[name=name]").fill("Spare Oak B")
    shelf.get_by_role("button", name="Put on the shelf").click()
    expect(own).to_have_count(2)
    both = path.read_bytes()
    shelf.get_by_role("button", name="Take Spare Oak B off the shelf").click()
    expect(own).to_have_count(1)
    page.keyboard.press("Control+z")
    expect(own).to_have_count(2)
    assert path.read_bytes() == both
    for told in ("Spare Oak B added", "#18a028"):
        expect(undo).to_have_attribute("title", re.compile(told))
        undo.click()
    expect(redo).to_have_attribute("title", re.compile("#18a028"))
    assert path.read_bytes() == blue
    theirs = blue + b"# theirs\n"
    path.write_bytes(theirs)
    undo.click()
    expect(page.locator(".status")).to_contain_text("changed by another program meanwhile")
    assert path.read_bytes() == theirs
