"""The page as a whole in a real browser: safe, sending, surviving, usable by all."""

import hashlib
import json
import os
import re
import signal
import ssl
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
import trimesh
from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from playwright.sync_api import Browser, Page, expect
from pypdfium2 import PdfDocument

from render.editor.recovery import Snapshot, open_slot
from render.page.app import GUESTS_MAY
from render.page.send.export_options import EXPORT_OPTIONS
from render.page.workers.export_worker import ExportKind
from scenes.files import samples
from tests.render.page.conftest import SMALL, Program, Seen, Start, at_cards, hold
from tests.waiting import WITHIN, eventually

pytestmark = pytest.mark.browser

SMALL_FILM, FEW_FRAMES = (160, 90), 6


SMALLER = f"""
import sys
from dataclasses import replace
from render.cli import main as cli
from render.page.workers.export_worker import ExportKind
from render.page.send.export_options import EXPORT_OPTIONS
presets = EXPORT_OPTIONS[ExportKind.TURNTABLE].presets
presets["message"] = replace(
    presets["message"], size={SMALL_FILM}, frames={FEW_FRAMES}, detail="draft"
)
sys.exit(cli.main(sys.argv[1:]))
"""
"""The program, but that a message takes less of a film: six drafts are made like forty."""


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Hold the address that the program has a browser open."""
    return tmp_path_factory.mktemp("browser") / "opened"


@pytest.fixture(scope="module")
def program(start: Start, opened: Path) -> Program:
    browser = opened.with_name("browser")
    browser.write_text(f'#!/bin/sh\nprintf %s "$*" > "{opened}"\n')
    browser.chmod(0o755)
    return start(program=("-c", SMALLER), browser=str(browser))


@pytest.fixture(scope="module")
def pages(browser: Browser) -> Iterator[list[Page]]:
    opened: list[Page] = []
    yield opened
    for page in opened:
        page.context.close()


def children(pid: int) -> set[int]:
    """List the processes that a process has started, and theirs."""
    found = set()
    for status in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = status.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if int(fields[1]) == pid:
            found |= {int(status.parent.name)} | children(int(status.parent.name))
    return found


def runs(pid: int) -> bool:
    try:
        return "State:\tZ" not in Path(f"/proc/{pid}/status").read_text()
    except OSError:
        return False


def ended(pids: set[int]) -> None:
    """Give processes a moment to end, and see that they do."""
    eventually(lambda: [pid for pid in pids if runs(pid)], [])


# ---- Safe


def test_without_the_key_nothing_is_answered(program: Program) -> None:
    for path in ("", "index.html", "page/parts.js", "ws/x", "vue.global.js", "sent/1/a.png"):
        code, text = program.ask(path, session=False)
        assert code == 403, path
        assert b"key" in text
    assert program.ask("?key=wrong", session=False)[0] == 403


def test_browser_is_sent_in_by_a_file_and_comes_back_by_its_cookie(
    tab: Seen, program: Program, opened: Path
) -> None:
    """In a real browser: whether it sends a SameSite=Strict cookie after that is its matter."""
    uri = opened.read_text()
    assert uri.startswith(program.state.as_uri())
    file = Path(uri.removeprefix("file://"))
    key = re.search(r"key=([a-z0-9-]+)", file.read_text())
    assert key is not None
    tab.page.goto(uri)
    tab.page.wait_for_url(program.base)
    tab.picture("true")
    hold(tab.page)
    assert not file.exists()
    assert program.ask(f"?key={key[1]}", session=False)[0] == 403
    cookie = next(one for one in tab.page.context.cookies() if one["name"].startswith("turnlight"))
    assert cookie["httpOnly"]
    assert cookie["sameSite"] == "Strict"
    # The tab is closed, and the address without a key typed in another.
    tab.page.goto("about:blank")
    tab.page.goto(program.base)
    tab.picture("true")
    hold(tab.page)


def test_browser_without_the_page_secret_is_told_how_to_come_in(
    tab: Seen, program: Program
) -> None:
    """A second tab has it too; who has but the cookie is told so, and a fresh key mends it."""
    at_cards(tab.page, program.address)
    second = tab.page.context.new_page()
    at_cards(second, program.base)
    second.evaluate("localStorage.clear()")
    second.reload()
    told = second.locator('[data-test="unproven"]')
    expect(told).to_contain_text("Open the newest address that Turnlight printed")
    expect(second.locator("#app")).to_be_hidden()
    at_cards(second, program.address)
    second.close()
    tab.page.reload()
    tab.page.wait_for_selector(".desk .card")


def test_only_the_page_s_own_files_are_served(program: Program) -> None:
    for path in ("page/app.py", "page/..%2fcli.py", "page/%2e%2e/cli.py", "sent/1/x.png", "etc"):
        assert program.ask(path)[0] == 404, path
    code, text = program.ask("")
    assert code == 200
    assert b"<title>Turnlight</title>" in text


def test_server_listens_on_this_machine_alone(program: Program) -> None:
    port = int(program.base.rstrip("/").rpartition(":")[2])
    # Linux: /proc/net/tcp holds local addresses in hexadecimal, lowest byte first (proc(5)).
    rows = [line.split() for line in Path("/proc/net/tcp").read_text().splitlines()[1:]]
    listening = [row[1] for row in rows if row[3] == "0A" and row[1].endswith(f":{port:04X}")]
    assert listening == [f"0100007F:{port:04X}"]


def test_shared_page_says_what_it_opens_and_leaves_the_owner_his_view(
    start: Start, tab: Seen, tmp_path: Path, browser: Browser, pages: list[Page]
) -> None:
    # Work of a program that was ended: only the owner may take it up or throw it away.
    slot = open_slot(tmp_path)
    slot.write(Snapshot(samples.text("full-mesh"), samples.text("full-mesh"), "", "rescued-wrap"))
    slot.close()
    program = start("sample:half-scale", "--share", state=tmp_path)
    eventually(lambda: "Ctrl-C" in program.log.read_text())
    said = program.log.read_text()
    assert GUESTS_MAY in said
    assert "Without comparing, somebody on the network could stand in between" in said
    guests = re.search(r"https://\S+?:(\d+)/\?key=(\S+)", said)
    assert guests is not None
    # What a client gets by TLS is the certificate whose fingerprint is printed.
    der = ssl.PEM_cert_to_DER_cert(ssl.get_server_certificate(("127.0.0.1", int(guests[1]))))
    assert hashlib.sha256(der).digest().hex(":").upper() in said

    tablet = browser.new_context(
        viewport=SMALL, reduced_motion="reduce", ignore_https_errors=True
    ).new_page()
    pages.append(tablet)
    tablet.set_default_timeout(1000 * WITHIN)
    guest = Seen(tablet)
    tablet.goto(guests[0])
    guest.picture("true")
    # The question waits for the owner.
    expect(tablet.locator("dialog[open]")).to_have_count(0)
    tab.page.goto(program.address)
    question = tab.page.locator("dialog[open]")
    expect(question).to_contain_text("rescued-wrap")
    question.get_by_role("button", name="Close").click()
    hold(tab.page)

    for one, turn in ((tab, 90), (guest, 30)):
        one.page.locator('[data-test="turn"]').fill(str(turn))
        one.page.locator('[data-test="turn"]').press("Enter")
        one.picture(f"Math.abs(shown.turn - {turn}) < 0.01")
    tablet.locator('[data-test="light"]').select_option("low sun")
    expect(tablet.locator('[data-test="light"]')).to_have_value("low sun")
    expect(tab.page.locator('[data-test="light"]')).to_have_value("soft boxes")
    # An edit of either reaches both, at the turn of each.
    tab.page.locator('[data-test="guests-edit"]').check()
    for editor, gap in ((tab, "21"), (guest, "24")):
        editor.put("relief.gap", gap)
        for one, turn in ((tab, 90), (guest, 30)):
            expect(one.number("relief.gap")).to_have_value(gap)
            one.picture(
                "shown.epoch === window.trame.state.get('pic_epoch') &&"
                f" Math.abs(shown.turn - {turn}) < 0.01"
            )
            expect(one.page.locator('[data-test="freshness"]')).not_to_contain_text("Out of date")
    # Each has its own A and its own units, and the other's picture stays as it is.
    epoch = tab.page.evaluate("window.trame.state.get('pic_epoch')")
    tablet.locator('[data-test="compare"]').click()
    tablet.locator('[data-test="pin"]').click()
    guest.picture(
        "window.turnlight.sides().A && shown.epoch === window.trame.state.get('pic_epoch')"
    )
    tablet.locator('.units input[value="in"]').check(force=True)
    expect(guest.number("relief.gap")).to_have_value("0.945")
    expect(tab.number("relief.gap")).to_have_value("24")
    assert tab.page.evaluate("window.trame.state.get('pic_epoch')") == epoch
    expect(tab.page.locator(".picture .tag.top")).to_have_count(0)
    guest.put("relief.gap", "0.75")
    expect(tab.number("relief.gap")).to_have_value("19.05")
    for place, text in (("top", "A: gap 0.94"), ("middle", "B: gap 0.75 in")):
        expect(tablet.locator(f".picture .tag.{place}")).to_contain_text(text)
    for one in (tab, guest):
        one.picture("shown.epoch === window.trame.state.get('pic_epoch')")
    assert tab.page.evaluate("Object.keys(window.turnlight.sides())") == ["B"]
    # With nobody to draw, each page says since when its picture is out of date.
    for process in children(program.process.pid):
        if b"spawn_main" in Path(f"/proc/{process}/cmdline").read_bytes():
            os.kill(process, signal.SIGSTOP)
    tab.put("relief.gap", "20")
    for one in (tab, guest):
        expect(one.page.locator('[data-test="freshness"]')).to_contain_text("Out of date since")
    tablet.context.close()
    pages.remove(tablet)
    assert program.stop() == 0


# ---- Sending


def test_what_moves_in_a_message_is_small() -> None:
    """Films and pages are held to their `max_mb` in tests of their own."""
    film, page = (
        EXPORT_OPTIONS[kind].presets["message"]
        for kind in (ExportKind.TURNTABLE, ExportKind.SPIN_PAGE)
    )
    assert (film.size, film.frames, film.max_mb) == ((640, 360), 40, 3)
    assert (page.size, page.frames, page.max_mb) == ((800, 450), 12, 2.5)


def test_a_turntable_is_made_while_the_page_stays_usable(
    tab: Seen, program: Program, tmp_path: Path
) -> None:
    tab.open(program)
    page = tab.page
    page.locator('[data-test="send"]').click()
    # A size is chosen together with the kind that the page shows: that one must have arrived.
    page.get_by_role("radio", name=re.compile("turntable", re.I)).check()
    expect(page.get_by_role("radio", name="GIF", exact=True)).to_be_checked()
    page.get_by_role("radio", name="message", exact=True).check()
    expect(page.locator('[data-test="forecast"]')).to_contain_text("160 × 90, 6 pictures")
    page.locator('[data-test="make"]').click()
    page.get_by_role("button", name="Close").click()
    # Meanwhile the design can be changed, and what is made is what was seen when it was asked for.
    epoch = tab.picture("true")["epoch"]
    tab.put("relief.gap", "20")
    tab.picture(f"shown.epoch > {epoch}")
    page.locator('[data-test="send"]').click()
    made = page.locator('[data-test="made"]')
    expect(made).to_have_count(1, timeout=3000 * WITHIN)
    with page.expect_download() as download:
        made.click()
    download.value.save_as(tmp_path / "made.gif")
    with Image.open(tmp_path / "made.gif") as film:
        assert film.n_frames == FEW_FRAMES  # type: ignore[attr-defined]
        assert film.size == SMALL_FILM
    page.get_by_role("button", name="Close").click()
    tab.undo(1, "relief.gap", "21.2")


def test_papers_model_and_picture_open(tab: Seen, program: Program, tmp_path: Path) -> None:
    """Opened with programs of others: PDFium, trimesh and Pillow."""
    tab.open(program)
    page = tab.page
    page.locator('[data-test="send"]').click()
    expect(page.locator('[data-test="make"]')).to_be_visible()
    made = page.locator('[data-test="made"]')
    already = made.count()
    wanted = {
        "template": "letter",
        "3D model": "draft",
        "still": "message",
    }
    for place, (kind, size) in enumerate(wanted.items(), 1):
        page.get_by_role("radio", name=re.compile(f"^{kind}", re.I)).check()
        page.get_by_role("radio", name=size, exact=True).check()
        page.locator('[data-test="make"]').click()
        expect(made).to_have_count(already + place)
    files: dict[str, Path] = {}
    for link in made.all():
        with page.expect_download() as download:
            link.click()
        name = download.value.suggested_filename
        files[name] = tmp_path / name
        download.value.save_as(files[name])
    template = PdfDocument(files["ossery-half-scale-template.pdf"])
    # US letter is 8.5 by 11 inches (ANSI/ASME Y14.1), of 72 points.
    assert template[0].get_size() == pytest.approx((612, 792), abs=0.5)
    mesh = trimesh.load(files["ossery-half-scale.glb"], force="mesh")
    assert isinstance(mesh, trimesh.Trimesh)
    # Points at the seam of a texture are there twice.
    mesh.merge_vertices(merge_tex=True, merge_norm=True)
    assert mesh.is_watertight
    # glTF 2.0 is in metres, section 3.4; the wrap and its ends cover 136 mm, from 282 mm to 418 mm.
    assert mesh.extents.max() == pytest.approx(0.14, abs=0.01)
    with Image.open(files["ossery-half-scale.png"]) as still:
        assert still.size == (1280, 720)
    page.get_by_role("button", name="Close").click()


def test_what_is_being_made_can_be_cancelled(tab: Seen, program: Program) -> None:
    tab.open(program)
    page = tab.page
    page.locator('[data-test="send"]').click()
    page.get_by_role("radio", name=re.compile("turntable", re.I)).check()
    page.get_by_role("radio", name="print", exact=True).check()
    page.locator('[data-test="make"]').click()
    page.locator('[data-test="cancel"]').click()
    expect(page.locator('[data-test="cancel"]')).to_have_count(0)
    expect(page.locator('[data-test="status"]')).to_contain_text("cancelled")


def test_a_comparison_needs_two_designs(tab: Seen, program: Program) -> None:
    tab.open(program)
    tab.page.locator('[data-test="send"]').click()
    tab.page.get_by_role("radio", name=re.compile("comparison", re.I)).check()
    tab.page.locator('[data-test="make"]').click()
    expect(tab.page.locator("dialog .problem")).to_contain_text("tick another")
    # The sample has variants: one beside the design is a comparison.
    designs = tab.page.locator('[data-test="send-designs"]')
    designs.get_by_label("wide gap").check()
    expect(tab.page.locator('[data-test="forecast"]')).to_contain_text("2 designs: ")
    expect(designs.get_by_role("checkbox", checked=True)).to_have_count(2)
    designs.get_by_label("wide gap").uncheck()
    expect(tab.page.locator('[data-test="forecast"]')).not_to_contain_text("2 designs")
    tab.page.get_by_role("radio", name=re.compile("spin page", re.I)).check()


# ---- Surviving


def test_no_end_of_the_program_leaves_a_process_or_loses_work(
    tab: Seen, start: Start, tmp_path: Path
) -> None:
    """Killed, and started anew; then interrupted, as with Ctrl-C."""
    file, state = tmp_path / "killed.toml", tmp_path / "state"
    file.write_text(samples.text("half-scale"), encoding="utf-8")
    lost = tab.page.locator('[data-test="lost"]')
    first = start(file, state=state)
    tab.open(first)
    tab.put("relief.gap", "17")
    expect(tab.page.locator(".document .dot")).to_have_count(1)
    written = state / "recovery"
    eventually(lambda: ["gap = 17" in one.read_text() for one in written.glob("*.json")], [True])
    helpers = children(first.process.pid)
    assert helpers
    os.kill(first.process.pid, signal.SIGKILL)
    first.process.wait(WITHIN)
    expect(lost).to_be_visible()
    # What was asked in the moment when it ended has no answer.
    tab.errors.clear()
    ended(helpers)
    assert "17" not in re.findall(r"^gap = (\S+)", file.read_text(), re.M)
    second = start(file, state=state)
    at_cards(tab.page, second.address, drawn=True)
    dialog = tab.page.get_by_role("dialog", name="Work that was not saved")
    expect(dialog).to_contain_text("killed.toml")
    dialog.get_by_role("button", name="Recover it").click()
    expect(tab.number("relief.gap")).to_have_value("17")
    tab.page.keyboard.press("Control+s")
    expect(tab.page.locator(".document .dot")).to_have_count(0)
    assert tomllib.loads(file.read_text(encoding="utf-8"))["layers"][0]["gap"] == 17
    tab.picture("true")
    helpers = children(second.process.pid)
    assert helpers
    assert second.stop() == 0
    ended(helpers)
    expect(lost).to_be_visible()
    tab.errors.clear()
    assert list(written.iterdir()) == []


# ---- For everybody


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_serious(
    tab: Seen, program: Program, scheme: str, artefacts: Path
) -> None:
    tab.page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
    tab.open(program)
    found = []
    states = (
        (None, "picture"),
        ("unroll", "sheet"),
        ("palettes", "schemes"),
        ("compare", "pin"),
        ("send", "make"),
    )
    for button, shown in states:
        if button:
            tab.page.locator(f'[data-test="{button}"]').click()
        expect(tab.page.locator(f'[data-test="{shown}"]')).to_be_visible()
        tab.page.wait_for_function(
            "document.getAnimations().every(({ playState }) => playState !== 'running')"
        )
        results = Axe().run(tab.page).response
        found += [
            (button, one["id"], one["impact"], [node["html"][:160] for node in one["nodes"]][:4])
            for one in results["violations"]
            if one["impact"] in ("serious", "critical")
        ]
    (artefacts / "axe.json").write_text(json.dumps(found, indent=1))
    assert not found, json.dumps(found, indent=1)


def test_everything_is_reached_by_keyboard_with_a_visible_focus(
    tab: Seen, program: Program
) -> None:
    tab.open(program)
    page = tab.page
    page.locator("body").focus()
    names = []
    for _ in range(60):
        page.keyboard.press("Tab")
        told = page.evaluate(
            """() => {
              const e = document.activeElement;
              const probe = document.body.appendChild(document.createElement("i"));
              probe.style.color = "var(--focus)";
              const colour = getComputedStyle(probe).color;
              probe.remove();
              const outlined = (one) => {
                const style = getComputedStyle(one);
                return (style.outlineStyle !== "none" && parseFloat(style.outlineWidth) > 0) ||
                  style.boxShadow !== "none";
              };
              const drawn = (one) => {
                const style = getComputedStyle(one);
                return style.fill === colour || style.stroke === colour;
              };
              if (e === document.body) {
                return ["", true];
              }
              const seen = e.ownerSVGElement
                ? [...e.querySelectorAll("*")].some(drawn)
                : outlined(e.closest(".seg label") || e);
              const name = e.dataset.test || e.getAttribute("aria-label") || e.innerText;
              return [name || e.tagName, seen];
            }"""
        )
        names.append(told[0].strip())
        assert told[1], f"no focus is seen on {told[0]!r}"
    for wanted in "picture spin turn light view unroll fit more compare send".split():
        assert wanted in names, names
    page.locator('[data-test="send"]').focus()
    page.keyboard.press("Enter")
    expect(page.locator("dialog[open]")).to_have_count(1)
    page.keyboard.press("Escape")
    expect(page.locator("dialog[open]")).to_have_count(0)
