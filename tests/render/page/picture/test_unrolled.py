"""The wrap unrolled in a real browser, held against the wrap as it is built here."""

import math
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from playwright.sync_api import expect

from geometry.grid import Detail
from materials.colour import to_bytes
from materials.shelf import Shelf
from render.common.progress import Progress
from render.request.subject import Subject
from scenes.files import samples
from scenes.stage.bodies import WrapBody
from scenes.stage.camera import adjusted, camera_for
from scenes.stage.stage import wraps_of
from tests.render.page.conftest import Program, Seen, Start, at_cards

pytestmark = pytest.mark.browser

SAMPLE = "filled-chevrons"
MARGIN = {"left": 34, "right": 14, "top": 12, "bottom": 26}  # px, as the script has it
CLEAR = 0.3  # mm around a place in which the thread must be the same

PIXELS = """(places) => {
    const sheet = document.querySelector('[data-test="sheet"]');
    const context = sheet.getContext("2d");
    const ratio = sheet.width / sheet.clientWidth;
    const at = ([x, y]) => context.getImageData(x * ratio, y * ratio, 1, 1).data;
    return places.map((place) => [...at(place)].slice(0, 3));
}"""


SHOWN = "new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))"

MIDDLE = """() => {
    const sheet = document.querySelector('[data-test="sheet"]');
    const frame = sheet.parentElement;
    const ratio = sheet.width / sheet.clientWidth;
    if (frame.scrollWidth < 2 * frame.clientWidth) return [];
    const x = frame.scrollLeft + frame.clientWidth / 2;
    const y = frame.scrollTop + frame.clientHeight / 2;
    const at = [x * ratio, y * ratio];
    return [...sheet.getContext("2d").getImageData(...at, 1, 1).data];
}"""


@pytest.fixture(scope="module")
def program(start: Start) -> Program:
    return start(f"sample:{SAMPLE}")


@pytest.fixture(scope="module")
def subject() -> Subject:
    return Subject(samples.load(SAMPLE).without_variants(), Shelf.shipped())


@pytest.fixture(scope="module")
def body(subject: Subject) -> WrapBody:
    return wraps_of(subject.build(Detail.DRAFT, Progress.none()))[0]


def drawn(tab: Seen, before: str = "") -> str:
    """Wait until the sheet is drawn from another stage than before, in full, and name that.

    Parts of a draft that has been replaced are no longer to be had.
    """
    sheet = tab.page.locator('[data-test="unrolled"]')
    tab.page.wait_for_function(
        """(before) => {
            const now = document.querySelector('[data-test="unrolled"]')?.dataset.drawn;
            const { name, number, wanted, draft } = window.trame.state.get("pic_stage");
            return now && now !== before && now.startsWith(name) && !draft && number === wanted;
        }""",
        arg=before,
    )
    return str(sheet.get_attribute("data-drawn"))


class Placing:
    """Where places of the wrap are on the sheet, which lies along it."""

    def __init__(self, tab: Seen, subject: Subject, body: WrapBody) -> None:
        box: dict[str, Any] = tab.page.locator('[data-test="sheet"]').bounding_box() or {}
        self.blank = subject.plan().blank
        self.low, high = float(body.surface.z[0]), float(body.surface.z[-1])
        self.left, self.top = box["x"], box["y"]
        wide = box["width"] - MARGIN["left"] - MARGIN["right"]
        tall = box["height"] - MARGIN["top"] - MARGIN["bottom"]
        around = 2 * math.pi * float(max(self.blank.radius(np.array([self.low, high]))))
        self.scale = min(wide / (high - self.low), tall / around)
        self.x = MARGIN["left"] + (wide - self.scale * (high - self.low)) / 2
        self.y = MARGIN["top"] + tall / 2

    def of(self, theta: float, z: float) -> tuple[float, float]:
        """Pixels from the sheet's upper left corner."""
        along = float(self.blank.radius(np.array([z]))[0]) * theta
        return self.x + self.scale * (z - self.low), self.y + self.scale * along


def plain_places(body: WrapBody) -> list[tuple[float, float, NDArray[np.uint8]]]:
    """Places with one thread all round them: angle, distance and sRGB, of every thread."""
    surface = body.surface
    rows = round(CLEAR / surface.step)
    columns = round(CLEAR / (float(surface.radius.mean()) * float(surface.theta[1])))
    around = [
        np.roll(surface.material, (i, j), axis=(0, 1))
        for i in (-rows, 0, rows)
        for j in (-columns, 0, columns)
    ]
    alike = np.all([other == surface.material for other in around], axis=0)
    found = []
    for material in np.unique(surface.material):
        stations, angles = np.nonzero(alike & (surface.material == material))
        colour = to_bytes(np.array(body.palette[material].base_colour, dtype=np.float32))
        for place in (
            np.linspace(0, len(stations) - 1, 12).astype(int)[1:-1] if len(stations) else ()
        ):
            theta = float(surface.theta[angles[place]])
            theta -= 2 * math.pi * (theta > math.pi)
            found.append((theta, float(surface.z[stations[place]]), colour))
    return found


