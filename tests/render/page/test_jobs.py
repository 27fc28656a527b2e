"""A builder's whole jobs in a real browser, by mouse and keyboard as a builder does them.

Each job counts what the builder does. Nothing may be refused on the way. The bounds on clicks are
what the page takes today: a step more is noticed. What was done is read from the files made.
"""

import io
import re
import time
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Browser, Locator, Page, expect
from pypdfium2 import PdfDocument

from scenes.files import samples
from tests.render.page.conftest import Program, Seen, Start, at_cards, hold
from tests.waiting import WITHIN, eventually

pytestmark = pytest.mark.browser

WIDE = {"width": 1280, "height": 720}
PHONE = {"width": 390, "height": 844}

SMALL_PAGE = """
import sys
from dataclasses import replace
from render.cli import main as cli
from render.page.workers.export_worker import ExportKind
from render.page.send.export_options import EXPORT_OPTIONS
presets = EXPORT_OPTIONS[ExportKind.SPIN_PAGE].presets
presets["message"] = replace(presets["message"], size=(160, 90), frames=4, detail="draft")
sys.exit(cli.main(sys.argv[1:]))
"""
"""The program, but that a customer's page holds four small pictures."""

BEYOND_ITS_EDGE = """(part) => {
  const right = part.getBoundingClientRect().right;
  const within = [...part.querySelectorAll("*")];
  return within.filter((one) => one.getBoundingClientRect().right > right + 1).length;
}"""
"""Number of elements of a part that reach beyond its right edge."""

READINGS = "150 mm  Ø 14.1\n320  12,6\n480: 11.2"
"""Three caliper readings as they stand in a builder's notes."""


@dataclass
class Job:
    """What a builder does at a page, counted.

    Parameters
    ----------
    page : playwright Page
    """

    page: Page
    clicks: int = 0
    keys: int = 0
    refusals: list[str] = field(default_factory=list)

    def click(self, what: Locator) -> None:
        """Click, and note what is refused for it by the time of the next step."""
        self.look()
        self.clicks += 1
        what.click()

    def type(self, where: Locator, text: str, then: str = "") -> None:
        """Go to a field with a click, replace what it holds, and press a key."""
        self.click(where)
        self.keys += 1 + len(text)
        where.fill(text)
        if then:
            self.press(then)

    def write(self, text: str, then: str = "") -> None:
        """Type where the keyboard is, and press a key."""
        self.keys += len(text)
        self.page.keyboard.type(text)
        if then:
            self.press(then)

    def press(self, *keys: str) -> None:
        self.look()
        self.keys += len(keys)
        for key in keys:
            self.page.keyboard.press(key)

    def select(self, where: Locator, label: str) -> None:
        """Unfold a list and click one of its lines."""
        self.look()
        self.clicks += 2
        where.select_option(label=label)

    def bring(self, button: Locator, file: dict[str, Any]) -> None:
        """Click a button that asks for a file, and choose one."""
        self.clicks += 1
        with self.page.expect_file_chooser() as asked:
            button.click()
        asked.value.set_files(file)  # type: ignore[arg-type]

    def download(self, link: Locator, folder: Path) -> Path:
        """Click what saves a file."""
        expect(link).to_be_visible(timeout=2000 * WITHIN)
        with self.page.expect_download() as download:
            self.click(link)
        path = folder / download.value.suggested_filename
        download.value.save_as(path)
        return path

    def look(self) -> None:
        """Note every refusal that is seen."""
        said = self.page.locator(".problem:visible, [aria-invalid=true]:visible").all_inner_texts()
        self.refusals += said


@pytest.fixture(scope="module")
def program(start: Start) -> Program:
    return start(program=("-c", SMALL_PAGE))


@pytest.fixture
def job(tab: Seen, program: Program, record_property: Any) -> Iterator[Job]:
    tab.page.set_viewport_size(WIDE)
    at_cards(tab.page, program.address)
    hold(tab.page)  # a comparison is drawn, plainly
    job, begun = Job(tab.page), time.monotonic()
    yield job
    seconds = time.monotonic() - begun
    record_property("job", f"{job.clicks} clicks, {job.keys} keys, {seconds:.0f} s")
    job.look()
    assert job.refusals == []


