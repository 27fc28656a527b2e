"""The spin page: in a real browser, from disk and with no network; and what is written there."""

import base64
import hashlib
import io
import json
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from numpy.typing import NDArray
from PIL import Image
from playwright.sync_api import Browser, CDPSession, ConsoleMessage, Locator, Page, Request, expect

from geometry.grid import Detail
from materials.shelf import Shelf
from render.cli import main as cli
from render.common.problems import RequestProblem
from render.common.progress import Progress
from render.common.tags import Tag
from render.live.live import LiveScene
from render.output.compare import Comparison, shared_camera
from render.output.film import Film
from render.request.subject import Subject
from render.spin.spin_html import PageContent, spin_html
from render.spin.spin_page import save_spin_page
from scenes.design.document import with_changes
from scenes.design.variants import sweep
from scenes.files import samples
from tests.waiting import WITHIN, eventually

Captured = pytest.CaptureFixture[str]
Pixels = NDArray[np.uint8]

FRAMES = 24
SIZE = (320, 180)
START = 20
RADIUS = 0.25

HOSTILE = (
    "</title></script><script>document.title='ran'</script>\"'><img src=x onerror=alert(1)>$x&amp;"
)


def colour_of(design: int, frame: int) -> tuple[int, int, int]:
    """Give each frame of each design its own tone, distinguishable after WebP."""
    return 40 + 8 * frame, 60 if design == 0 else 200, 250 - 8 * frame


def coloured(design: int, frame: int, size: tuple[int, int] = SIZE) -> bytes:
    file = io.BytesIO()
    Image.new("RGB", size, colour_of(design, frame)).save(file, "WEBP", quality=90)
    return file.getvalue()


def page_text(
    designs: int = 1,
    *,
    title: str = "Rod",
    notes: str = "One.\nTwo.\n\nThree.",
    labels: tuple[str, ...] = ("gap 20 mm", "gap 36 mm"),
    order: tuple[str, ...] = (),
    replies: tuple[str, ...] = (),
) -> str:
    shown = PageContent(
        tag=Tag(title, "0123456789ab"),
        notes=notes,
        labels=labels if designs > 1 else (),
        start=float(np.deg2rad(START)),
        radius=RADIUS,
        lies=True,
        band=1.0,
        span=0.8,
        ground="#2a2d32",
        order=order,
        replies=replies,
    )
    pictures = [[coloured(design, k) for k in range(FRAMES)] for design in range(designs)]
    return spin_html(shown, Film(SIZE, FRAMES, 6.0), pictures)


# ---- In a browser


class Opened:
    """A spin page, opened from disk.

    What it shows is read when it has drawn what it was last told. What is done by playwright has
    reached the page when the call comes back; only the wheel and touches are on their way then.
    """

    def __init__(self, page: Page, path: Path) -> None:
        self.page, self.path = page, path
        self.asked: list[str] = []
        self.said: list[str] = []
        page.on("request", self._request)
        page.on("console", self._console)
        page.on("pageerror", lambda error: self.said.append(str(error)))
        page.on("dialog", lambda dialog: self.said.append(dialog.message))
        page.goto(path.as_uri())
        page.wait_for_selector("#stage.drawn")

    def _request(self, request: Request) -> None:
        if not request.url.startswith("data:"):
            self.asked.append(request.url)

    def _console(self, message: ConsoleMessage) -> None:
        if message.type == "error":
            self.said.append(message.text)

    def colour(self, across: float = 0.5, down: float = 0.5) -> tuple[int, int, int]:
        """Read the canvas."""
        self.draw()
        found = self.page.evaluate(
            """([across, down]) => {
                const canvas = document.getElementById("picture");
                const at = [canvas.width * across, canvas.height * down];
                return [...canvas.getContext("2d").getImageData(...at, 1, 1).data];
            }""",
            [across, down],
        )
        return tuple(found[:3])

    def shown(self) -> tuple[int, int]:
        """Tell design and frame by the colour in the middle of the picture."""
        seen = np.array(self.colour(), dtype=float)
        every = [(design, k) for design in range(2) for k in range(FRAMES)]
        apart = [np.abs(seen - colour_of(*one)).max() for one in every]
        assert min(apart) <= 5, f"{seen} is no frame"
        return every[int(np.argmin(apart))]

    def draw(self, times: int = 2) -> None:
        """Let it draw so often, and until it is no longer behind with unpacking."""
        self.page.evaluate(
            """async (times) => {
                for (let n = 0; n < times; n += 1) await new Promise(requestAnimationFrame);
            }""",
            times,
        )
        expect(self.stage).to_have_attribute("data-behind", "false")

    @property
    def stage(self) -> Locator:
        return self.page.locator("#stage")

    def attribute(self, name: str) -> str | None:
        self.draw()
        return self.stage.get_attribute(name)

    @property
    def value(self) -> float:
        return float(self.attribute("aria-valuenow") or "nan")

    @property
    def zoom(self) -> float:
        return float(self.attribute("data-zoom") or "nan")

    def middle(self) -> tuple[float, float]:
        box = self.page.locator("#stage").bounding_box()
        assert box is not None
        return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2

    def drag(self, x: float, y: float) -> None:
        across, down = self.middle()
        mouse = self.page.mouse
        mouse.move(across, down)
        mouse.down()
        mouse.move(across + x / 2, down + y / 2, steps=4)
        mouse.move(across + x, down + y, steps=4)
        mouse.up()


