"""The spin page that holds the rod itself: in a real browser, from disk and with no network."""

import io
import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from numpy.typing import NDArray
from PIL import Image
from playwright.sync_api import Browser, ConsoleMessage, Page, Request, expect

from geometry.grid import Detail
from materials.shelf import Shelf
from render.browser.model import Model, model_of
from render.common.tags import Tag
from render.output.compare import shared_camera
from render.output.film import Film
from render.request.subject import Subject
from render.spin.spin_html import PageContent, spin_html
from scenes.design.document import with_changes
from scenes.files import samples
from scenes.light.lights import LightKind
from scenes.packing.images import webp
from tests.render.conftest import coarsely_meshed
from tests.waiting import WITHIN, eventually

SIZE = (320, 180)
FRAMES = 6
WINDOW = {"width": 560, "height": 520}

WITHOUT_WEBGL2 = """() => {
    const real = HTMLCanvasElement.prototype.getContext;
    HTMLCanvasElement.prototype.getContext = function (kind, ...more) {
        return kind === "webgl2" ? null : real.call(this, kind, ...more);
    };
}"""

STARTS = "sessionStorage.getItem('turnlight-starts')"
AGED = "() => { document.getElementById('solid').dataset.quality = 'old'; }"


@pytest.fixture(scope="module")
def model() -> Model:
    """Two designs that differ in a thread alone, in two lights; finished and dry."""
    first = samples.load("half-scale").without_variants()
    second = with_changes(first, {"cover.thread": "Tarn Teal A"})
    subjects = [Subject(design, Shelf.shipped()) for design in (first, second)]
    camera = shared_camera([subjects[0].plan()], SIZE[0] / SIZE[1])
    with coarsely_meshed():
        return model_of(subjects, camera, SIZE, Detail.DRAFT, lights=(LightKind.LOW_SUN,))


def still(tone: int) -> bytes:
    file = io.BytesIO()
    Image.new("RGB", SIZE, (200, tone, 20)).save(file, "WEBP")
    return file.getvalue()


@pytest.fixture(scope="module")
def page_path(model: Model, tmp_path_factory: pytest.TempPathFactory) -> Path:
    content = PageContent(
        tag=Tag("Rod", "0123456789ab"),
        notes="One.",
        labels=("silver", "teal"),
        start=0.0,
        radius=0.1,
        lies=True,
        band=0.4,
        span=0.8,
        ground="#2a2d32",
    )
    pictures = [[still(40 * k) for k in range(FRAMES)] for _ in range(2)]
    path = tmp_path_factory.mktemp("page") / "spin.html"
    text = spin_html(content, Film(SIZE, FRAMES, 6.0), pictures, model)
    path.write_text(text, encoding="utf-8", newline="\n")
    return path


@dataclass
class Opened:
    """The page, opened from disk."""

    page: Page

    def told(self, name: str) -> str | None:
        return self.page.get_attribute("#stage", name)

    def drawn(self) -> NDArray[np.uint8]:
        """Take the stage as it looks once the fine picture of it is there."""
        expect(self.page.locator("#solid")).to_have_attribute("data-quality", "fine")
        self.page.evaluate("() => new Promise(requestAnimationFrame)")
        expect(self.page.locator("#solid")).to_have_attribute("data-quality", "fine")
        image = Image.open(io.BytesIO(self.page.locator("#stage").screenshot()))
        return np.asarray(image.convert("RGB"))

    @property
    def turn(self) -> float:
        return float(self.told("aria-valuenow") or "nan")

    @property
    def zoom(self) -> float:
        return float(self.told("data-zoom") or "nan")


@pytest.fixture
def opened(browser: Browser, page_path: Path, request: pytest.FixtureRequest) -> Iterator[Opened]:
    wanted: dict[str, Any] = {"hash": "#model", "window": WINDOW, "touch": False, "webgl2": True}
    wanted["starts"] = 0
    wanted |= getattr(request, "param", {})
    context = browser.new_context(
        viewport=wanted["window"],
        has_touch=wanted["touch"],
        is_mobile=wanted["touch"],
        reduced_motion="reduce",
        offline=True,
    )
    context.set_default_timeout(1000 * WITHIN)
    if not wanted["webgl2"]:
        context.add_init_script(f"({WITHOUT_WEBGL2})()")
    if wanted["starts"]:
        script = f"sessionStorage.setItem('turnlight-starts', {wanted['starts']})"
        context.add_init_script(script)
    page = context.new_page()
    asked: list[str] = []
    said: list[str] = []

    def note_request(one: Request) -> None:
        if not one.url.startswith("data:"):
            asked.append(one.url)

    def note_words(message: ConsoleMessage) -> None:
        if message.type == "error":
            said.append(message.text)

    page.on("request", note_request)
    page.on("console", note_words)
    page.on("pageerror", lambda error: said.append(str(error)))
    page.goto(page_path.as_uri() + wanted["hash"])
    page.wait_for_selector("#stage.drawn")
    page.wait_for_selector("#stage[data-model]", state="attached")
    yield Opened(page)
    context.close()
    assert set(asked) == {page_path.as_uri()}
    assert said == []