def test_the_sheet_is_the_wrap_and_turns_the_rod(
    tab: Seen, program: Program, subject: Subject, body: WrapBody
) -> None:
    page = tab.page
    page.set_viewport_size({"width": 1100, "height": 1400})
    at_cards(page, program.address)
    page.get_by_role("button", name="The wrap unrolled").click()
    stage = drawn(tab)
    page.locator('[data-test="unrolled-lines"]').uncheck()
    place = Placing(tab, subject, body)
    camera = adjusted(
        camera_for(subject.plan(), subject.design.camera.view, 1.5), subject.design.camera
    )
    _, up, near = np.subtract(camera.position, camera.target)

    # A click turns that side of the rod to the camera. At turn 0 the guide line is up, and turning
    # moves it towards the viewer (`Stage.transform`).
    slider = page.get_by_role("slider", name="Side of the wrap")
    middle = float(body.surface.z.mean())
    for theta in (0.0, 1.2, -2.0):
        x, y = place.of(theta, middle)
        page.mouse.click(place.left + x, place.top + y)
        expect(slider).to_have_attribute("aria-valuenow", str(round(math.degrees(theta))))
        turn = math.radians(page.evaluate("window.turnlight.turn"))
        towards = math.atan2(near, up)
        off = math.remainder(theta + turn - towards, 2 * math.pi)
        assert abs(off) < math.radians(1), theta

    # What is looked at has the colours of its threads, in their places.
    slider.press("Home")
    expect(slider).to_have_attribute("aria-valuenow", "0")
    seen = [one for one in plain_places(body) if 0.05 < abs(one[0]) < 1.4]
    assert len({tuple(colour.tolist()) for *_, colour in seen}) >= 3

    def pixels() -> NDArray[np.int_]:
        page.evaluate(SHOWN)
        places = [place.of(theta, z) for theta, z, _ in seen]
        return np.array(page.evaluate(PIXELS, places))

    wanted = np.array([colour for *_, colour in seen], dtype=int)
    assert np.abs(pixels() - wanted).max() <= 3

    # Enlarged, what was in the middle is there still.
    larger = page.get_by_label("Unrolled larger")
    larger.click()
    larger.click()
    page.evaluate(SHOWN)
    assert sum(page.evaluate(MIDDLE)) > 0
    page.get_by_label("Unrolled smaller").dblclick()

    # An edit of a colour is there without a picture having been drawn.
    cover = subject.design.cover.thread
    page.evaluate("window.trame.trigger('desk_change', ['cover.thread', 'Rowan Red A'])")
    drawn(tab, stage)
    changed = np.abs(pixels() - wanted).max(axis=1) > 30
    of_cover = to_bytes(Shelf.shipped().thread(cover).linear_rgb.astype(np.float32))
    assert changed.any()
    assert not changed[np.abs(wanted - of_cover.astype(int)).max(axis=1) > 60].all()
    page.evaluate("window.trame.trigger('desk_undo', [])")


def test_a_scheme_is_seen_at_a_tap_and_left_with_escape(tab: Seen, program: Program) -> None:
    page = tab.page
    page.set_viewport_size({"width": 1280, "height": 900})
    at_cards(page, program.address)
    page.get_by_role("button", name="The wrap unrolled").click()
    own = drawn(tab)
    colour = page.evaluate(PIXELS, [[300, 100], [420, 130]])
    page.locator('[data-card="palettes"] > summary').click()
    scheme = page.locator(".palette").first
    scheme.focus()
    page.keyboard.press("Enter")
    expect(scheme).to_have_attribute("aria-pressed", "true")
    expect(page.locator('[data-test="tried"]')).to_be_visible()
    tried = drawn(tab, own)
    assert page.evaluate(PIXELS, [[300, 100], [420, 130]]) != colour
    page.keyboard.press("Escape")
    expect(scheme).to_have_attribute("aria-pressed", "false")
    drawn(tab, tried)
    expect(page.get_by_role("button", name="Undo")).to_be_disabled()
    scheme.click()
    page.locator('[data-test="palette-keep"]').click()
    expect(page.get_by_role("button", name="Undo")).to_be_enabled()
    expect(page.locator('[data-test="tried"]')).to_have_count(0)