@pytest.fixture
def mine(job: Job, tmp_path: Path) -> Path:
    """The half-scale design in a file of the builder's, open."""
    path = tmp_path / "mine.toml"
    path.write_text(samples.text("half-scale"), encoding="utf-8")
    reopen(job.page, path)
    return path


def reopen(page: Page, path: Path) -> None:
    page.evaluate("path => window.trame.trigger('file_open', [path, true])", str(path))
    expect(page.locator(".document .soft")).to_have_text(path.name)
    expect(page.locator(".document .dot")).to_have_count(0)


def card(page: Page, name: str) -> Locator:
    return page.locator(f'[data-card="{name}"]')


def saved(job: Job, path: Path) -> dict[str, Any]:
    """Save by keyboard, and read what is then in the file."""
    before = path.read_bytes()
    job.press("Control+s")
    eventually(lambda: path.read_bytes() != before)
    return tomllib.loads(path.read_text(encoding="utf-8"))


def begin(job: Job, title: str, wrap: str) -> None:
    """Lay out a first design for the rod of three readings, between two grips."""
    job.click(job.page.get_by_role("button", name="File"))
    job.click(job.page.get_by_role("menuitem", name="New for my rod"))
    asked = job.page.get_by_role("dialog", name="New for my rod")
    # The keyboard is where the questions begin.
    expect(asked.get_by_label("Title of the design")).to_be_focused()
    # However many kinds of wrap there are, what lays it out is in view from the beginning.
    expect(asked.get_by_role("button", name="Lay it out")).to_be_in_viewport(ratio=1)
    job.write(title)
    job.press("Tab", "Tab", "Tab", "Tab")
    expect(asked.get_by_label("Caliper readings")).to_be_focused()
    job.write(READINGS, then="Tab")
    job.write("190", then="Tab")
    job.write("420")
    job.click(asked.locator("label", has_text=wrap))
    job.click(asked.get_by_role("button", name="Lay it out"))
    unsaved = job.page.get_by_role("button", name="Discard the changes")
    laid = job.page.locator(".document strong", has_text=title)
    expect(unsaved.or_(laid)).to_be_visible()
    if unsaved.is_visible():
        unsaved.click()  # the job before, in a browser that the test has closed
    expect(laid).to_be_visible()


def test_a_first_wrap_to_sheet_and_template(job: Job, tmp_path: Path) -> None:
    """Readings of a caliper and two grips; the wrap with its finish has the room between."""
    begin(job, "Otter copper", "Scales all round")
    expect(job.page.locator(".warning")).to_have_count(0)
    job.click(job.page.locator("[data-test=send]"))
    for kind in ("bench sheet", "template"):
        job.click(job.page.get_by_text(re.compile(f"^{kind}$", re.I)))
        job.click(job.page.locator("[data-test=make]"))
    made = job.page.locator("[data-test=made]")
    sheet = PdfDocument(job.download(made.filter(has_text="bench-sheet"), tmp_path))
    template = PdfDocument(job.download(made.filter(has_text="template"), tmp_path))
    # A4 is 210 mm by 297 mm (ISO 216).
    assert sheet[0].get_size() == pytest.approx((210 / 25.4 * 72, 297 / 25.4 * 72), abs=0.5)
    words = " ".join(" ".join(one.get_textpage().get_text_range().split()) for one in sheet)
    # Thread ends 3 mm before each grip, over which the finish runs out (common practice).
    assert "from 193 mm to 417 mm" in words
    assert "from 190 mm to 420 mm, 3 mm beyond the last thread" in words
    words = " ".join(template[0].get_textpage().get_text_range().split())
    assert "the lower end at 190.0 mm from the butt, the upper at 420.0 mm" in words
    # Two of them are the menu, one the wrap, one lays it out; for each paper three, and Send.
    assert job.clicks <= 11