@pytest.fixture
def opened(browser: Browser, tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Opened]:
    """Open a page in a browser that is offline, with motion reduced unless asked otherwise."""
    wanted = {"designs": 1, "size": (1000, 700), "touch": False, "motion": "reduce", "text": {}}
    wanted |= getattr(request, "param", {})
    path = tmp_path / "spin.html"
    path.write_text(page_text(wanted["designs"], **wanted["text"]), encoding="utf-8", newline="\n")
    width, height = wanted["size"]
    context = browser.new_context(
        viewport={"width": width, "height": height},
        has_touch=wanted["touch"],
        is_mobile=wanted["touch"],
        reduced_motion=wanted["motion"],
        offline=True,
    )
    context.set_default_timeout(1000 * WITHIN)
    one = Opened(context.new_page(), path)
    yield one
    context.close()
    # Whatever was done: nothing fetched, nothing refused by the page's own policy, no error.
    assert one.asked == [path.as_uri()]
    assert one.said == []


PHONE = {"size": (390, 844), "touch": True}
TWO = {"designs": 2}


@pytest.mark.browser
def test_it_opens_at_the_designs_own_turn(opened: Opened) -> None:
    assert opened.shown() == (0, 0)
    assert opened.value == START
    assert opened.page.inner_text("#angle") == "20°"
    assert opened.page.inner_text("h1") == opened.page.title() == "Rod"
    assert not opened.page.locator("fieldset").count()
    assert not opened.page.locator("#unturned").is_visible()


@pytest.mark.browser
@pytest.mark.parametrize(
    ("scripts", "place", "words"),
    [(True, "#unturned", "cannot turn"), (False, "noscript p", "runs no scripts")],
)
def test_a_browser_that_cannot_turn_it_says_so(
    browser: Browser, tmp_path: Path, scripts: bool, place: str, words: str
) -> None:
    """One that lacks what the page's script needs, and one that runs none."""
    path = tmp_path / "spin.html"
    path.write_text(page_text(), encoding="utf-8")
    context = browser.new_context(java_script_enabled=scripts)
    page = context.new_page()
    page.add_init_script("delete window.ResizeObserver;")
    page.goto(path.as_uri())
    expect(page.locator(place)).to_be_visible(timeout=1000 * WITHIN)
    expect(page.locator(place)).to_contain_text(words)
    context.close()