def test_designs_of_other_colours_share_their_maps(model: Model) -> None:
    assert len(model.data["designs"]) == 2
    assert len(model.data["maps"]) == 1
    assert model.lights == ("soft boxes", "low sun")
    # A draft has a quarter of the texels of a page; two lights and the sides of threads are in it.
    assert model.size < 1.75e6


@pytest.mark.usefixtures("coarse_mesh")
def test_a_model_is_made_to_fit(monkeypatch: pytest.MonkeyPatch) -> None:
    # 40 mm of the sample: its maps are packed six times and more.
    design = samples.load("half-scale").without_variants()
    middle = design.placement.middle
    short = {"placement.from": middle - 20, "placement.to": middle + 20, "blank.fitted": []}
    subject = Subject(with_changes(design, short), Shelf.shipped())
    camera = shared_camera([subject.plan()], SIZE[0] / SIZE[1])
    whole = model_of([subject], camera, SIZE, Detail.DRAFT)
    assert len(whole.lights) == 4
    # Bits are given up first; then lights are left out one by one, and no more than need be.
    fewer = model_of([subject], camera, SIZE, Detail.DRAFT, most_bytes=0.7 * whole.size)
    assert 1 < len(fewer.lights) < 4
    assert fewer.size <= 0.7 * whole.size
    encoded: list[tuple[tuple[int, ...], bytes]] = []

    def noted(image: NDArray[np.uint8]) -> bytes:
        encoded.append((image.shape, image.tobytes()))
        return webp(image)

    monkeypatch.setattr("render.browser.model.webp", noted)
    least = model_of([subject], camera, SIZE, Detail.DRAFT, most_bytes=1.0)
    # Whatever is tried on the way, no map is encoded twice.
    assert len(encoded) == len(set(encoded))
    assert least.lights == ("soft boxes",)
    assert [len(one["lights"]) for one in least.data["designs"]] == [1]
    # Of the same light alone, fewer bits are all that makes it so much smaller.
    one_light = model_of([subject], camera, SIZE, Detail.DRAFT, lights=())
    assert one_light.lights == least.lights
    assert least.size < 0.8 * one_light.size
    named = json.dumps({**least.data, "blobs": {}})
    assert all(name in named for name in least.data["blobs"])


@pytest.mark.browser
def test_it_turns_by_any_angle_and_comes_near(opened: Opened) -> None:
    page = opened.page
    assert opened.told("data-model") == "drawn"
    before = opened.drawn()
    # No flat tone of the pictures: what is seen is the rod.
    assert before.std() > 20
    box = page.locator("#stage").bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] * 0.7, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y + 7, steps=2)
    page.mouse.up()
    # By less than a step of the keys, and it stays there.
    eventually(lambda: 0 < opened.turn < 360)
    turned = opened.turn
    assert turned % 5 != 0
    assert np.abs(opened.drawn().astype(int) - before).mean() > 0.5
    page.focus("#stage")
    page.keyboard.press("ArrowRight")
    eventually(lambda: opened.turn % 5 == 0)
    # Single threads: pictures end at four times.
    for _ in range(30):
        page.mouse.wheel(0, -300)
    eventually(lambda: opened.zoom > 10)
    near = opened.drawn()
    assert near.std() > 3
    page.keyboard.press("0")
    eventually(lambda: opened.zoom == 1)