def test_two_schemes_to_a_customer_and_back(
    job: Job, mine: Path, program: Program, browser: Browser, tmp_path: Path
) -> None:
    """The customer chooses A, which is the design no more when the answer comes."""
    page = job.page
    job.click(page.get_by_role("button", name="Compare"))
    job.click(page.get_by_role("button", name="Keep this as A"))
    cover = card(page, "cover").locator(".thread").first
    job.click(cover)
    expect(page.get_by_role("combobox", name="Search the shelf")).to_be_focused()
    job.write("ember", then="Enter")
    expect(cover).to_have_text("Ember Copper A")
    job.click(page.locator("[data-test=send]"))
    ticked = page.locator("[data-test=send-designs]").get_by_role("checkbox", checked=True)
    expect(ticked).to_have_count(2)  # A and B; the sample has more variants than a page holds
    job.click(page.locator(".send .seg label", has_text="message"))
    job.click(page.locator("[data-test=make]"))
    spin = job.download(page.locator("[data-test=made]", has_text="spin-page"), tmp_path)
    job.press("Escape")
    saved(job, mine)

    # A rod that keeps turning, drawn in software, would take both cores.
    context = browser.new_context(
        viewport=PHONE, has_touch=True, is_mobile=True, offline=True, reduced_motion="reduce"
    )
    phone = context.new_page()
    phone.goto(spin.as_uri())
    phone.get_by_text("Choose and answer").tap()
    schemes = phone.locator("#schemes label")
    # What a tap at the lower edge has opened is brought into view, and so is what follows.
    expect(schemes.first).to_be_in_viewport()
    schemes.first.tap()
    expect(phone.get_by_role("button", name="Copy")).to_be_in_viewport()
    words = phone.get_by_label("Your answer").input_value()
    context.close()
    job.clicks += 3
    assert words.startswith("I choose A")

    page.goto("about:blank")  # the answer comes on another day
    at_cards(page, program.base)
    hold(page)
    reopen(page, mine)
    job.click(page.locator("[data-test=send]"))
    job.type(page.get_by_label("The text that the customer has sent back"), words)
    job.click(page.get_by_role("button", name="Enter it in the design"))
    expect(page.get_by_text(re.compile("^Agreed by the customer on"))).to_be_visible()
    job.press("Escape")
    (record,) = saved(job, mine)["agreed"]
    assert record["number"] in words
    # Five make A and B, four the page, three are the customer's, three enter the answer.
    assert job.clicks <= 14


def test_two_schemes_kept_as_variants_are_what_the_customer_gets(
    job: Job, browser: Browser, tmp_path: Path
) -> None:
    """Colours tried on a first design; the page holds both, and nothing else."""
    begin(job, "Otter copper", "Scales all round")
    page = job.page
    job.click(page.locator("[data-test=palettes]"))
    schemes = page.locator(".palette")
    job.click(schemes.nth(1))
    job.click(page.locator("[data-test=palette-variant]"))
    # It is kept, whatever is done next, and its name can be typed over.
    expect(page.locator("[data-test=kept-name]")).to_be_focused()
    job.write("First idea", then="Tab")
    expect(page.locator("[data-test=kept-name]")).to_have_value("First idea")
    job.click(schemes.nth(2))
    expect(page.locator("[data-test=tried]")).to_be_visible()
    job.click(page.locator("[data-test=send]"))
    # What is only tried is in nothing that is sent.
    designs = page.locator("[data-test=send-designs] label")
    expect(designs).to_have_count(2)
    expect(page.locator("[data-test=send-tried]")).to_contain_text("only tried")
    job.click(page.locator("[data-test=send-keep-tried]"))
    expect(designs).to_have_count(3)
    expect(page.locator("[data-test=forecast]")).to_contain_text("3 designs: ")
    job.click(designs.first)
    expect(page.locator("[data-test=forecast]")).to_contain_text("2 designs: ")
    job.click(page.locator(".send .seg label", has_text="message"))
    job.click(page.locator("[data-test=make]"))
    # The program lists what the jobs before have made, too.
    pages = page.locator("[data-test=made]", has_text="spin-page")
    spin = job.download(pages.filter(has_text="otter-copper"), tmp_path)
    expect(page.locator(".send .jobs .note", has_text="First idea")).to_be_visible()
    context = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True, offline=True)
    phone = context.new_page()
    phone.goto(spin.as_uri())
    phone.get_by_text("Choose and answer").tap()
    labels = phone.locator("#schemes label").all_inner_texts()
    context.close()
    assert len(labels) == 2
    assert "First idea" in labels[0]
    assert "first-idea" in spin.name
    # Four lay it out, three keep the first, one tries the second, six send both.
    assert job.clicks <= 14


