"""Files brought to a design from the browser: looked at first, kept beside it, never in the way."""

import io
import json
import re
import struct
import urllib.error
import urllib.parse
import urllib.request
import zlib
from importlib import resources
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import expect

from geometry.errors import GeometryError
from render.editor.desk import Desk
from render.editor.pending import ValuePending
from scenes.files import samples
from scenes.files.companion_files import MOST_BYTES, SHIPPED
from scenes.problems import DesignProblem
from tests.render.page.conftest import Program, Seen, Start, at_cards

PICTURE = "picture.picture"


def png(colour: str = "#c9923a", size: tuple[int, int] = (8, 6)) -> bytes:
    data = io.BytesIO()
    Image.new("RGB", size, colour).save(data, "PNG")
    return data.getvalue()


def bomb() -> bytes:
    """A PNG of 50,000 x 50,000 pixels in a few bytes, put together by hand (PNG, section 5)."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        check = zlib.crc32(kind + data)
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", check)

    head = struct.pack(">IIBBBBB", 50_000, 50_000, 8, 2, 0, 0, 0)
    rows = zlib.compress(bytes(200_000))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def jpeg() -> bytes:
    data = io.BytesIO()
    Image.new("RGB", (8, 6), "#c9923a").save(data, "JPEG")
    return data.getvalue()


def font() -> bytes:
    return (resources.files("matplotlib") / "mpl-data/fonts/ttf/DejaVuSans.ttf").read_bytes()


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "mine.toml"
    path.write_text(samples.text("heron-plate"), encoding="utf-8")
    return path


def beside(file: Path) -> set[str]:
    return {one.name for one in file.parent.iterdir()} - {file.name}


# ---- what is kept, and under which name


@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("my badge.png", "my badge.png"),
        ("../../up.png", "up.png"),
        (r"C:\pictures\..\up.png", "up.png"),
        ("/etc/passwd", "passwd.png"),
        (".hidden.png", "hidden.png"),
        ("Grün 1.PNG", "Grün 1.png"),
        ("a\x00b:c|d\n.png", "a-b-c-d.png"),
        ("", "file.png"),
        ("con.png", "file con.png"),
        ("COM¹.png", "file COM¹.png"),
        ("lpt3 .tar.png", "lpt3 -tar.png"),
        ("Aux. .png", "file Aux.png"),
        ("x" * 300 + ".png", "x" * 60 + ".png"),
    ],
)
def test_a_file_is_kept_under_a_plain_name(file, name, kept):
    desk = Desk.open(str(file))
    desk.import_file(PICTURE, name, png())
    assert beside(file) == {kept}
    assert (file.parent / kept).read_bytes() == png()
    assert desk.design.layers[1].picture == kept
    desk.undo()
    assert desk.design.layers[1].picture == "heron.png"
    desk.redo()
    assert desk.design.layers[1].picture == kept


def test_nothing_is_written_over(file):
    desk = Desk.open(str(file))
    desk.import_file(PICTURE, "a.png", png())
    desk.import_file(PICTURE, "a.png", png())
    assert beside(file) == {"a.png"}
    desk.import_file(PICTURE, "a.png", png("#000000"))
    assert beside(file) == {"a.png", "a 2.png"}
    assert (file.parent / "a.png").read_bytes() == png()
    assert desk.design.layers[1].picture == "a 2.png"
    # One that comes with Turnlight is not hidden from other designs in the folder.
    desk.import_file(PICTURE, "heron.png", png())
    assert desk.design.layers[1].picture == "heron 2.png"
    # A link that leads out of the folder is not followed, nor written through.
    (file.parent / "link.png").symlink_to(file.parent.parent / "elsewhere.png")
    desk.import_file(PICTURE, "link.png", png())
    assert desk.design.layers[1].picture == "link 2.png"
    assert not (file.parent.parent / "elsewhere.png").exists()


@pytest.mark.parametrize(
    ("path", "data", "sentence"),
    [
        (PICTURE, b"words, no picture", "is no PNG picture"),
        (PICTURE, jpeg(), "is no PNG picture"),
        (PICTURE, SHIPPED.read("heron.png", "x")[:900], "is broken or cut short"),
        (PICTURE, bomb(), "is too large|pixels; give 4000 a side at most"),
        (PICTURE, png(size=(4001, 1)), "4001 by 1 pixels; give 4000 a side at most"),
        (PICTURE, bytes(MOST_BYTES + 1), "is larger than 20 MB"),
        ("line.font", png(), "is no font that can be read"),
        ("line.font", font()[:2000], "is no font that can be read"),
        ("line.font", b"wOFF" + font()[4:], "is no font that can be read"),
        ("line.height", png(), "is no field for a file"),
        ("nowhere.picture", png(), "is no field for a file"),
    ],
    ids=[
        *("words", "JPEG", "cut", "bomb", "wide", "oversize"),
        *("no font", "cut font", "packed font", "no file field", "no field"),
    ],
)
def test_what_is_no_file_for_its_field_is_refused_and_not_written(file, path, data, sentence):
    desk = Desk.open(str(file))
    before = desk.design
    with pytest.raises((DesignProblem, GeometryError), match=sentence):
        desk.import_file(path, "a.png", data)
    assert beside(file) == set()
    assert desk.design == before


def test_a_picture_that_does_not_fit_is_kept_and_waits(file):
    desk = Desk.open(str(file))
    before = desk.design
    # Right as a picture, but 400 times as long as it is high does not lie on this wrap.
    with pytest.raises(ValuePending, match="beyond the wrap"):
        desk.import_file(PICTURE, "a.png", png(size=(800, 2)))
    assert beside(file) == {"a.png"}
    assert desk.design == before
    assert [one.text for one in desk.pending.values()] == ["a.png"]


def test_a_font_is_kept_and_used(file):
    desk = Desk.open(str(file))
    desk.import_file("line.font", "own.ttf", font())
    assert beside(file) == {"own.ttf"}
    assert desk.design.layers[2].font == "own.ttf"


def test_a_folder_that_cannot_be_written_is_told(file, monkeypatch):
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    desk = Desk.open(str(file))
    monkeypatch.setattr("scenes.files.file_import.os.fsync", refuse)
    with pytest.raises(DesignProblem, match="read-only"):
        desk.import_file(PICTURE, "a.png", png())
    assert beside(file) == set()
    assert desk.design.layers[1].picture == "heron.png"


def test_a_design_without_a_file_is_saved_first():
    with pytest.raises(DesignProblem, match="save the design first"):
        Desk.open("sample:heron-plate").import_file(PICTURE, "a.png", png())


def test_the_colours_of_a_chart_get_threads(tmp_path):
    """A colour that a thread has exactly is woven with that thread."""
    path = tmp_path / "mine.toml"
    path.write_text(samples.text("badge-panel"), encoding="utf-8")
    desk = Desk.open(str(path))
    chart = Image.new("RGBA", (12, 9))
    # As two threads of the shelf, and one that the design weaves in black already.
    named = {desk.shelf.thread(one).colour: one for one in ("Gorse Gold A", "Kingfisher Blue A")}
    colours = (*named, "#101418")
    for place, colour in enumerate(colours):
        chart.putpixel((place, place), (*bytes.fromhex(colour[1:]), 255))
    data = io.BytesIO()
    chart.save(data, "PNG")
    desk.import_file("woven.chart", "own.png", data.getvalue())
    panel = desk.design.layers[1]
    assert panel.chart == "own.png"
    woven = {one.colour: one.thread for one in panel.colours}
    assert woven == {**named, "#101418": "Sloe Black A"}
    desk.use_file("woven.chart", "shoal.png")
    assert {one.colour for one in desk.design.layers[1].colours} >= {"#1f5f8a", "#e9e3cf"}


# ---- through the page


@pytest.fixture(scope="module")
def saved(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("brought") / "mine.toml"
    path.write_text(samples.text("heron-plate"), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def program(start: Start, saved: Path) -> Program:
    return start(saved)


DROP = """(element, [name, bytes]) => {
    const held = new DataTransfer();
    held.items.add(new File([new Uint8Array(bytes)], name, { type: "image/png" }));
    element.dispatchEvent(new DragEvent("drop", { dataTransfer: held, bubbles: true }));
}"""
"""Drops a file of these bytes, or of so many, on an element."""


def post(program: Program, data: bytes, session: bool = True, **asked: str) -> tuple[int, bytes]:
    path = f"beside?{urllib.parse.urlencode(asked)}"
    return program.ask(path, "POST", data, session=session)


@pytest.mark.browser
def test_a_file_is_taken_only_with_the_key_and_within_its_limit(program, saved):
    code, refused = post(program, png(), session=False, path=PICTURE, name="a.png")
    assert code == 403
    assert b"key" in refused
    code, answer = post(program, b"words", path=PICTURE, name="../a.png")
    assert code == 200
    said = json.loads(answer)
    assert said["problem"].endswith("is no PNG picture; save it as one.")
    assert said["field"] == PICTURE
    assert beside(saved) == set()


@pytest.mark.browser
def test_a_picture_is_chosen_brought_and_dropped(program: Program, saved: Path, tab: Seen) -> None:
    page = tab.page
    page.set_viewport_size({"width": 1280, "height": 720})
    at_cards(page, program.address)
    page.locator('[data-card="picture"] summary').first.click()
    field = page.locator(f'[data-path="{PICTURE}"]')
    button = field.locator("button.file")
    expect(button).to_have_text("heron.png")
    button.click()
    expect(field.locator(".file-list .name")).to_have_text(["heron.png", "shoal.png", "vine.png"])
    choose = field.locator('input[type="file"]')
    choose.set_input_files({"name": "no.png", "mimeType": "image/png", "buffer": b"words"})
    expect(field.locator(".problem")).to_have_text('"no.png" is no PNG picture; save it as one.')
    field.evaluate(DROP, ["big.png", MOST_BYTES + 1])
    expect(field.locator(".problem")).to_have_text(
        '"big.png" is larger than 20 MB; give a smaller one.'
    )
    assert beside(saved) == set()
    choose.set_input_files({"name": "own.png", "mimeType": "image/png", "buffer": png()})
    expect(button).to_have_text("own.png")
    expect(field.locator(".problem")).to_have_count(0)
    expect(field.locator(".file-list .name").first).to_have_text("own.png")
    assert beside(saved) == {"own.png"}
    # The list can be left by its key, also after a file was brought.
    page.keyboard.press("Escape")
    expect(field.locator(".picker")).to_have_count(0)
    expect(button).to_be_focused()
    button.click()
    field.evaluate(DROP, ["dropped.png", list(png("#204060"))])
    expect(button).to_have_text("dropped.png")
    field.locator(".file-list .option", has_text="shoal.png").click()
    expect(button).to_have_text("shoal.png")
    # What is seen of it is drawn small by the program.
    image = button.locator("img")
    assert image.evaluate("(one) => one.decode().then(() => one.naturalWidth)") > 0
    page.keyboard.press("Control+z")
    expect(button).to_have_text("dropped.png")


@pytest.mark.browser
def test_what_does_not_fit_yet_waits_in_its_field(program: Program, saved: Path, tab: Seen) -> None:
    page = tab.page
    page.set_viewport_size({"width": 1280, "height": 720})
    saved.write_text(samples.text("graded-trim"), encoding="utf-8")
    at_cards(page, program.address)
    page.evaluate("path => window.trame.trigger('file_open', [path, true])", str(saved))
    open_values = page.locator('[data-test="pending"]')
    # A thread that fits only together with another one.
    page.locator('[data-card="shades"] summary').first.click()
    shade = page.locator('[data-path="shades.grade.from"]')
    button = shade.locator("button.thread")
    expect(button).to_have_text("Dusk Indigo A")
    button.click()
    page.keyboard.type("heron silver d")
    page.keyboard.press("Enter")
    expect(shade.locator(".problem")).to_contain_text("should have the same diameter")
    expect(button).to_have_text("Heron Silver D")
    expect(button).to_have_accessible_description(re.compile("same diameter"))
    expect(open_values).to_contain_text("Heron Silver D")
    button.press("Escape")
    expect(button).to_have_text("Dusk Indigo A")
    expect(shade.locator(".problem")).to_have_count(0)
    # A colour that is none.
    page.locator('[data-card="blank"] summary').first.click()
    colour = page.locator('[data-path="blank.colour"]')
    code = colour.locator("input.hex")
    code.fill("like mud")
    code.press("Tab")
    expect(colour.locator(".problem")).not_to_be_empty()
    expect(open_values).to_contain_text("like mud")
    expect(code).to_have_value("like mud")
    code.press("Escape")
    expect(code).to_have_value("#101418")
    expect(open_values).to_have_count(0)
    # A picture that is too long, until it is made low enough.
    saved.write_text(samples.text("heron-plate"), encoding="utf-8")
    page.evaluate("path => window.trame.trigger('file_open', [path, true])", str(saved))
    page.locator('[data-card="picture"] summary').first.click()
    field = page.locator(f'[data-path="{PICTURE}"]')
    expect(field.locator("button.file")).to_have_text("heron.png")
    field.evaluate(DROP, ["line.png", list(png(size=(300, 2)))])
    expect(field.locator(".problem")).to_contain_text("beyond the wrap")
    expect(field.locator("button.file")).to_have_text("line.png")
    expect(open_values).to_contain_text("line.png")
    height = page.locator('[data-path="picture.height"] input.num')
    height.fill("0.5")
    height.press("Tab")
    expect(open_values).to_have_count(0)
    expect(field.locator(".problem")).to_have_count(0)
    expect(field.locator("button.file")).to_have_text("line.png")


@pytest.mark.browser
def test_a_chart_is_made_of_a_picture(program: Program, saved: Path, tab: Seen) -> None:
    page = tab.page
    page.set_viewport_size({"width": 1280, "height": 720})
    at_cards(page, program.address)
    page.evaluate("window.trame.trigger('desk_add_layer', ['woven panel'])")
    page.locator('[data-card="woven"] summary').first.click()
    field = page.locator('[data-path="woven.chart"]')
    field.locator("button.file").click()
    picture = {"name": "flag.png", "mimeType": "image/png", "buffer": png(size=(16, 8))}
    field.locator('[data-test="chart-picture"]').set_input_files(picture)
    dialog = page.get_by_role("dialog", name="A chart from a picture")
    expect(dialog).to_be_visible()
    page.keyboard.press("Escape")
    expect(dialog).to_have_count(0)
    expect(field.locator(".picker")).to_be_visible()
    field.locator('[data-test="chart-picture"]').set_input_files(picture)
    expect(dialog.locator(".chart-seen")).to_contain_text("40 columns, 20 rows")
    dialog.get_by_label("Warp threads across").fill("8")
    dialog.get_by_label("Warp threads across").press("Tab")
    expect(dialog.locator(".chart-seen")).to_contain_text("8 columns, 4 rows")
    dialog.get_by_role("button", name="Turn it").click()
    expect(dialog.locator(".chart-seen")).to_contain_text("8 columns, 16 rows")
    dialog.locator('[data-test="chart-use"]').click()
    expect(dialog).to_have_count(0)
    expect(field.locator("button.file")).to_have_text("flag-chart.png")
    page.keyboard.press("Escape")
    expect(field.locator(".picker")).to_have_count(0)
    with Image.open(saved.parent / "flag-chart.png") as image:
        assert image.size == (8, 16)