@pytest.mark.browser
def test_zoom_keeps_what_is_under_the_pointer(opened: Opened) -> None:
    """Enlarged twice about a point, the picture there is the middle of the one before."""
    page = opened.page
    before = opened.drawn()
    box = page.locator("#stage").bounding_box()
    assert box is not None
    height, width = before.shape[:2]
    column, row = round(width * 0.65), round(height * 0.5)
    page.mouse.move(box["x"] + column, box["y"] + row)
    page.mouse.wheel(0, -np.log(2) / 0.0015)
    eventually(lambda: abs(opened.zoom - 2) < 0.01)
    after = opened.drawn()
    reach = 24
    wanted = before[row - reach : row + reach, column - reach : column + reach]
    found = after[row - 2 * reach : row + 2 * reach, column - 2 * reach : column + 2 * reach]
    shrunk = np.asarray(Image.fromarray(found).reduce(2)).astype(float)
    apart = [
        np.abs(np.roll(shrunk, shift, axis=1)[:, 8:-8] - wanted[:, 8:-8]).mean()
        for shift in (-6, 0, 6)
    ]
    assert apart[1] < min(apart[0], apart[2])


@pytest.mark.browser
def test_light_finish_and_design_change_what_is_drawn(opened: Opened) -> None:
    page = opened.page
    expect(page.locator("#choices")).to_be_visible()
    pictures = [opened.drawn()]
    for change in (
        lambda: page.select_option("#light", "Low sun"),
        lambda: page.click("#finish"),
        lambda: page.get_by_text("teal").click(),
    ):
        page.evaluate(AGED)
        change()
        pictures.append(opened.drawn())
    for one, other in pairwise(pictures):
        assert np.abs(one.astype(int) - other).mean() > 1
    assert page.get_attribute("#finish", "aria-pressed") == "false"
    # Teal has less red beside its green and blue than silver has.
    silver, teal = (one.astype(float).reshape(-1, 3).mean(axis=0) for one in pictures[-2:])
    assert min(teal[1], teal[2]) - teal[0] > min(silver[1], silver[2]) - silver[0] + 3
    assert opened.told("aria-valuetext") == "0°, design B"


@pytest.mark.browser
def test_the_light_is_moved_by_a_drag_and_by_keys(opened: Opened) -> None:
    page = opened.page
    button, reset = page.locator("#move-light"), page.locator("#reset-light")
    before = opened.drawn()
    expect(reset).to_be_disabled()
    # Without its button a drag turns the rod.
    button.click()
    expect(button).to_have_attribute("aria-pressed", "true")
    box = page.locator("#stage").bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] * 0.6, box["y"] + box["height"] / 2
    page.evaluate(AGED)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 0.25 * box["width"], y - 0.1 * box["height"], steps=3)
    page.mouse.up()
    stage = page.locator("#stage")
    expect(stage).to_have_attribute(
        "aria-valuetext", "0°, design A, light moved -18° round the rod, 45° along it"
    )
    moved = opened.drawn()
    assert np.abs(moved.astype(int) - before).mean() > 1
    assert opened.turn == 0
    page.focus("#stage")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowLeft")
    expect(stage).to_have_attribute(
        "aria-valuetext", "0°, design A, light moved -13° round the rod, 40° along it"
    )
    # The rod's own key is free again, and the light stays.
    page.keyboard.press("l")
    expect(button).to_have_attribute("aria-pressed", "false")
    page.keyboard.press("ArrowRight")
    eventually(lambda: opened.turn == 5)
    page.keyboard.press("ArrowLeft")
    eventually(lambda: opened.turn == 0)
    page.evaluate(AGED)
    reset.click()
    expect(reset).to_be_disabled()
    assert np.array_equal(opened.drawn(), before)


@pytest.mark.browser
def test_a_lost_context_is_survived(opened: Opened) -> None:
    page = opened.page
    before = opened.drawn()
    page.evaluate(
        """() => {
            const gl = document.getElementById("solid").getContext("webgl2");
            window.losing = gl.getExtension("WEBGL_lose_context");
            losing.loseContext();
        }"""
    )
    # Pictures stand in meanwhile, and nothing that they cannot show is offered.
    expect(page.locator("#stage")).to_have_attribute("data-model", "away")
    expect(page.locator("#choices")).to_be_hidden()
    expect(page.locator("#flat")).to_be_hidden()
    page.evaluate(AGED)
    page.evaluate("losing.restoreContext()")
    expect(page.locator("#stage")).to_have_attribute("data-model", "drawn")
    assert np.abs(opened.drawn().astype(int) - before).mean() < 0.5
    # A second loss is a device without memory for it: no more attempts.
    page.evaluate("losing.loseContext()")
    expect(page.locator("#stage")).to_have_attribute("data-model", "none")
    expect(page.locator("#flat")).to_be_visible()
    page.evaluate("losing.restoreContext()")
    page.wait_for_selector('#stage[data-behind="false"]')
    expect(page.locator("#stage")).to_have_attribute("data-model", "none")
    # A tab that is left in order begins anew.
    assert page.evaluate(STARTS) == "1"
    page.reload()
    expect(page.locator("#stage")).to_have_attribute("data-model", "drawn")
    assert page.evaluate(STARTS) == "1"