def test_a_chart_of_ones_own_along_the_band(job: Job, mine: Path) -> None:
    """Woven as often as there is room for, each colour in the nearest thread."""
    page = job.page
    job.select(page.get_by_label("Add a layer"), "woven panel")
    woven = card(page, "woven")
    job.click(woven.locator("button.file"))
    crab = {"name": "crab.png", "mimeType": "image/png", "buffer": chart()}
    job.bring(woven.locator("label.btn", has_text="Choose a file"), crab)
    expect(woven.locator("button.file")).to_have_text("crab.png")
    expect(woven.get_by_role("radio", name="along the flat band")).to_be_checked()
    panel = saved(job, mine)["layers"][-1]
    assert panel["chart"] == "crab.png"
    assert panel["runs"] == "along the flat band"
    assert "repeats" not in panel
    assert {one["colour"] for one in panel["colours"]} == {"#b41e28", "#143c8c"}
    assert (mine.parent / "crab.png").read_bytes() == chart()
    # Two add the layer, two bring the chart.
    assert job.clicks <= 4


def chart() -> bytes:
    """A small chart in two colours on the warp."""
    pixels = np.zeros((9, 10, 4), np.uint8)
    pixels[2:7, 2:8] = (180, 30, 40, 255)
    pixels[4, 4:6] = (20, 60, 140, 255)
    return png(pixels)


def png(pixels: Any) -> bytes:
    data = io.BytesIO()
    Image.fromarray(pixels).save(data, "png")
    return data.getvalue()


def test_a_thread_of_ones_own_spool_with_its_price(job: Job, mine: Path) -> None:
    """Its colour off a photograph beside a grey card; then wound in the trim."""
    page = job.page
    trim = page.locator('[data-path="trim.threads"] .thread').nth(2)
    job.click(trim)
    job.click(page.get_by_role("button", name="A thread of your own…"))
    form = page.locator(".thread-form")
    expect(form.locator("[name=name]")).to_be_focused()
    job.write("Fern Water A")
    job.type(form.locator("[name=price]"), "4,50")
    job.click(form.get_by_role("button", name="From a photograph…"))
    dialog = page.get_by_role("dialog", name="Colour from a photograph")
    photo = {"name": "spool.png", "mimeType": "image/png", "buffer": spool()}
    job.bring(dialog.locator("label.btn"), photo)
    seen = dialog.locator("[data-test=photo]")
    expect(seen).to_be_visible()
    box = seen.bounding_box()
    assert box is not None
    for across in (0.25, 0.75):  # card, then thread
        job.clicks += 1
        seen.click(position={"x": across * box["width"], "y": box["height"] / 2})
    use = dialog.get_by_role("button", name="Use this colour")
    expect(use).to_be_enabled()
    job.click(use)
    job.click(form.get_by_role("button", name="Put on the shelf and use here"))
    expect(trim).to_have_text("Fern Water A")
    assert saved(job, mine)["layers"][2]["threads"][2]["thread"] == "Fern Water A"
    own = tomllib.loads((mine.parent / "my-shelf.toml").read_text(encoding="utf-8"))["threads"][0]
    assert own["price"] == 4.5
    # The sum that is read off a card of 18 % is known: the card is grey 119, as it should be.
    red, green, blue = (int(own["colour"][at : at + 2], 16) for at in (1, 3, 5))
    assert red < green < blue
    # Two begin the thread, where it is used; six its colour and price, and one keeps it.
    assert job.clicks <= 9


def spool() -> bytes:
    """A grey card of 18 % on the left, a teal thread on the right."""
    noise = np.random.default_rng(3)
    pixels = np.full((120, 200, 3), 235.0)
    pixels[20:100, 10:90] = (119, 119, 119)
    pixels[20:100, 110:190] = (60, 110, 120)
    pixels += noise.normal(0, 5, pixels.shape)
    return png(np.clip(pixels, 0, 255).astype(np.uint8))