@pytest.mark.browser
def test_dragging_turns_it_with_the_finger(opened: Opened) -> None:
    box = opened.page.locator("#stage").bounding_box()
    assert box is not None
    # The rod's near side moves r dθ (arc length): a quarter turn is πr/2 on the screen.
    scale = min(box["width"] / SIZE[0], box["height"] / SIZE[1])
    opened.drag(0, np.pi / 2 * RADIUS * SIZE[1] * scale)
    assert opened.shown() == (0, FRAMES // 4)
    assert opened.value == START + 90
    opened.drag(0, -np.pi * RADIUS * SIZE[1] * scale)
    assert opened.shown() == (0, 3 * FRAMES // 4)
    assert opened.value == START + 270
    # It stays where it was let go.
    opened.draw(20)
    assert opened.shown() == (0, 3 * FRAMES // 4)


@pytest.mark.browser
@pytest.mark.parametrize("opened", [PHONE], indirect=True)
def test_on_an_upright_phone_the_rod_stands(opened: Opened) -> None:
    expect(opened.page.locator("#upright")).to_have_attribute("aria-pressed", "true")
    # The butt is below, so what moves down the picture moves to the right of the screen.
    opened.drag(60, 0)
    assert opened.value > START
    before = opened.value
    opened.page.click("#upright")
    opened.drag(0, 60)
    assert (opened.value - before) % 360 < 180
    assert opened.page.evaluate("document.documentElement.scrollWidth") <= 390


@pytest.mark.browser
@pytest.mark.parametrize("opened", [PHONE], indirect=True)
def test_pinching_zooms_and_a_second_tap_too(opened: Opened) -> None:
    touch = opened.page.context.new_cdp_session(opened.page)
    x, y = opened.middle()
    pinch(touch, (x, y), 40, 120)
    eventually(lambda: opened.zoom, pytest.approx(3, rel=0.1))
    assert opened.value == START
    pinch(touch, (x, y), 120, 20)
    eventually(lambda: opened.zoom, 1)
    for _ in range(2):
        opened.page.touchscreen.tap(x, y)
    eventually(lambda: opened.zoom > 2)


def pinch(touch: CDPSession, middle: tuple[float, float], before: float, after: float) -> None:
    x, y = middle

    def fingers(apart: float) -> list[dict[str, float]]:
        return [{"x": x, "y": y - apart / 2, "id": 0}, {"x": x, "y": y + apart / 2, "id": 1}]

    touch.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": fingers(before)})
    for apart in np.linspace(before, after, 8):
        at = fingers(float(apart))
        touch.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": at})
    touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


@pytest.mark.browser
def test_the_wheel_zooms_at_the_pointer_and_a_zoomed_picture_slides(opened: Opened) -> None:
    x, y = opened.middle()
    opened.page.mouse.move(x, y)
    opened.page.mouse.wheel(0, -600)
    eventually(lambda: opened.zoom > 2)
    assert opened.shown() == (0, 0)
    # Along the rod a drag now slides the picture and turns nothing; across it still turns.
    opened.drag(120, 5)
    assert opened.value == START
    opened.drag(5, 120)
    assert opened.value != START
    opened.page.click("#whole")
    eventually(lambda: opened.zoom == 1)
    assert opened.page.is_disabled("#whole")


@pytest.mark.browser
@pytest.mark.parametrize("opened", [TWO], indirect=True)
def test_two_designs_are_switched_at_the_same_turn(opened: Opened) -> None:
    opened.drag(0, 60)
    _, frame = opened.shown()
    opened.page.get_by_text("gap 36 mm").click()
    assert opened.shown() == (1, frame)
    assert opened.attribute("aria-valuetext") == f"{opened.value:g}°, design B"
    opened.page.focus("#stage")
    opened.page.keyboard.press("a")
    assert opened.shown() == (0, frame)
    opened.page.keyboard.press("b")
    assert opened.shown() == (1, frame)
    assert opened.page.get_by_role("radio", name="gap 36 mm").is_checked()


REPLIES = ("I choose A.\nDesign number: 7K3Q-9XMA", "I choose B.\nDesign number: 0123-4567")


@pytest.mark.browser
@pytest.mark.parametrize(
    "opened",
    [{"designs": 2, "text": {"order": ("Ossery & <Rods>", "rod 7"), "replies": REPLIES}} | PHONE],
    indirect=True,
)
def test_a_design_is_chosen_and_the_answer_is_ready_to_send(opened: Opened) -> None:
    page = opened.page
    assert page.inner_text("#order") == "Ossery & <Rods> · rod 7"
    page.get_by_text("Choose and answer").click()
    expect(page.locator("#ready")).to_be_hidden()
    page.locator("#schemes label", has_text="gap 36 mm").click()
    # What is chosen is what is seen.
    assert opened.shown()[0] == 1
    reply = page.get_by_label("Your answer")
    expect(reply).to_have_value(REPLIES[1])
    page.get_by_label("Anything to add?").fill("A little & more?\n")
    whole = f"{REPLIES[1]}\nRemark: A little & more?"
    expect(reply).to_have_value(whole)
    sent = urlsplit(page.locator("#mail").get_attribute("href") or "")
    assert (sent.scheme, sent.path) == ("mailto", "")
    # RFC 6068: lines of a mail's body end in %0D%0A.
    assert parse_qs(sent.query) == {"subject": ["Rod"], "body": [whole.replace("\n", "\r\n")]}
    page.get_by_role("button", name="Copy").click()
    expect(page.locator("#copied")).to_contain_text("Copied")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


@pytest.mark.browser
@pytest.mark.parametrize("opened", [TWO | PHONE | {"text": {"replies": REPLIES}}], indirect=True)
def test_a_phone_shows_the_way_to_the_answer_and_offers_what_is_looked_at(opened: Opened) -> None:
    page = opened.page
    for width, height in ((390, 844), (320, 568), (844, 390)):
        page.set_viewport_size({"width": width, "height": height})
        head = page.locator("#answer summary").bounding_box()
        assert head is not None
        assert 0 < head["y"] < head["y"] + head["height"] <= height, (width, height)
        # WCAG 2.5.8, level AA: 24 CSS pixels.
        assert head["height"] >= 24
    page.set_viewport_size({"width": 390, "height": 844})
    page.locator("fieldset label", has_text="gap 36 mm").tap()
    opened.draw()
    page.get_by_text("Choose and answer").tap()
    # Nothing is chosen for the customer, and what to do is said.
    assert page.locator("#schemes input:checked").count() == 0
    expect(page.get_by_text("Choose A or B, and the text to copy appears.")).to_be_visible()
    page.get_by_label("Anything to add?").fill("Finer")
    expect(page.get_by_role("button", name="Copy")).to_be_hidden()
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    page.get_by_role("button", name="Choose B, as you see it now").tap()
    expect(page.get_by_label("Your answer")).to_have_value(f"{REPLIES[1]}\nRemark: Finer")
    expect(page.locator("#schemes [data-letter=B]")).to_be_focused()
    expect(page.locator("#unchosen")).to_be_hidden()


@pytest.mark.browser
@pytest.mark.parametrize("opened", [TWO], indirect=True)
def test_by_keyboard_alone(opened: Opened) -> None:
    page, keys = opened.page, opened.page.keyboard
    # In the order of the page: the rod, the switch, the buttons that can be pressed, the notes.
    order = []
    for _ in range(8):
        keys.press("Tab")
        order.append(page.evaluate("document.activeElement.id || document.activeElement.tagName"))
    assert order == ["stage", "INPUT", "back", "spin", "on", "in", "upright", "SUMMARY"]
    page.focus("#stage")
    keys.press("ArrowRight")
    keys.press("ArrowRight")
    keys.press("ArrowLeft")
    assert opened.shown() == (0, 1)
    keys.press("PageUp")
    assert opened.shown() == (0, 1 + FRAMES // 4)
    keys.press("Home")
    assert opened.shown() == (0, 0)
    keys.press("ArrowDown")
    assert opened.shown() == (0, FRAMES - 1)
    keys.press("+")
    eventually(lambda: opened.zoom > 1.2)
    keys.press("0")
    eventually(lambda: opened.zoom == 1)
    keys.press("Space")
    expect(opened.stage).to_have_attribute("data-frame", "2")
    keys.press("Space")
    expect(page.locator("#spin")).to_have_attribute("aria-pressed", "false")
    page.focus("#on")
    value = opened.value
    keys.press("Enter")
    assert opened.value == (value + 360 / FRAMES) % 360
    # Single letters do nothing but on the rod itself (WCAG 2.2, 2.1.4).
    keys.press("b")
    assert opened.shown()[0] == 0


@pytest.mark.browser
@pytest.mark.parametrize(
    ("opened", "spins"),
    [({"motion": "no-preference"}, True), ({"motion": "reduce"}, False)],
    indirect=["opened"],
)
def test_it_spins_by_itself_unless_less_motion_is_wished(opened: Opened, spins: bool) -> None:
    button = opened.page.locator("#spin")
    expect(button).to_have_attribute("aria-pressed", str(spins).lower())
    if spins:
        expect(opened.stage).not_to_have_attribute("data-frame", "0")
    else:
        # A second of a screen that is drawn 60 times in it: spinning, it would be 4 frames on.
        opened.draw(60)
        assert opened.attribute("data-frame") == "0"
    button.click()
    expect(button).to_have_attribute("aria-pressed", str(not spins).lower())


@pytest.mark.browser
@pytest.mark.parametrize(
    "opened",
    [{"designs": 2, "text": {"title": HOSTILE, "notes": HOSTILE, "labels": (HOSTILE, "b")}}],
    indirect=True,
)
def test_what_a_stranger_wrote_is_text(opened: Opened) -> None:
    assert opened.page.inner_text("h1") == opened.page.title() == HOSTILE
    assert opened.page.locator("fieldset span").first.text_content() == HOSTILE
    assert opened.page.locator("details p").text_content() == HOSTILE
    # The page's own picture and scripts, and no other.
    assert opened.page.locator("img").count() == 1
    assert opened.page.locator("script").count() == 3
    with opened.page.expect_console_message(timeout=1000 * WITHIN):
        opened.page.evaluate("""() => {
            const planted = document.createElement("script");
            planted.textContent = "document.title = 'ran'";
            document.body.append(planted);
        }""")
    assert opened.page.title() == HOSTILE
    assert "Content Security Policy" in opened.said.pop()


@pytest.mark.browser
@pytest.mark.parametrize(
    ("opened", "scheme"),
    [
        ({**TWO, **PHONE}, "light"),
        ({**TWO, **PHONE}, "dark"),
        (TWO, "light"),
        (TWO, "dark"),
        ({**TWO, "size": (844, 390)}, "light"),
    ],
    indirect=["opened"],
)
def test_axe_finds_nothing(opened: Opened, scheme: str) -> None:
    opened.page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
    opened.page.evaluate("document.querySelector('details').open = true")
    opened.draw()
    found = Axe().run(opened.page)
    assert found.violations_count == 0, found.generate_report()
    # The rod keeps room, and nothing is wider than the screen.
    assert opened.page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    box = opened.page.locator("#stage").bounding_box()
    assert box is not None
    assert box["height"] >= 140


@pytest.mark.browser
def test_without_scripts_one_picture_is_left(browser: Browser, tmp_path: Path) -> None:
    path = tmp_path / "spin.html"
    path.write_text(page_text(), encoding="utf-8", newline="\n")
    context = browser.new_context(java_script_enabled=False, offline=True)
    page = context.new_page()
    page.goto(path.as_uri())
    assert page.get_by_text("open the file in a web browser").is_visible()
    assert not page.locator("#controls").is_visible()
    image = np.asarray(Image.open(io.BytesIO(page.locator("#first").screenshot())).convert("RGB"))
    middle = image[image.shape[0] // 2, image.shape[1] // 2].astype(int)
    assert np.abs(middle - colour_of(0, 0)).max() <= 5
    context.close()


# ---- What is written


class Parts(HTMLParser):
    """Takes a page apart as a browser does: what stands in its script and style elements."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.inside: str | None = None
        self.held: dict[str, list[str]] = {"script": [], "style": []}
        self.addresses: list[str] = []
        self.policy = ""
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag in self.held:
            self.inside = tag
            self.held[tag].append("")
        self.addresses += [given[name] or "" for name in ("src", "href") if name in given]
        assert not [name for name in given if name.startswith("on") or name == "style"]
        if given.get("http-equiv") == "Content-Security-Policy":
            self.policy = given["content"] or ""

    def handle_endtag(self, tag: str) -> None:
        self.inside = None

    def handle_data(self, data: str) -> None:
        if self.inside:
            self.held[self.inside][-1] += data


def test_nothing_comes_from_elsewhere() -> None:
    two = (HOSTILE, HOSTILE)
    parts = Parts(page_text(2, title=HOSTILE, notes=HOSTILE, labels=two, order=two, replies=two))
    assert all(address.startswith(("data:", "mailto:")) for address in parts.addresses)
    first, *_, last = parts.held["script"]
    whole = parts.held["style"][0] + first + last
    assert not re.search(r"https?:|url\(|@import|fetch\(|XMLHttp|eval\(|innerHTML", whole)


def test_the_policy_lets_these_run_and_no_others() -> None:
    parts = Parts(page_text())
    failing, data, script = parts.held["script"]
    json.loads(data)
    rules = dict(rule.split(" ", 1) for rule in parts.policy.split("; "))
    # Content Security Policy Level 3, 8.1: 'sha256-' and base64 of the element's text.
    for rule, texts in (("script-src", (failing, script)), ("style-src", parts.held["style"])):
        digests = (hashlib.sha256(text.encode()).digest() for text in texts)
        assert rules[rule] == " ".join(
            f"'sha256-{base64.b64encode(digest).decode()}'" for digest in digests
        )
    assert rules["default-src"] == "'none'"
    assert "unsafe" not in parts.policy


def test_notes_are_paragraphs() -> None:
    text = page_text(notes="One\nline.\n\n\n  Two & three.\n")
    assert "<p>One line.</p><p>Two &amp; three.</p>" in text
    assert "<details>" not in page_text(notes=" \n")


# ---- From a design


@pytest.fixture
def grainy(monkeypatch: pytest.MonkeyPatch) -> None:
    """Take pictures of nothing but grain, as hard to compress as can be."""

    def grain(scene: LiveScene, turn: float | None = None) -> Pixels:
        rng = np.random.default_rng(round(100 * (turn or 0)))
        return rng.integers(60, 90, (scene.size[1], scene.size[0], 3), np.uint8)

    monkeypatch.setattr(LiveScene, "picture", grain)


def subject() -> Subject:
    """A silver wrap on a thick blank, with teal along its seams."""
    silver_and_teal = {
        "blank.stations": [{"at": 110, "diameter": 20.7}, {"at": 700, "diameter": 17.7}],
        "relief.gap": 25.4,
        "cover.thread": "Heron Silver A",
        "trim.threads": [
            {"thread": "Sloe Black A", "count": 2},
            {"thread": "Ember Copper A", "count": 2},
            {"thread": "Tarn Teal A", "count": 4},
            {"thread": "Sloe Black A", "count": 2},
        ],
    }
    design = with_changes(samples.load("half-scale").without_variants(), silver_and_teal)
    return Subject(design, Shelf.shipped())


@pytest.mark.render
@pytest.mark.usefixtures("grainy")
def test_it_fits_what_mail_takes(tmp_path: Path) -> None:
    path = tmp_path / "spin.html"
    made = save_spin_page([subject()], path, Film((640, 360), 24), max_mb=0.6, detail=Detail.DRAFT)
    assert 0.4e6 < path.stat().st_size <= 0.6e6
    assert made.film != Film((640, 360), 24, 6.0)
    # So little has no room for the rod itself.
    assert not made.modelled
    data = json.loads(Parts(path.read_text(encoding="utf-8")).held["script"][1])
    assert tuple(data["size"]) == made.film.size
    assert [len(design) for design in data["designs"]] == [made.film.frames]
    with Image.open(io.BytesIO(base64.b64decode(data["designs"][0][1]))) as image:
        assert (image.format, image.size) == ("WEBP", made.film.size)
    assert [one.name for one in tmp_path.iterdir()] == ["spin.html"]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"max_mb": 0.1}, "max-mb: 0.1 is too little"),
        ({"max_mb": float("nan")}, "max-mb: nan"),
        ({"film": Film((1600, 900), 600)}, "more than fit in memory"),
    ],
)
def test_what_is_no_page(tmp_path: Path, changes: dict[str, object], words: str) -> None:
    path = tmp_path / "spin.html"
    path.write_text("old", encoding="utf-8")
    with pytest.raises(RequestProblem, match=words):
        save_spin_page([subject()], path, **{"film": Film(SIZE)} | changes)  # type: ignore[arg-type]
    assert path.read_text(encoding="utf-8") == "old"


def test_more_designs_than_letters(tmp_path: Path) -> None:
    with pytest.raises(RequestProblem, match="5 designs are not between 1 and 4"):
        save_spin_page([subject()] * 5, tmp_path / "spin.html", Film(SIZE))


@pytest.mark.render
@pytest.mark.usefixtures("grainy")
def test_ctrl_c_leaves_the_old_page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "spin.html"
    path.write_text("old", encoding="utf-8")

    def stop(_: object, words: str) -> None:
        if words == "frame 2 of 4":
            raise KeyboardInterrupt

    monkeypatch.setattr(Progress, "describe", stop)
    with pytest.raises(KeyboardInterrupt):
        save_spin_page([subject()], path, Film((64, 36), 4), detail=Detail.DRAFT)
    assert path.read_text(encoding="utf-8") == "old"
    assert [one.name for one in tmp_path.iterdir()] == ["spin.html"]


@pytest.mark.render
def test_a_page_of_a_real_wrap(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The surface follows the finger: measured on the stage, and seen in the first two pictures."""
    path, frames = tmp_path / "spin.html", 36
    really = LiveScene.picture
    taken: list[Pixels] = []

    def sparing(scene: LiveScene, turn: float | None = None) -> Pixels:
        taken.append(really(scene, turn) if len(taken) < 2 else taken[-1])
        return taken[-1]

    monkeypatch.setattr(LiveScene, "picture", sparing)
    monkeypatch.setattr("render.spin.spin_page.STANDING_IN", frames)
    one = subject()
    save_spin_page([one], path, Film((640, 360), frames), detail=Detail.DRAFT)
    parts = Parts(path.read_text(encoding="utf-8"))
    data = json.loads(parts.held["script"][1])
    assert len(taken) == frames
    packed = data["designs"][0]
    packed[0] = parts.addresses[1].partition(",")[2]
    drawn = [Image.open(io.BytesIO(base64.b64decode(one))).convert("RGB") for one in packed[:2]]
    # The point of the rod's side that faces the camera, projected before and after a small turn.
    plan = one.plan()
    camera = shared_camera([plan], 640 / 360)
    towards = np.array(camera.position) / camera.distance
    facing = np.arctan2(towards[2], towards[1])
    turns = facing + np.array((-0.01, 0.01))
    r = plan.middle_radius
    points = np.stack((0 * turns, r * np.cos(turns), r * np.sin(turns)), axis=-1)
    place, _ = camera.project(points, (640, 360))
    moved = (place[1, 1] - place[0, 1]) / 0.02 / 360
    assert data["radius"] == pytest.approx(moved, rel=0.05)
    # Where a teal seam crosses a column of pixels moves as far, and downwards.
    before, after = (seam(np.asarray(drawn[k]).astype(float)) for k in (0, 1))
    step = data["radius"] * 360 * 2 * np.pi / frames
    # Off the middle of the rod it moves by its cosine less: up to 66 degrees it counts.
    assert [b - a for a in before for b in after if 0.4 * step < b - a < 1.2 * step]
    assert not [b - a for a in before for b in after if 0.4 * step < a - b < 1.2 * step]


def seam(picture: NDArray[np.float64]) -> list[float]:
    """Rows at which teal crosses a column where it faces the light, pixels."""
    strip = picture[:, 298:303].mean(axis=1)
    teal = np.minimum(strip[:, 1], strip[:, 2]) - strip[:, 0]
    rows = np.flatnonzero(teal > 12)
    return [float(part.mean()) for part in np.split(rows, np.flatnonzero(np.diff(rows) > 2) + 1)]


@pytest.mark.render
@pytest.mark.usefixtures("coarse_mesh")
def test_on_the_command_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    monkeypatch.chdir(tmp_path)
    small = ["--size", "160x90", "--frames", "3", "--detail", "draft"]
    assert cli.main(["turntable", "sample:half-scale", "-o", "a.html", *small]) == 0
    made = "the rod itself, and 3 frames of 160x90 to stand in for it"
    assert re.fullmatch(rf"a\.html: {made}, [12]\.\d MB\n", capsys.readouterr().out)
    photographed = ["--vision", "deutan", "-o", "a.html", *small]
    assert cli.main(["turntable", "sample:half-scale", *photographed]) == 0
    # Pictures for other eyes than a browser draws for.
    assert re.fullmatch(r"a\.html: 3 frames of 160x90, 0\.\d+ MB\n", capsys.readouterr().out)
    sweeping = ["--sweep", "relief.gap=20,26", "-o", "b.html"]
    assert cli.main(["compare", "sample:half-scale", *sweeping, *small]) == 0
    said = rf"b\.html: {made}, [1-3]\.\d MB; A: gap 20 mm; B: gap 26 mm\n"
    assert re.fullmatch(said, capsys.readouterr().out)
    assert "gap 26 mm" in Path("b.html").read_text(encoding="utf-8")
    for arguments, words in (
        (["compare", "sample:half-scale", "-o", "c.html"], "spin page: 5 designs"),
        (["turntable", "sample:half-scale", "-o", "c.html", "--max-mb", "0.1"], "max-mb: 0.1"),
        (["turntable", "sample:half-scale", "-o", "c.html", "--frames", "0"], "frames: 0"),
    ):
        assert cli.main(arguments) == 2
        assert words in capsys.readouterr().err
    assert sorted(one.name for one in tmp_path.iterdir()) == ["a.html", "b.html"]


def test_designs_in_one_light_share_a_page() -> None:
    design = samples.load("half-scale")
    swept = [Subject(one, Shelf.shipped()) for _, one in sweep(design, "relief.gap=20,26")]
    assert Comparison.of(swept).labels == ("gap 20 mm", "gap 26 mm")