@pytest.mark.browser
@pytest.mark.parametrize(
    ("opened", "sentence"),
    [
        ({"webgl2": False, "hash": ""}, True),
        ({"hash": "#pictures"}, False),
        # The browser has ended this tab twice, and loaded it again.
        ({"starts": 2}, True),
    ],
    indirect=["opened"],
)
def test_pictures_stand_in(opened: Opened, sentence: bool) -> None:
    page = opened.page
    expect(page.locator("#stage")).to_have_attribute("data-model", "none")
    expect(page.locator("#choices")).to_be_hidden()
    expect(page.locator("#flat")).to_be_visible(visible=sentence)
    page.focus("#stage")
    # A sixth of a turn is the next picture.
    for _ in range(12):
        page.keyboard.press("ArrowRight")
    eventually(lambda: opened.turn == 60)

    def tone() -> int:
        image = Image.open(io.BytesIO(page.locator("#stage").screenshot())).convert("RGB")
        return int(np.asarray(image)[image.height // 2, image.width // 2, 1])

    eventually(lambda: abs(tone() - 40) <= 5)


def lies_apart(page: Page, size: tuple[int, int]) -> None:
    """Every control and heading is whole, within the screen, and covers no other."""
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    boxes = page.evaluate("""() => [...document.querySelectorAll(
        "h1, #turned, button, select, fieldset label"
    )].filter((part) => part.checkVisibility()).map((part) => {
        const box = part.getBoundingClientRect();
        // A select cuts off its own words, which it shows when it is opened.
        const cut = part.scrollWidth > part.clientWidth + 1 && part.tagName !== "SELECT";
        return [part.id || part.textContent, box.left, box.top, box.right, box.bottom, cut];
    })""")
    assert len(boxes) > 8
    for name, left, top, right, bottom, cut in boxes:
        assert min(left, top) >= 0, name
        assert right <= size[0], name
        assert bottom <= size[1], name
        assert not cut, name
    for (name, *one, _), (other, *two, _) in combinations(boxes, 2):
        apart = one[2] <= two[0] or two[2] <= one[0] or one[3] <= two[1] or two[3] <= one[1]
        assert apart, (name, other)


@pytest.mark.browser
@pytest.mark.parametrize(
    "opened",
    [
        {"window": {"width": 390, "height": 844}, "touch": True},
        {"window": {"width": 844, "height": 390}, "touch": True},
    ],
    ids=["portrait", "landscape"],
    indirect=True,
)
def test_on_a_phone_the_rod_has_the_screen(opened: Opened) -> None:
    page = opened.page
    box = page.locator("#stage").bounding_box()
    assert box is not None
    window = page.viewport_size
    assert window is not None
    assert box["width"] == window["width"]
    portrait = window["height"] > window["width"]
    assert box["height"] > (0.8 if portrait else 0.9) * window["height"]
    assert opened.told("data-upright") == str(portrait).lower()
    # The wrap, four fifths of the picture's width here, has the whole length of the screen.
    assert opened.zoom == pytest.approx(1 / 0.8, abs=0.01)
    smaller = (320, 568) if portrait else (667, 375)
    for size in (smaller, (window["width"], window["height"])):
        page.set_viewport_size({"width": size[0], "height": size[1]})
        lies_apart(page, size)
        for name in ("light", "finish", "move-light", "spin", "in"):
            expect(page.locator(f"#{name}")).to_be_visible()
    page.locator("fieldset label").nth(1).click()
    expect(page.get_by_role("radio", name="teal")).to_be_checked()
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


def test_nothing_of_the_drawing_comes_from_elsewhere(page_path: Path) -> None:
    text = page_path.read_text(encoding="utf-8")
    script = text[text.rindex("<script>") :]
    assert not re.search(r"https?:|url\(|@import|fetch\(|XMLHttp|eval\(|innerHTML|import\(", script)