def test_five_diamonds_round_under_four_grams(job: Job, tmp_path: Path) -> None:
    """What is wished is found, and holds for the design that was taken."""
    page = job.page
    begin(job, "Diamond five", "Open diamonds")
    round_it = page.locator('[data-path="crossed.around"] input.num')
    job.type(round_it, "5", then="Enter")
    wish = card(page, "wish")
    job.click(wish.locator("summary").first)
    job.select(wish.locator("[data-test=wish-name]"), "weight")
    expect(wish.locator("[data-test=wish-relation] option:checked")).to_have_text("at most")
    job.type(wish.locator("[data-test=wish-value]"), "4")
    job.click(wish.locator("[data-test=wish-search]"))
    # What a press leads to is brought into view: the bar, the offers, and the card itself again.
    expect(wish.locator("progress")).to_be_in_viewport()
    found = wish.locator("[data-test=wish-found]")
    expect(found).to_contain_text("Weight at most 4 g", timeout=2000 * WITHIN)
    expect(wish.locator("progress")).to_have_count(0)
    assert found.evaluate(BEYOND_ITS_EDGE) == 0
    expect(found.locator("strong").first).to_be_in_viewport()
    job.click(wish.locator("[data-test=wish-take]"))
    expect(found).to_have_count(0)
    expect(wish.locator("summary").first).to_be_in_viewport()
    expect(page.locator("[data-test=status]")).to_contain_text("Taken: ")
    job.press("Control+s")
    job.write(str(tmp_path / "diamonds.toml"), then="Enter")
    eventually(lambda: (tmp_path / "diamonds.toml").exists())
    text = (tmp_path / "diamonds.toml").read_text(encoding="utf-8")
    assert tomllib.loads(text)["layers"][1]["around"] == 5
    numbers = card(page, "numbers")
    job.click(numbers.locator("summary").first)
    weight = numbers.locator("dl div", has_text="weight of the wrap").locator("dd")
    figures = numbers.locator(".numbers")
    expect(figures).to_have_attribute("aria-busy", "false", timeout=2000 * WITHIN)
    assert float(weight.inner_text().split()[0]) <= 4.0
    # Four lay it out, one sets five round, six are the wish, one looks at the weight.
    assert job.clicks <= 12


def test_a_wish_that_is_not_whole_says_what_is_missing_and_an_offer_its_warnings(
    job: Job, mine: Path
) -> None:
    page, wish = job.page, card(job.page, "wish")
    wish.locator("summary").first.click()
    find, name = wish.locator("[data-test=wish-search]"), wish.locator("[data-test=wish-name]")
    missing = wish.locator(".problem")
    find.click()
    expect(missing).to_have_text("Choose what you wish for.")
    expect(name).to_be_focused()
    name.select_option(label="gap")
    find.click()
    expect(missing).to_have_text("Give a value for gap.")
    expect(wish.locator("[data-test=wish-value]")).to_be_focused()
    page.keyboard.type("0")
    expect(missing).to_have_count(0)
    # How long it takes is said before; the present value, 21.2 mm, stands there already.
    expect(wish.locator("[data-test=wish-takes]")).to_contain_text("Takes about")
    expect(wish.locator(".wish-line")).to_contain_text("now 21.2 mm")
    wish.locator("label", has_text="only these").click()
    find.click()
    expect(missing).to_have_text("Tick at least one field that may change.")
    wish.get_by_label("Gap of the relief").check()
    expect(missing).to_have_count(0)
    # The wrap is being weighed still: the click is kept.
    find.click()
    # Without a gap the trim has no room: `check` would warn of it, and so does the offer.
    found = wish.locator("[data-test=wish-found]")
    expect(found.locator(".chosen .warning")).to_contain_text(
        "no thread fits here", timeout=2000 * WITHIN
    )
    assert found.evaluate(BEYOND_ITS_EDGE) == 0
    wish.locator("[data-test=wish-leave]").click()
    expect(wish.locator("summary").first).to_be_in_viewport()
    # Weighed after all: a search goes first.
    name.select_option(label="weight")
    expect(wish.locator(".wish-line")).to_contain_text(re.compile(r"now [\d.]+ g"))
